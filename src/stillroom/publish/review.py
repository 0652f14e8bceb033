"""The review: what a release says about the fan under review, or about its round, as one document."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from stillroom import wording
from stillroom.charts.draw import set_page
from stillroom.charts.fonts import clean
from stillroom.charts.frame import root
from stillroom.charts.layout import Layout
from stillroom.charts.palette import Theme
from stillroom.errors import BadInput
from stillroom.lab.executor import Progress
from stillroom.lab.pictures.claim_pictures import DEFINITION, row_of
from stillroom.lab.pictures.kinds import Kind as Picture
from stillroom.publish.account import Account, Kind, Sentence, account_of
from stillroom.publish.contents import Contents, Published
from stillroom.publish.document import (
    Block,
    Bullets,
    Callout,
    CalloutKind,
    Document,
    Figure,
    Grid,
    Heading,
    PageBreak,
    Paragraph,
    Span,
    Text,
    emphasis,
    link,
)
from stillroom.publish.document.as_pdf import as_pdf
from stillroom.publish.fan_card import about, card_files
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.plain import plain_words
from stillroom.publish.pack.belonging import Belongs, belonging

NAME = "review"

FINDINGS = (Kind.BEST, Kind.AHEAD, Kind.ALIKE, Kind.UNRESOLVED, Kind.LEGACY)
"""Sentences that make the first paragraph under a chart, in this order."""

BESIDE = (Kind.PRICE, Kind.LEFT_OUT, Kind.MARK, Kind.DISPUTE, Kind.REGISTERED)
"""Sentences that stand beneath it as a list."""

OF_ALL = (Kind.PRICE, Kind.REGISTERED)
"""Those of them that stand there whether they name the fan under review or not; the account has the others."""

CAVEATS = (Kind.EXCLUDED, Kind.DISPUTE)
"""Sentences about the release as a whole that a reader must know."""

CLAIMS = ("fan", "quantity", "on the box", "measured", "verdict")

PLACES: tuple[tuple[str, str], ...] = (
    ("../data/datapackage.json", "the open data, with a description of every column"),
    ("../standings/standings.xlsx", "all standings as a workbook, beside it as CSV and JSON"),
    ("methodology.html", "the methodology: instruments, steps, formulas, uncertainty"),
    ("account.html", "the account: every finding in a sentence"),
    ("../page/index.html", "the page on which readers set their own noise limit and obstacle"),
    ("../manifest.json", "every file of the release with its hash"),
)
"""Where else to look, as seen from the documents of a release."""


def write_review(contents: Contents, folder: Path, progress: Progress) -> list[Path]:
    """Write the review as PDF.

    Parameters
    ----------
    folder : for the release's documents; where the pack of charts stands beside it, its drawings are taken.
    progress : told how far it is.

    Returns
    -------
    list[Path] : review.pdf.
    """
    progress(NAME, 0, 2)
    document = review_of(contents, folder.parent / "charts")
    progress(NAME, 1, 2)
    made = as_pdf(document, folder / f"{NAME}.pdf")
    progress(NAME, 2, 2)
    return [made]


def review_of(contents: Contents, pack: Path) -> Document:
    """Question, answer in one sentence, charts with the account's sentences, claims, caveats, data, method.

    Parameters
    ----------
    pack : folder of the release's charts, or one that isn't there.
    """
    account = account_of(contents)
    charts = list(_drawn(belonging(contents)[0], pack))
    fan = contents.highlight
    blocks: list[Block] = [
        *_question(contents, account),
        *(block for each in contents.published for block in _measure(contents, each, account, charts)),
        *_further(contents, charts),
        *_claims(contents, charts),
        *_caveats(contents, account),
        *_accepted(account),
        *_where(contents),
        PageBreak(),
        *plain_words(Facts(contents)),
    ]
    return Document(
        title=f"Review of {fan}" if fan else f"Review of {contents.name}",
        subtitle=about(contents, fan) if fan else wording.plural(len(contents.fans), "fan").capitalize(),
        date=contents.date,
        blocks=tuple(blocks),
        footer=f"{contents.imprint} · {contents.date}",
    )


@dataclass(frozen=True)
class _Picture:
    """A chart of the release as a picture of the review."""

    belongs: Belongs
    figure: Figure


def _drawn(charts: list[Belongs], pack: Path) -> Iterator[_Picture]:
    """The charts as they stand in an article: as the release's pack has them, else drawn here.

    One that no page can hold is left out.
    """
    for each in charts:
        chart = each.pages.get(Layout.ARTICLE, each.whole)
        file = pack / f"{each.name}-{Layout.ARTICLE.page.name}-{Theme.LIGHT.value}.svg"
        try:
            svg = (
                file.read_text(encoding="utf-8") if file.is_file() else root(set_page(chart, Layout.ARTICLE))
            )
        except BadInput:
            continue
        yield _Picture(each, Figure(svg, clean(chart.alt or chart.title), each.note))


def _question(contents: Contents, account: Account) -> Iterator[Block]:
    if contents.corrects:
        yield Callout(CalloutKind.NOTE, contents.corrects_words)
    yield Heading(1, "The question and the answer")
    asked = contents.question or "No question was written down; the laboratory publishes what it measures."
    yield Paragraph((emphasis("Question: "), Span(asked)))
    yield Paragraph((emphasis("Answer: "), Span(answer(contents, account))))


def answer(contents: Contents, account: Account) -> str:
    """The first sentence on the fan under review, in the first measure that has one; else that on the best.

    The measures stand in the order in which the laboratory, or its round, names them.
    """
    kinds = (Kind.PLACE, *FINDINGS) if contents.highlight else FINDINGS
    for kind in kinds:
        for each in contents.published:
            said = account.of(each.slug, kind)
            if said:
                return said[0].text
    return "Nothing that was measured could be ranked."


# --- one measure ---------------------------------------------------------------------------------------------


def _measure(
    contents: Contents, published: Published, account: Account, charts: list[_Picture]
) -> Iterator[Block]:
    """A measure with its chart, its findings, and what must be said beside them."""
    yield Heading(1, published.title)
    yield from (each.figure for each in charts if each.belongs.slug == published.slug)
    said = account.of(published.slug)
    first = _of(said, FINDINGS)
    if first:
        yield Paragraph(" ".join(first))
    place = _of(said, (Kind.PLACE,))
    if place and contents.highlight:
        yield Paragraph((emphasis(" ".join(place)),))
    for text in _of(said, (Kind.OPEN,)):
        yield Callout(CalloutKind.CAUTION, text)
    fan = contents.highlight
    own = tuple(each for each in said if not fan or each.kind in OF_ALL or fan in each.fans)
    beside = _of(own, BESIDE)
    if beside:
        yield Bullets(tuple(beside))


def _of(said: tuple[Sentence, ...], kinds: tuple[Kind, ...]) -> list[str]:
    """The texts of some kinds, kind by kind."""
    return [each.text for kind in kinds for each in said if each.kind is kind]


# --- the release as a whole ------------------------------------------------------------------------------------


OF_THE_FAN = (Picture.CURVES, Picture.LEVELS, Picture.RESPONSE, Picture.SETTLING)
OF_SEVERAL = (Picture.MULTIPLES, Picture.TRADEOFF)


def _further(contents: Contents, charts: list[_Picture]) -> Iterator[Block]:
    """The charts that show several measures, and those of the fan under review."""
    titles: Mapping[str, tuple[Picture, ...]] = {
        "Several measures together": OF_SEVERAL,
        f"More about {contents.highlight}": OF_THE_FAN,
    }
    for title, kinds in titles.items():
        own = [each for each in charts if each.belongs.kind in kinds and not each.belongs.slug]
        if own:
            yield Heading(1, title)
            yield from (each.figure for each in own)


def _claims(contents: Contents, charts: list[_Picture]) -> Iterator[Block]:
    """What the box of the fan under review claims, or all boxes do."""
    fan = contents.highlight
    checks = [
        each
        for each in contents.claims
        if each.claim.fan == fan or (not fan and each.claim.fan in contents.fans)
    ]
    if not checks:
        return
    yield Heading(1, "What the box claims" if fan else "What the boxes claim")
    yield from (each.figure for each in charts if each.belongs.kind is Picture.CLAIMS)
    rows = tuple(
        (each.claim.fan, f"{each.title}{f' ({row.condition})' if row.condition else ''}", row.claim,
         row.measured or "not measured", each.words)
        for each, row in ((each, row_of(each)) for each in checks)
    )  # fmt: skip
    yield Grid(CLAIMS, rows, notes=(DEFINITION,))


def _caveats(contents: Contents, account: Account) -> Iterator[Block]:
    """What was left out and what is disputed; of other fans than the one under review the account tells it."""
    fan = contents.highlight
    own = tuple(each for each in account.of("") if not fan or not each.fans or fan in each.fans)
    said = _of(own, CAVEATS)
    yield Heading(1, "What must be known beside it")
    items: list[Text] = list(said) or ["No run or mounting was excluded, and nobody disputes a number."]
    if fan:
        card = card_files(contents.fans)[fan]
        items.append((Span("All that is published of the fan stands on "), link("its card", card), Span(".")))
    yield Bullets(tuple(items))


def _accepted(account: Account) -> Iterator[Block]:
    """The findings that a person accepted, each with its reason."""
    accepted = _of(account.of(""), (Kind.ACCEPTED,))
    if accepted:
        yield Heading(1, "Findings that were accepted")
        yield from (Callout(CalloutKind.ACCEPTED, each) for each in accepted)


def _where(contents: Contents) -> Iterator[Block]:
    yield Heading(1, "Where the data are")
    yield Paragraph(f"The release {contents.name} holds, beside this review:")
    yield Bullets(tuple((link(place, place), Span(f": {words}.")) for place, words in PLACES))
