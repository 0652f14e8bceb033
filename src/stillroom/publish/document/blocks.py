"""A document as blocks: the one form in which what the lab publishes is written.

A maker of a document says what is in it, never how it looks: `as_html`, `as_pdf`, `as_text` and
`as_data` each show the same blocks. Words of a lab are data in all of them, never markup.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date as day
from enum import Enum
from typing import TypeAlias
from urllib.parse import urlsplit

from stillroom.errors import StillroomError

DEEPEST = 4
CONTENTS = "Contents"
MANY_PARTS = 6
"""Parts from which on a document begins with a list of them."""


class Style(Enum):
    """How a span is set: plain, with emphasis, or as code (a key, a file's name, a version)."""

    PLAIN = "plain"
    EMPHASIS = "emphasis"
    CODE = "code"


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of text in one style; with `link` it leads there (http, https, or inside the release).

    Raises
    ------
    StillroomError : `link` has another scheme, or is an address of the machine.
    """

    text: str
    style: Style = Style.PLAIN
    link: str = ""

    def __post_init__(self) -> None:
        if self.link and not may_link(self.link):
            raise StillroomError(
                "link of a document", found=self.link, expected="http://, https://, or a file of the release"
            )


Text: TypeAlias = str | tuple[Span, ...]
"""What a block says: one plain string, or spans."""


def emphasis(text: str) -> Span:
    """Text with emphasis."""
    return Span(text, Style.EMPHASIS)


def code(text: str) -> Span:
    """A key, a file's name, a version: text that is read letter by letter."""
    return Span(text, Style.CODE)


def link(text: str, to: str) -> Span:
    """Text that leads to `to`: http, https, or relative inside the release."""
    return Span(text, link=to)


def may_link(to: str) -> bool:
    """Whether a document may lead there: http, https, an anchor (`#…`), or a relative path."""
    if any(mark.isspace() or not mark.isprintable() or mark == "\\" for mark in to):
        return False
    try:
        parts = urlsplit(to)
    except ValueError:
        return False
    if parts.scheme in {"http", "https"}:
        return bool(parts.netloc)
    return not parts.scheme and not parts.netloc and not to.startswith("/")


def spans(text: Text) -> tuple[Span, ...]:
    """A text as spans."""
    return (Span(text),) if isinstance(text, str) else text


def plain(text: Text) -> str:
    """A text without its styles."""
    return text if isinstance(text, str) else "".join(span.text for span in text)


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading: level 1 for a part of the document (its title stands above), down to 4.

    Parameters
    ----------
    anchor : a name by which links inside the document reach it; "" for one made from the text.
    """

    level: int
    text: str
    anchor: str = ""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph."""

    text: Text


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list without order."""

    items: tuple[Text, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: one row of headers, each row as long as it.

    Parameters
    ----------
    right : the columns (from 0) of numbers, set to the right. caption : what the table shows, above it.
    notes : below it.
    """

    headers: tuple[str, ...]
    rows: tuple[tuple[Text, ...], ...]
    right: tuple[int, ...] = ()
    caption: str = ""
    notes: tuple[Text, ...] = ()


@dataclass(frozen=True, slots=True)
class Formula:
    """A formula, written in a line and read aloud in words.

    Parameters
    ----------
    plain : in one line of plain text, such as "Δp = a q + b q²". spoken : as one would read it aloud.
    where : (symbol, meaning, unit) of each letter. source : with its edition.
    """

    plain: str
    spoken: str
    where: tuple[tuple[str, str, str], ...] = ()
    source: str = ""


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture of the house.

    Parameters
    ----------
    svg : as `charts` draws it, with its fonts inside. alt : what it shows, for one who doesn't see it.
    narrow : the same for a phone's screen; "" where `svg` serves there too.
    """

    svg: str
    alt: str
    caption: str = ""
    narrow: str = ""


class CalloutKind(Enum):
    """What a callout is: a caution for one's safety, a note, or a finding that a person accepted."""

    CAUTION = "caution"
    NOTE = "note"
    ACCEPTED = "accepted"


@dataclass(frozen=True, slots=True)
class Callout:
    """A paragraph that stands out."""

    kind: CalloutKind
    text: Text


@dataclass(frozen=True, slots=True)
class PageBreak:
    """What follows begins on a new sheet (on paper)."""


Block: TypeAlias = Heading | Paragraph | Bullets | Grid | Formula | Figure | Callout | PageBreak


@dataclass(frozen=True, slots=True)
class Document:
    """A document.

    Parameters
    ----------
    date : of the release, ISO 8601 (YYYY-MM-DD). footer : on each sheet, such as the lab's name and the release's.

    Raises
    ------
    StillroomError : a heading skips a level, a table's rows are uneven, a picture has no alt text.
    """

    title: str
    subtitle: str
    date: str
    blocks: tuple[Block, ...]
    footer: str = ""
    language: str = "en"

    def __post_init__(self) -> None:
        for fault in faults(self):
            raise StillroomError("document", place=self.title, found=fault, expected="a document in order")


def faults(document: Document) -> Iterator[str]:
    """What is out of order in a document, in words."""
    if not document.title.strip():
        yield "no title"
    try:
        day.fromisoformat(document.date)
    except ValueError:
        yield f"date '{document.date}'"
    level = 0
    for block in document.blocks:
        if isinstance(block, Heading):
            yield from _faults_of_heading(block, level)
            level = block.level
        elif isinstance(block, Grid):
            yield from _faults_of_grid(block)
        elif isinstance(block, Figure) and not block.alt.strip():
            yield f"a picture without alt text ('{block.caption}')"
        elif isinstance(block, Formula) and not block.spoken.strip():
            yield f"formula '{block.plain}' without spoken words"


def _faults_of_heading(block: Heading, before: int) -> Iterator[str]:
    if not 1 <= block.level <= min(before + 1, DEEPEST):
        yield f"heading '{block.text}' of level {block.level} after level {before}"
    if not block.text.strip():
        yield "a heading without words"
    if block.anchor and not re.fullmatch(r"[A-Za-z][\w\-]*", block.anchor):
        yield f"anchor '{block.anchor}'"


def _faults_of_grid(block: Grid) -> Iterator[str]:
    if not block.headers or not all(each.strip() for each in block.headers):
        yield f"a table ('{block.caption}') with a column without a header"
    for number, row in enumerate(block.rows, start=1):
        if len(row) != len(block.headers):
            yield f"row {number} of '{block.caption}' with {len(row)} of {len(block.headers)} cells"


def anchors(document: Document) -> tuple[str, ...]:
    """The anchor of each heading, in their order: as told, else from its text; each once."""
    taken: dict[str, int] = {}
    for block in document.blocks:
        if isinstance(block, Heading):
            name = block.anchor or _slug(block.text)
            count = 2
            unique = name
            while unique in taken:
                unique = f"{name}-{count}"
                count += 1
            taken[unique] = 1
    return tuple(taken)


def _slug(text: str) -> str:
    plain_letters = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain_letters.lower()).strip("-")[:60] or "part"


def has_contents(document: Document) -> bool:
    """Whether a document is so long that it begins with a list of its parts."""
    return sum(isinstance(each, Heading) and each.level == 1 for each in document.blocks) >= MANY_PARTS


_CALLOUTS = {
    CalloutKind.CAUTION: ("Caution", "warn"),
    CalloutKind.NOTE: ("Note", "accent"),
    CalloutKind.ACCEPTED: ("Accepted", "block"),
}


def callout_look(kind: CalloutKind) -> tuple[str, str]:
    """The word with which a callout begins, and the role of its colour."""
    return _CALLOUTS[kind]
