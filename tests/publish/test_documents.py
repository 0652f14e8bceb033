"""Documents: what is refused, and that text, data and page say the same."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
from document_examples import DRAWING, HOSTILE, KEY, whole

from stillroom.charts.palette import PALETTES, Theme, contrast
from stillroom.errors import BadInput, StillroomError
from stillroom.publish.document import (
    Block,
    CalloutKind,
    Document,
    Figure,
    Formula,
    Grid,
    Heading,
    Paragraph,
    Span,
    anchors,
    callout_look,
    link,
    may_link,
)
from stillroom.publish.document.as_data import as_data
from stillroom.publish.document.as_html import WASH, as_html
from stillroom.publish.document.as_text import LINE, as_text


class Read(HTMLParser):
    """A page's elements, in order, with what each holds."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self.open and self.open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.words.append(data)

    @property
    def text(self) -> str:
        return "".join(self.words)

    def all(self, tag: str) -> list[dict[str, str]]:
        return [said for name, said in self.tags if name == tag]


def one(*blocks: Block) -> Document:
    return Document("Title", "", "2026-11-26", blocks)


@pytest.mark.parametrize(
    ("blocks", "words"),
    [
        ((Heading(2, "Deep"),), "level 2 after level 0"),
        ((Heading(1, "A"), Heading(3, "B")), "level 3 after level 1"),
        ((Heading(1, " "),), "a heading without words"),
        ((Heading(1, "A", anchor="no blank"),), "anchor 'no blank'"),
        ((Grid(("a", "b"), (("1",),), caption="T"),), "row 1 of 'T' with 1 of 2 cells"),
        ((Grid(("a", ""), ()),), "a column without a header"),
        ((Figure(DRAWING, " ", "C"),), "without alt text ('C')"),
        ((Formula("x = y", ""),), "'x = y' without spoken words"),
    ],
)
def test_a_document_out_of_order_is_refused(blocks: tuple[Block, ...], words: str) -> None:
    with pytest.raises(StillroomError, match=re.escape(words)):
        one(*blocks)


def test_a_document_needs_a_title_and_a_date() -> None:
    with pytest.raises(StillroomError, match="no title"):
        Document(" ", "", "2026-11-26", ())
    with pytest.raises(StillroomError, match="date '26 Nov'"):
        Document("T", "", "26 Nov", ())


@pytest.mark.parametrize(
    "to",
    ["https://example.org/a?b=c", "http://example.org", "data/fans.csv", "../page/index.html#a", "#part"],
)
def test_links_lead_to_the_web_or_inside_the_release(to: str) -> None:
    assert may_link(to)
    assert link("x", to).link == to


@pytest.mark.parametrize(
    "to",
    ["javascript:alert(1)", "JaVaScript:alert(1)", "data:text/html,x", "file:///etc/passwd", "//example.org/x",
     "/etc/passwd", "https:///x", "java\nscript:x", " javascript:x", "\\\\host\\x", "vbscript:x", "https://[x"],
)  # fmt: skip
def test_no_link_leads_elsewhere(to: str) -> None:
    assert not may_link(to)
    with pytest.raises(StillroomError, match="link of a document"):
        Span("x", link=to)


def test_each_heading_has_an_anchor_of_its_own() -> None:
    document = one(
        Heading(1, "The air"), Heading(2, "The air"), Heading(1, "風"), Heading(1, "x", anchor="Own")
    )
    assert anchors(document) == ("the-air", "the-air-2", "part", "Own")


def test_the_page_has_headings_in_order_and_each_name_once() -> None:
    read = Read(as_html(whole()))
    levels = [int(tag[1]) for tag, _ in read.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels == [1, 2, 3, 2]
    names = [said["id"] for _, said in read.tags if "id" in said]
    assert len(names) == len(set(names))
    inside = [said["href"][1:] for said in read.all("a") if said.get("href", "").startswith("#")]
    assert "budget" in inside
    assert {each for each in inside if each != "nothing"} <= set(names)


def test_the_page_fetches_nothing_and_allows_nothing_but_its_own_style() -> None:
    page = as_html(whole())
    read = Read(page)
    policy = next(said["content"] for said in read.all("meta") if said.get("http-equiv"))
    style = re.search(r"<style>(.*?)</style>", page, re.DOTALL)
    assert style is not None
    digest = base64.b64encode(hashlib.sha256(style[1].encode()).digest()).decode()
    assert policy.split("; ")[:3] == ["default-src 'none'", f"style-src 'sha256-{digest}'", "font-src data:"]
    assert not read.all("script")
    assert not any(name == "style" or name.startswith("on") for _, said in read.tags for name in said)
    assert not any("src" in said for _, said in read.tags)
    assert re.findall(r"url\((?!data:font/woff;|#)", page) == []


def test_the_page_speaks_for_pictures_tables_and_formulas() -> None:
    read = Read(as_html(whole()))
    drawings = [said["aria-label"] for said in read.all("svg")]
    assert drawings == ["Bar chart of Bilberry", "Bar chart of Bilberry", "The same again"]
    assert {said["role"] for said in read.all("svg")} == {"img"}
    assert [said["scope"] for said in read.all("th")] == ["col", "col", "row", "row"]
    assert len(read.all("caption")) == 1
    assert [said["aria-label"] for said in read.all("p") if said.get("role") == "math"] == [
        "delta p equals a times q plus b times q squared"
    ]
    assert read.all("html") == [{"lang": "en"}]
    assert read.all("a")[0] == {"class": "skip", "href": "#_main"}


def test_words_of_a_lab_are_words_on_the_page() -> None:
    plain, hostile = Read(as_html(whole())), Read(as_html(whole(HOSTILE)))
    assert [tag for tag, _ in plain.tags] == [tag for tag, _ in hostile.tags]
    assert hostile.text.count(HOSTILE) == 19
    assert not hostile.all("script")


def test_a_picture_keeps_the_names_inside_it_to_itself() -> None:
    page = as_html(whole())
    names = re.findall(r'id="([^"]*-cut)"', page)
    assert len(names) == len(set(names)) == 3
    assert re.findall(r"url\(#([^)]*)\)", page) == names
    with pytest.raises(BadInput, match="a drawing of the house"):
        as_html(one(Figure("<svg>", "alt")))


def test_the_page_is_the_same_each_time() -> None:
    assert as_html(whole()) == as_html(whole())


@pytest.mark.parametrize("theme", list(Theme))
def test_words_hold_their_contrast_on_every_ground(theme: Theme) -> None:
    """WCAG 2.2, 1.4.3: 4.5:1 for text; 1.4.11: 3:1 for the bars beside callouts."""
    colours = PALETTES[theme]
    for ground in (colours["paper"], WASH[theme]):
        assert all(contrast(colours[each], ground) >= 4.5 for each in ("ink", "muted", "accent"))
        assert all(contrast(colours[callout_look(kind)[1]], ground) >= 3.0 for kind in CalloutKind)


def test_text_says_what_the_blocks_say_in_short_lines() -> None:
    said = as_text(whole())
    assert said.startswith("What was done\n=============\nSpring round\n2026-11-26\n")
    assert "Instrument  Uncertainty, Pa\n----------  ---------------\nBilberry               0.25" in said
    assert "[Picture: Bar chart of Bilberry]" in said
    assert "! Caution: caution Bilberry" in said
    assert "data of Bilberry (../data/fans.csv)" in said
    assert "Δp: pressure drop [Pa]" in said
    assert all(len(each) <= LINE for each in said.splitlines())
    assert HOSTILE in " ".join(as_text(whole(HOSTILE)).split()).replace("! ", "")


def test_a_wide_table_becomes_lists_in_text() -> None:
    said = as_text(one(Grid(("What", "Why"), (("a" * 50, "b c " * 20),))))
    assert f"- What: {'a' * 50}\n  Why: b c" in said


def test_text_has_no_control_characters() -> None:
    said = as_text(one(Paragraph("a\x1b[31mb\x07\x00\u202ec"), Grid(("x\x1b",), (("y\x9b",),))))
    assert not [each for each in said if (ord(each) < 32 and each != "\n") or 127 <= ord(each) < 160]
    assert "\u202e" not in said


def test_data_holds_every_word_but_no_drawing() -> None:
    made = as_data(whole(HOSTILE))
    assert json.loads(json.dumps(made)) == made
    blocks = made["blocks"]
    assert isinstance(blocks, list)
    assert [each["kind"] for each in blocks if isinstance(each, dict)][:4] == [
        "paragraph", "heading", "bullets", "grid",
    ]  # fmt: skip
    assert "<svg" not in json.dumps(made)
    assert KEY in json.dumps(made)
    other = replace(whole(HOSTILE), blocks=(*whole(HOSTILE).blocks[:-1], Paragraph("another")))
    assert as_data(other)["blocks"] != blocks
