"""A document as a PDF that a screen reader can follow (PDF/UA-1, ISO 14289-1:2014), with the bundled letters only.

Words reach the typesetter as JSON and are set as text; no word of a lab is ever read as markup. Formulas are set in
the house's letters in one line and read aloud by their spoken words.
"""

from __future__ import annotations

import json
import os
import re
import tempfile
import textwrap
from collections.abc import Iterator
from datetime import UTC, date, datetime
from enum import Enum
from functools import cache
from pathlib import Path
from typing import TypeAlias

import typst

from stillroom.charts import fonts
from stillroom.charts.fonts import clean, printable
from stillroom.charts.palette import PALETTES, Theme, coloured
from stillroom.errors import NotPossible
from stillroom.publish.document.blocks import (
    CONTENTS,
    Block,
    Bullets,
    Callout,
    Document,
    Figure,
    Formula,
    Grid,
    Heading,
    PageBreak,
    Paragraph,
    Span,
    Text,
    anchors,
    callout_look,
    has_contents,
    plain,
    spans,
)

FOLDER = Path(__file__).parent / "typeset"
LONGEST_WORD = 32
LINE_OF_FORMULA = 84
TALLEST = 1.32
"""Height of a picture by its width at which it fills a sheet."""
HALF = 0.7
"""The same at which two fill one, and the narrowest that a picture is made for that, by the width of the text."""
NARROWEST = 0.78
WHITE = "#FFFFFF"
"""The ground of pictures on paper."""
NO_MATHS = "current font is not designed for math"
_SIZE = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)"')
_FONTS = re.compile(r"<style>@font-face.*?</style>", re.DOTALL)

Json: TypeAlias = str | int | float | list["Json"] | dict[str, "Json"]


class Sheet(Enum):
    """How a document is set: on as many sheets as it needs, or on one whose letters are as large as fit."""

    PAGES = "document.typ"
    CARD = "card.typ"

    @property
    def room(self) -> int:
        """Letters that a line of a table holds."""
        return {Sheet.PAGES: 90, Sheet.CARD: 120}[self]


def as_pdf(document: Document, path: Path, sheet: Sheet = Sheet.PAGES, aside: Figure | None = None) -> Path:
    """Write a document as PDF; the same document gives the same bytes.

    The file has tags, title, language, a date (the document's own), alternative words for each picture and formula.
    A sign that the bundled letters lack is set as a box.

    Parameters
    ----------
    aside : on a card, a picture that stands beside its title.

    Returns
    -------
    Path : `path`.

    Raises
    ------
    NotPossible : the typesetter refuses it.
    """
    made = _typeset(document, sheet, aside)
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, part = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as opened:
            opened.write(made)
        Path(part).chmod(0o644)
        Path(part).replace(path)
    except BaseException:
        Path(part).unlink(missing_ok=True)
        raise
    return path


def _typeset(document: Document, sheet: Sheet, aside: Figure | None) -> bytes:
    """The file that the typesetter makes."""
    day = date.fromisoformat(document.date)
    noon = int(datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp())
    told = _on_paper(document, day, sheet.room) | {"aside": [_figure(aside)] if aside else []}
    try:
        made, warnings = _compiler(sheet).compile_with_warnings(
            format="pdf",
            sys_inputs={"document": json.dumps(told, ensure_ascii=False)},
            pdf_standards="ua-1",
            timestamp=noon,
        )
    except typst.TypstError as error:
        raise NotPossible(
            "PDF", place=document.title, found=str(error), expected="a document that can be set"
        ) from error
    said = [str(each) for each in warnings if str(each) != NO_MATHS]
    if said or not isinstance(made, bytes):
        raise NotPossible(
            "PDF", place=document.title, found="; ".join(said) or "no file", expected="no warning"
        )
    return made


@cache
def _compiler(sheet: Sheet) -> typst.Compiler:
    """The typesetter with one template, kept: it holds the letters, and no others than the bundled."""
    letters = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(fonts.FOLDER)]
    )
    return typst.Compiler(input=str(FOLDER / sheet.value), root=str(FOLDER), font_paths=letters)


# --- a document as data for the typesetter --------------------------------------------------------


def _on_paper(document: Document, day: date, room: int) -> dict[str, Json]:
    names = iter(anchors(document))
    known = set(anchors(document))
    colours = PALETTES[Theme.LIGHT]
    wanted = ("ink", "muted", "accent", "axis", "hairline")
    return {
        "name": printable(document.title),
        "title": settable(document.title),
        "subtitle": settable(document.subtitle),
        "dated": document.date,
        "year": day.year,
        "month": day.month,
        "day": day.day,
        "language": document.language,
        "footer": settable(document.footer),
        "contents": CONTENTS if has_contents(document) else "",
        "colours": {
            **{name: colours[name] for name in wanted},
            "code": colours["hairline"] + "80",
            "wash": colours["paper"],
        },
        "blocks": [_block(each, names, known, room) for each in document.blocks],
    }


def settable(words: str) -> str:
    """Words as the letters can set them: blanks at both ends kept, over-long words free to break anywhere."""
    core = printable(words)
    if not core:
        return " " if words else ""
    lead = " " if words[:1].isspace() else ""
    trail = " " if words[-1:].isspace() else ""
    return lead + re.sub(rf"\S{{{LONGEST_WORD + 1},}}", _breakable, core) + trail


def _breakable(hit: re.Match[str]) -> str:
    word = hit[0]
    return "\u200b".join(word[at : at + LONGEST_WORD] for at in range(0, len(word), LONGEST_WORD))


def _said(text: Text, known: set[str]) -> list[Json]:
    return [_span(each, known) for each in spans(text)]


def _span(span: Span, known: set[str]) -> dict[str, Json]:
    to = "" if span.link.startswith("#") and span.link[1:] not in known else span.link
    return {"text": settable(span.text), "style": span.style.value, "to": to}


def _block(block: Block, names: Iterator[str], known: set[str], room: int) -> dict[str, Json]:
    match block:
        case Heading():
            return {
                "kind": "heading",
                "level": block.level,
                "text": settable(block.text),
                "anchor": next(names),
            }
        case Paragraph():
            return {"kind": "paragraph", "text": _said(block.text, known)}
        case Bullets():
            return {"kind": "bullets", "items": [_said(each, known) for each in block.items]}
        case Grid():
            return _grid(block, known, room)
        case Formula():
            return _formula(block)
        case Figure():
            return _figure(block)
        case Callout():
            word, colour = callout_look(block.kind)
            said = _said(block.text, known)
            return {"kind": "callout", "word": word, "colour": PALETTES[Theme.LIGHT][colour], "text": said}
        case PageBreak():
            return {"kind": "page-break"}


def _grid(block: Grid, known: set[str], room: int) -> dict[str, Json]:
    return {
        "kind": "grid",
        "headers": [settable(each) for each in block.headers],
        "rows": [[{"spans": _said(cell, known)} for cell in row] for row in block.rows],
        "right": list(block.right),
        "widths": _widths(block, room),
        "caption": settable(block.caption),
        "notes": [_said(each, known) for each in block.notes],
    }


def _widths(block: Grid, room: int) -> list[Json]:
    """Shares of the columns of words in a table wider than a line; 0 for a column as wide as its words.

    The shortest columns keep their words on one line, as long as that leaves a quarter of the line to the others.
    """
    longest = [
        max(len(words) for words in (header, *(plain(row[column]) for row in block.rows)))
        for column, header in enumerate(block.headers)
    ]
    if sum(longest) <= room:
        return [0.0] * len(longest)
    widths: list[Json] = [round(float(size) ** 0.5, 2) for size in longest]
    used = 0
    for column in sorted(range(len(longest)), key=lambda column: longest[column])[:-1]:
        used += longest[column]
        if used > room * 3 / 4:
            break
        widths[column] = 0.0
    return widths


def _formula(block: Formula) -> dict[str, Json]:
    where: list[Json] = [
        settable(f"{symbol}: {meaning}" + (f" [{unit}]" if unit else ""))
        for symbol, meaning, unit in block.where
    ]
    return {
        "kind": "formula",
        "lines": list[Json](textwrap.wrap(settable(block.plain), LINE_OF_FORMULA)),
        "spoken": clean(block.spoken),
        "where": where,
        "source": settable(f"Source: {block.source}" if block.source else ""),
    }


def _figure(block: Figure) -> dict[str, Json]:
    size = _SIZE.search(block.svg)
    if size is None:
        raise NotPossible("picture", place=block.alt, found="no viewBox", expected="a drawing of the house")
    tall = float(size[2]) / float(size[1])
    paper = PALETTES[Theme.LIGHT]["paper"]
    return {
        "kind": "figure",
        "svg": coloured(_FONTS.sub("", block.svg), Theme.LIGHT).replace(f'"{paper}"', f'"{WHITE}"'),
        "alt": clean(block.alt),
        "caption": settable(block.caption),
        "ratio": round(1.0 / tall, 4),
        "width": round(min(1.0, max(HALF / tall, NARROWEST), TALLEST / tall), 3),
    }
