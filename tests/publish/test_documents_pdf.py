"""PDF of documents, read back with another library: marks of PDF/UA-1, alternative words, words as words."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from document_examples import DRAWING, HOSTILE, whole
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

from stillroom.errors import NotPossible
from stillroom.publish.document import Document, Figure, Grid, Heading, Paragraph
from stillroom.publish.document.as_pdf import Sheet, as_pdf


def made(document: Document, folder: Path, sheet: Sheet = Sheet.PAGES) -> PdfReader:
    return PdfReader(io.BytesIO(as_pdf(document, folder / "made.pdf", sheet).read_bytes()))


def words(read: PdfReader) -> str:
    """All words, without their breaks over lines."""
    said = " ".join(page.extract_text() for page in read.pages)
    return " ".join(said.replace("\u200b", "").split())


def elements(read: PdfReader) -> Iterator[DictionaryObject]:
    """The elements of the structure tree, in reading order."""

    def walk(node: Any) -> Iterator[DictionaryObject]:
        node = node.get_object() if isinstance(node, IndirectObject) else node
        if isinstance(node, ArrayObject):
            for each in node:
                yield from walk(each)
        elif isinstance(node, DictionaryObject):
            if "/S" in node:
                yield node
            if "/K" in node:
                yield from walk(node["/K"])

    yield from walk(read.trailer["/Root"]["/StructTreeRoot"]["/K"])


def kinds(read: PdfReader) -> list[str]:
    return [str(each["/S"]) for each in elements(read)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pdf")


@pytest.fixture(scope="module")
def read(folder: Path) -> PdfReader:
    return made(whole(), folder)


def test_it_carries_the_marks_of_pdf_ua(read: PdfReader) -> None:
    """ISO 14289-1:2014, 5 (identification in XMP) and 7.1 (tagged, with title and language; from memory)."""
    root = read.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] is True or root["/MarkInfo"]["/Marked"].value is True
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    assert "/StructTreeRoot" in root
    metadata = root["/Metadata"].get_data().decode()
    assert "<pdfuaid:part>1</pdfuaid:part>" in metadata
    assert '<rdf:li xml:lang="x-default">What was done</rdf:li>' in metadata
    assert read.metadata is not None
    assert read.metadata.title == "What was done"
    assert read.metadata["/CreationDate"].startswith("D:20261126")
    assert [each.title for each in read.outline if not isinstance(each, list)] == [
        "Instruments",
        "Uncertainty",
    ]


def test_pictures_and_formulas_have_alternative_words(read: PdfReader) -> None:
    told = [(str(each["/S"]), str(each.get("/Alt", ""))) for each in elements(read)]
    spoken = [alt for kind, alt in told if kind in {"/Figure", "/Formula"} and alt]
    assert spoken == [
        "delta p equals a times q plus b times q squared",
        "Bar chart of Bilberry",
        "The same again",
    ]


def test_headings_lists_and_tables_are_tagged(read: PdfReader) -> None:
    found = kinds(read)
    assert [each for each in found if each.startswith("/H")] == ["/H1", "/H2", "/H1"]
    assert found.count("/Title") <= 1
    assert found.count("/Table") == 1
    assert found.count("/TH") == 2
    assert found.count("/TD") == 4
    assert found.count("/Caption") == 2
    assert found.count("/Link") == 3
    assert "/L" in found
    assert found.count("/LI") >= 2


def test_only_the_bundled_letters_are_in_it(read: PdfReader) -> None:
    names = {
        str(font.get_object()["/BaseFont"]).partition("+")[2]
        for page in read.pages
        for font in page["/Resources"]["/Font"].values()
    }
    assert names
    assert {each.split("-")[0] for each in names} == {"StillroomSans"}


def test_words_of_a_lab_are_words_on_paper(folder: Path) -> None:
    plain, hostile = made(whole(), folder), made(whole(HOSTILE), folder)
    assert kinds(plain)[:8] == kinds(hostile)[:8]
    assert sorted(set(kinds(plain))) == sorted(set(kinds(hostile)))
    for said in (
        '#import "x"',
        "$x^2$",
        "*b*",
        "_i_",
        "@ref",
        "\\",
        "<l>",
        "`c`",
        "[x]",
        "//",
        "/*",
        "---",
        "<script>",
    ):
        assert words(hostile).count(said) > words(plain).count(said) + 10
    assert hostile.metadata is not None
    assert hostile.metadata.title == f"What was done {HOSTILE}"


@pytest.mark.parametrize(
    "name",
    ["日本語のファン", "☃", "\ud800", "a\u0000b", "\u202eevil", "مروحة", "e\u0301" * 40, "W" * 400, "\ue000",
     "\U0001f525", "\u200b", "\ufeff", "\U000f0000", "\ufdd0"],
    ids=range(14),
)  # fmt: skip
def test_any_name_can_be_set(name: str, folder: Path) -> None:
    assert made(whole(name), folder).pages
    assert made(whole(name), folder, Sheet.CARD).pages


def test_every_letter_of_the_basic_plane_can_be_set(folder: Path) -> None:
    rows = ["".join(map(chr, range(start, start + 256))) for start in range(0, 0x10000, 256)]
    assert made(Document("T", "", "2026-11-26", tuple(map(Paragraph, rows))), folder).pages


def test_the_same_document_gives_the_same_bytes(folder: Path) -> None:
    first = as_pdf(whole(), folder / "a.pdf").read_bytes()
    assert first == as_pdf(whole(), folder / "b.pdf").read_bytes()
    as_pdf(whole("between"), folder / "c.pdf")
    assert first == as_pdf(whole(), folder / "d.pdf").read_bytes()
    assert sorted(each.name for each in folder.iterdir() if each.name.startswith(".")) == []


def test_pages_are_numbered_and_a_long_table_repeats_its_headers(folder: Path) -> None:
    rows = tuple((f"Gauge {number}", f"{number / 8:.2f}") for number in range(120))
    read = made(Document("T", "", "2026-11-26", (Grid(("Instrument", "Pa"), rows, (1,)),), "Foot"), folder)
    count = len(read.pages)
    assert count == 3
    for number, page in enumerate(read.pages, start=1):
        said = page.extract_text()
        assert f"page {number} of {count}" in said
        assert "Foot" in said
        assert "Instrument" in said
    whole_text = words(read)
    assert all(f"Gauge {number} {number / 8:.2f}" in whole_text for number in range(120))


def test_a_caption_stands_with_its_table(folder: Path) -> None:
    grid = Grid(("a", "b"), tuple((f"row {number}", "x") for number in range(30)), caption="The caption")
    ends = set()
    for lines in range(30, 38):
        text = tuple(Paragraph(f"line {number}") for number in range(lines))
        read = made(Document("T", "", "2026-11-26", (*text, grid)), folder)
        (page,) = [number for number, each in enumerate(read.pages) if "The caption" in each.extract_text()]
        assert "row 0" in read.pages[page].extract_text()
        ends.add(page)
    assert ends == {0, 1}


def test_a_long_document_begins_with_its_parts(folder: Path) -> None:
    parts = tuple(Heading(1, f"Part {each}") for each in "abcdef")
    read = made(Document("T", "", "2026-11-26", parts), folder)
    assert "Contents" in words(read)
    assert "/TOC" in kinds(read)
    assert "Contents" not in words(made(Document("T", "", "2026-11-26", parts[:5]), folder))


def test_a_card_stands_on_one_sheet_however_much_it_says(folder: Path) -> None:
    grid = Grid(("a", "b"), tuple((f"row {number}", "words " * 6) for number in range(44)))
    document = Document("T", "", "2026-11-26", (Figure(DRAWING, "x"), Figure(DRAWING, "y"), grid), "Foot")
    assert len(made(document, folder, Sheet.CARD).pages) == 1


def test_a_drawing_that_is_none_is_refused(folder: Path) -> None:
    with pytest.raises(NotPossible, match="no viewBox"):
        made(Document("T", "", "2026-11-26", (Figure("<p>", "x"),)), folder)
