"""A document as lines that can be compared with another's: each under its headings, with what names it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Data = Mapping[str, Any]


@dataclass(frozen=True)
class Line:
    """One line of a document.

    Parameters
    ----------
    section : the headings under which it stands. table : caption of its table; "" outside of one.
    name : by which it is the same line in two documents: the leading cells of a row, a formula read aloud; "" for a
    sentence, which has none.
    cells : {header: what it says}; of a sentence under "". leading : how many of them make the name.
    """

    section: tuple[str, ...]
    table: str
    name: str
    cells: Mapping[str, str]
    leading: int = 0

    @property
    def words(self) -> str:
        """What it says, in one line: a row with its headers, its name first."""
        rest = list(self.cells.items())[self.leading :]
        told = "; ".join(
            f"{header} {cell.removesuffix('.')}" if header else cell for header, cell in rest if cell
        )
        where = f"{self.table}, {self.name}: " if self.table else f"{self.name}: " if self.name else ""
        return where + told


def lines_of(document: Data) -> list[Line]:
    """All lines of a document's data, in their order."""
    section: list[str] = []
    found: list[Line] = []
    for block in document.get("blocks", ()):
        kind = str(block.get("kind", ""))
        if kind == "heading":
            section = [*section[: int(block["level"]) - 1], str(block["text"])]
        elif kind in _LINES:
            found.extend(_LINES[kind](block, tuple(section)))
    return found


def sections_of(document: Data) -> list[tuple[str, ...]]:
    """The headings of a document, each with those above it."""
    section: list[str] = []
    found: list[tuple[str, ...]] = []
    for block in document.get("blocks", ()):
        if block.get("kind") == "heading":
            section = [*section[: int(block["level"]) - 1], str(block["text"])]
            found.append(tuple(section))
    return found


def _said(text: Any) -> str:
    """A text of the data without its styles."""
    if isinstance(text, str):
        return text
    return "".join(each if isinstance(each, str) else str(each["text"]) for each in text)


def _paragraph(block: Data, section: tuple[str, ...]) -> Iterator[Line]:
    yield Line(section, "", "", {"": _said(block["text"])})


def _bullets(block: Data, section: tuple[str, ...]) -> Iterator[Line]:
    for each in block["items"]:
        yield Line(section, "", "", {"": _said(each)})


def _formula(block: Data, section: tuple[str, ...]) -> Iterator[Line]:
    yield Line(section, "", str(block["spoken"]), {"": str(block["plain"]), "source": str(block["source"])})


def _grid(block: Data, section: tuple[str, ...]) -> Iterator[Line]:
    headers = _apart([str(each) for each in block["headers"]])
    rows = [[_said(cell) for cell in row] for row in block["rows"]]
    names, leading = _names(rows)
    for name, row in zip(names, rows, strict=True):
        yield Line(section, str(block["caption"]), name, dict(zip(headers, row, strict=True)), leading)
    for each in block["notes"]:
        yield Line(section, "", "", {"": _said(each)})


def _apart(headers: Sequence[str]) -> list[str]:
    """Headers of which no two are alike: the second of two is counted."""
    seen: Counter[str] = Counter()
    found = []
    for each in headers:
        seen[each] += 1
        found.append(each if seen[each] == 1 else f"{each} ({seen[each]})")
    return found


def _names(rows: Sequence[Sequence[str]]) -> tuple[list[str], int]:
    """What names each row: its first cell, with as many of the next as tell it apart; and how many these are."""
    for width in range(1, max(map(len, rows), default=0) + 1):
        found = [", ".join(row[:width]) for row in rows]
        if len(set(found)) == len(found):
            return found, width
    counted: Counter[str] = Counter()
    named = []
    for row in rows:
        counted[row[0]] += 1
        named.append(f"{row[0]} ({counted[row[0]]})")
    return named, 1


_LINES: Mapping[str, Callable[[Data, tuple[str, ...]], Iterator[Line]]] = {
    "paragraph": _paragraph,
    "bullets": _bullets,
    "callout": _paragraph,
    "formula": _formula,
    "grid": _grid,
}
