"""A card for each fan of a release: one sheet with all that is published of it."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from stillroom import wording
from stillroom.charts.further_series import Chart
from stillroom.charts.raster import drawn_png
from stillroom.charts.series import CurveChart
from stillroom.compare.standing import Standing
from stillroom.errors import StillroomError
from stillroom.lab.disputes import disputed, standing_disputes
from stillroom.lab.executor import Progress, each_done
from stillroom.lab.pictures.claim_pictures import row_of
from stillroom.lab.pictures.curve_pictures import curves
from stillroom.lab.pictures.picture_words import plain_name
from stillroom.lab.pictures.pictures import methods_of
from stillroom.lab.pictures.sound.level_pictures import level_chart
from stillroom.lab.ranking_words import NEEDED, money
from stillroom.measures import Condition
from stillroom.publish.card_pictures import small_figure
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
    Paragraph,
    Span,
    Text,
    link,
)
from stillroom.publish.document.as_html import as_html
from stillroom.publish.document.as_pdf import Sheet, as_pdf
from stillroom.publish.dossier.photos import LARGEST, Picture, picture_of
from stillroom.publish.standing_words import NOT_RANKED, readers_word, value_words
from stillroom.records.products import Fan, Price
from stillroom.store import journal, originals
from stillroom.vocabulary import from_si

LIST = "fans"
"""The page that leads to all cards, without its ending."""

PHOTO_PIXELS = 480
"""How many pixels a photo on a card has along its longer side."""

QUARTER_TURNS = 5
"""Orientations from which on a picture lies on its side (Exif 2.32, 4.6.4, tag 274)."""

NUMBERS = ("measure", "value, 95 %", "place", "standing", "how", "samples", "mountings", "marks")
CLAIMS = ("quantity", "condition printed", "on the box", "measured", "verdict", "rests on")


@dataclass(frozen=True)
class Card:
    """A card before its pictures are drawn: `document` has none, `pictures` stand before its first heading.

    Parameters
    ----------
    lab : in whose cache the pictures are kept. photo : of the fan, as large as it was taken; None where the lab keeps
        none that can be read.
    """

    fan: str
    document: Document
    pictures: tuple[Chart, ...]
    file: str
    lab: Path
    photo: Picture | None = None


def write_fan_cards(contents: Contents, folder: Path, progress: Progress) -> list[Path]:
    """Write a card (PDF) for every fan that stands in a published ranking, and a page that leads to them.

    Parameters
    ----------
    folder : for the release's documents. progress : told how many are done.

    Returns
    -------
    list[Path] : fan-NAME.pdf of each fan, and fans.html.
    """
    names = card_files(contents.fans)
    folder.mkdir(parents=True, exist_ok=True)
    cards = []
    for done, fan in enumerate(contents.fans):
        progress("cards of fans", done, 2 * len(names))
        cards.append(card_of(contents, fan, names[fan]))
    made = []
    for done, path in enumerate(each_done(partial(set_card, folder), cards), start=1):
        progress("cards of fans", len(names) + done, 2 * len(names))
        made.append(path)
    place = folder / f"{LIST}.html"
    place.write_text(as_html(_list(contents, names)), encoding="utf-8", newline="\n")
    return [*sorted(made), place]


def set_card(folder: Path, card: Card) -> Path:
    """Draw the pictures of a card and set it."""
    photo = small_photo(card.photo, card.fan) if card.photo else None
    return as_pdf(drawn(card), folder / card.file, Sheet.CARD, photo)


def drawn(card: Card) -> Document:
    """A card as a document, with its pictures."""
    pictures = tuple(small_figure(card.lab, each) for each in card.pictures)
    blocks = card.document.blocks
    first = next((at for at, each in enumerate(blocks) if isinstance(each, Heading)), len(blocks))
    return replace(card.document, blocks=(*blocks[:first], *pictures, *blocks[first:]))


def card_files(fans: Sequence[str]) -> dict[str, str]:
    """{fan: the name of its card's file}, each once: names that would fold to one are counted."""
    found: dict[str, str] = {}
    for fan in fans:
        stem = plain_name("fan", fan)
        name, count = f"{stem}.pdf", 2
        while name in found.values():
            name, count = f"{stem}-{count}.pdf", count + 1
        found[fan] = name
    return found


def card_of(contents: Contents, fan: str, file: str) -> Card:
    """All that a release says of one fan."""
    pictures, missing = _pictures(contents, fan)
    blocks: list[Block] = [*_disputes(contents, fan)]
    blocks += [Callout(CalloutKind.NOTE, each) for each in missing]
    blocks += [Heading(1, "What is published"), _numbers(contents, fan)]
    blocks += _claims(contents, fan)
    blocks += [Heading(1, "How"), Paragraph(_method(contents, fan))]
    document = Document(
        title=fan,
        subtitle=about(contents, fan),
        date=contents.date,
        blocks=tuple(blocks),
        footer=f"{contents.imprint} · {contents.date}",
    )
    return Card(fan, document, pictures, file, contents.lab.path, photo_of(contents, fan))


# --- the fan ---------------------------------------------------------------------------------------------------


def about(contents: Contents, fan: str) -> str:
    """Who makes it, its size, what it rests on and what it costs, in one line."""
    record = contents.book.fans.get(fan)
    own = [each for one in contents.published for each in one.ranking.standings if each.fan == fan]
    samples = max((each.samples for each in own), default=0)
    mountings = max((each.mountings for each in own), default=0)
    parts = [
        *([" ".join(each for each in (record.maker, record.model) if each)] if record else []),
        size_words(record) if record else "",
        f"{wording.plural(samples, 'sample')}, up to {wording.plural(mountings, 'mounting')} a number",
        price_words(contents.book.prices.values(), fan),
    ]
    return " · ".join(each for each in parts if each)


def size_words(record: Fan) -> str:
    """Size and thickness: "120 mm × 25 mm", as far as they are told."""
    told = [each for each in (record.size, record.thickness) if each is not None]
    return " × ".join(wording.with_unit(f"{from_si(each, 'mm'):g}", "mm") for each in told)


def price_words(prices: Iterable[Price], fan: str) -> str:
    """The latest price of a fan with its date and region, of several on that day the lowest in each currency."""
    own = [each for each in prices if each.fan == fan]
    if not own:
        return "no price recorded"
    day = max(each.date or "" for each in own)
    lowest: dict[str, Price] = {}
    for each in sorted((each for each in own if (each.date or "") == day), key=lambda each: each.price):
        lowest.setdefault(each.currency or "", each)
    regions = wording.listed(sorted({each.region for each in lowest.values() if each.region}))
    said = wording.listed([f"{money(each.price)} {name}".strip() for name, each in sorted(lowest.items())])
    return f"{said} on {day or 'a day not told'}" + (f", {regions}" if regions else "")


def _disputes(contents: Contents, fan: str) -> Iterator[Block]:
    """What somebody says against its numbers, and what the laboratory replied."""
    for each in standing_disputes(contents.book, fan):
        about_what = f" ({each.measure})" if each.measure else ""
        by = f" by {each.by}" if each.by else ""
        text = f"Under dispute since {each.since}{by}{about_what}: {_stopped(each.text)}"
        if each.reply:
            on = f" of {each.reply_date}" if each.reply_date else ""
            text += f" The laboratory’s reply{on}: {_stopped(each.reply)}"
        yield Callout(CalloutKind.CAUTION, text)


def _stopped(told: str) -> str:
    words = " ".join(told.split())
    return wording.stopped(words) if words else ""


# --- pictures --------------------------------------------------------------------------------------------------


def _pictures(contents: Contents, fan: str) -> tuple[tuple[Chart, ...], list[str]]:
    """Its PQ curve with the load lines of what is published, its level curve; and what can't be drawn, with why."""
    lab, book, graph, _ = contents.whole
    through = [each.asked.condition.obstacle for each in contents.published if each.asked.condition.obstacle]
    obstacle = next((each for each in through), "")
    made: list[Chart] = []
    missing: list[str] = []
    try:
        picture, _ = curves(lab, book, graph, (), fan, tuple(dict.fromkeys(through)), Condition())
        made.append(without_flows(picture))
    except StillroomError as error:
        missing.append(f"No PQ curve is drawn: {error.sentence()}.")
    try:
        made.append(level_chart(lab, book, graph, fan, (), obstacle, ())[0])
    except StillroomError as error:
        missing.append(f"No level against speed is drawn: {error.sentence()}.")
    return tuple(made), missing


DOTS = "Dots: where this one mounting meets each obstacle at full speed. What is published stands below."
"""What the dots of a card's curves are."""


def without_flows(chart: CurveChart) -> CurveChart:
    """PQ curves without the flows of their operating points: one mounting's stand beside no ranked number."""
    if not chart.points:
        return chart
    told = [
        (each.curve, each.load, "marked by a dot", each.word or wording.UNIQUE_WORD) for each in chart.points
    ]
    alt = wording.curves_alt("at full speed", [each.label for each in chart.curves], told)
    points = tuple(replace(each, label="") for each in chart.points)
    return replace(chart, points=points, notes=(DOTS, *chart.notes), alt=alt)


def photo_of(contents: Contents, fan: str) -> Picture | None:
    """The first photo of a fan that can be read, without what a camera wrote into it; None where there is none."""
    own = [each for each in contents.book.photos.values() if each.fan.casefold() == fan.casefold()]
    places = journal.originals_known(contents.lab.database) if own else {}
    for each in sorted(own, key=lambda each: (each.file, each.sha256)):
        try:
            data = originals.data_of(contents.lab.path, places[each.sha256], each.sha256)
            picture = picture_of(data, each.file)
        except (StillroomError, KeyError):
            continue
        if len(data) <= LARGEST:
            return picture
    return None


def small_photo(picture: Picture, fan: str) -> Figure:
    """A photo with as many pixels as a card needs, upright."""
    whole = picture.figure(f"Photo of {fan}", "")
    wide, high = picture.width, picture.height
    if picture.turned >= QUARTER_TURNS:
        wide, high = high, wide
    scale = min(1.0, PHOTO_PIXELS / max(wide, high))
    data = base64.b64encode(drawn_png(whole.svg, scale)).decode()
    size = f'width="{wide}" height="{high}"'
    root = f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {wide} {high}">'
    return Figure(f'{root}<image {size} href="data:image/png;base64,{data}"/></svg>', whole.alt)


# --- numbers ---------------------------------------------------------------------------------------------------


def _numbers(contents: Contents, fan: str) -> Grid:
    rows = [row for each in contents.published for row in _rows(contents, each, fan)]
    return Grid(NUMBERS, tuple(rows), right=(5, 6))


def _rows(contents: Contents, published: Published, fan: str) -> Iterator[tuple[str, ...]]:
    """The row of a fan in one ranking, or why it has no place there; none where it doesn't belong to it."""
    ranking = published.ranking
    for each in ranking.standings:
        if each.fan == fan:
            count = sum(one.rank is not None for one in ranking.standings)
            place = f"{wording.rank_range(*each.rank)} of {count}" if each.rank else "none"
            marks = dict.fromkeys((*each.marks, disputed(contents.book, fan, published.words)))
            yield (published.title, value_words(each, ranking.unit), place, readers_word(each, ranking),
                   each.how.value, *rests_on(each), "; ".join(mark for mark in marks if mark))  # fmt: skip
    for gone in ranking.excluded:
        if gone.fan == fan and gone.measured:
            yield published.title, "none", "none", NOT_RANKED, "", "", "", gone.why.partition(NEEDED)[0]


def rests_on(each: Standing) -> tuple[str, str]:
    """On how many samples and mountings a number rests; a legacy number on none of the laboratory's."""
    return str(each.samples), str(each.mountings)


def _claims(contents: Contents, fan: str) -> list[Block]:
    checks = [each for each in contents.claims if each.claim.fan == fan]
    if not checks:
        return [Heading(1, "What the box claims"), Paragraph("No claim of the box is recorded.")]
    rows = [
        (
            each.title,
            row.condition or "none",
            row.claim,
            row.measured or "not measured",
            each.words,
            row.basis,
        )
        for each, row in ((each, row_of(each)) for each in checks)
    ]
    return [Heading(1, "What the box claims"), Grid(CLAIMS, tuple(rows))]


def _method(contents: Contents, fan: str) -> str:
    """The methods of its numbers, and where all else stands."""
    own = (each for each in contents.published if fan in {one.fan for one in each.ranking.standings})
    methods = dict.fromkeys(
        word for each in own for word in methods_of(each.ranking, each.measure).split(", ")
    )
    return (
        f"Method {', '.join(methods)}. “{wording.BEST_MARK.capitalize()}” and “behind” are said only where the 95 %"
        f" interval of the difference lies beyond zero and the difference beyond the margin; all else is"
        f" “{wording.TIED_MARK}”. Places are those that can’t be excluded, 95 % for all fans at once. The methodology"
        f" and all numbers with their definitions stand in the release {contents.name}."
    )


def _list(contents: Contents, names: dict[str, str]) -> Document:
    """The page that leads to the cards."""
    items: list[Text] = [(link(fan, names[fan]), Span(f": {about(contents, fan)}")) for fan in contents.fans]
    return Document(
        title="A card for each fan",
        subtitle=f"{contents.settings.name}, release {contents.name}",
        date=contents.date,
        blocks=(Bullets(tuple(items)),),
        footer=contents.imprint,
    )
