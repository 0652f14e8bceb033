"""The ZIP containers of workbooks: refused before they would fill the memory, checked before they are read."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from xml.parsers import expat

from stillroom.errors import BadInput, UnreadableFile

UNPACKED_LIMIT = 512 * 2**20
"""Most bytes that a workbook may unpack to."""

RATIO_LIMIT = 300.0
"""Most that one part of a workbook may be compressed (parts over 1 MiB)."""

PART_LIMIT = 2000
"""Most parts that a workbook may hold."""

CELL_LIMIT = 12_000_000
"""Most cells in the rectangle that a sheet spans."""

SHEET_COLUMNS = 16_384
"""Most columns that a sheet has in any program."""

WORKBOOK = "xl/workbook.xml"
"""The part of an XLSX workbook that lists its sheets."""

_RELATIONS = "xl/_rels/workbook.xml.rels"
_BLOCK = 2**20
_REFERENCE = re.compile(r"([A-Za-z]+)([0-9]+)")
_NEAR = re.compile(r"([A-Za-z]{1,3})([0-9]{1,7})")


def damaged(name: str, reason: str, what: str = "a ZIP container") -> UnreadableFile:
    """The error of a file that can't be read as the workbook that it seems to be."""
    return UnreadableFile(
        "workbook",
        place=name,
        found=f"{what} that can't be read as a workbook ({reason})",
        expected="a whole workbook (XLSX, XLS or ODS)",
    )


@contextmanager
def container(name: str, data: bytes) -> Iterator[zipfile.ZipFile]:
    """The container, its sizes checked, with what is wrong with it said in our words.

    Parameters
    ----------
    name : the file's name, for messages.
    data : its bytes.

    Raises
    ------
    UnreadableFile : it is damaged, or protected by a password.
    BadInput : it holds too many parts, or would unpack to too much.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as box:
            _check_sizes(name, box.infolist())
            yield box
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError) as problem:
        raise damaged(name, str(problem) or "cut short") from None
    except (expat.ExpatError, ValueError, OverflowError, LookupError, MemoryError) as problem:
        raise damaged(name, str(problem) or type(problem).__name__) from None


def _check_sizes(name: str, parts: list[zipfile.ZipInfo]) -> None:
    total = sum(part.file_size for part in parts)
    worst = max((p.file_size / max(p.compress_size, 1) for p in parts if p.file_size > _BLOCK), default=0.0)
    refusals = (
        (len(parts) > PART_LIMIT, f"{len(parts):,} parts", f"at most {PART_LIMIT:,}"),
        (
            total > UNPACKED_LIMIT,
            f"{total / 2**20:,.0f} MiB when unpacked",
            f"at most {UNPACKED_LIMIT / 2**20:,.0f} MiB",
        ),
        (worst > RATIO_LIMIT, f"a part compressed {worst:,.0f} times", f"at most {RATIO_LIMIT:.0f} times"),
    )
    for refused, found, expected in refusals:
        if refused:
            raise BadInput("workbook", place=name, found=found, expected=expected)


def blocks(box: zipfile.ZipFile, part: zipfile.ZipInfo | str) -> Iterator[bytes]:
    """One part's bytes, its checksum held at the end."""
    with box.open(part) as stream:
        while block := stream.read(_BLOCK):
            yield block


def parser(namespaces: bool = False) -> expat.XMLParserType:
    """An XML parser that takes no document type, and so no entities that unfold without end."""
    made = expat.ParserCreate(namespace_separator=" " if namespaces else None)
    made.buffer_text = True
    made.StartDoctypeDeclHandler = _refuse_document_type
    return made


def _refuse_document_type(*_: object) -> None:
    raise ValueError("a document type declaration, which no workbook has")


def parse(box: zipfile.ZipFile, part: zipfile.ZipInfo | str, reading: expat.XMLParserType) -> bytes:
    """Send a part through a parser to its end; its bytes.

    Raises
    ------
    ExpatError, ValueError, LookupError : it isn't XML as workbooks have it (said in our words by `container`).
    """
    taken = []
    for block in blocks(box, part):
        reading.Parse(block, False)
        taken.append(block)
    reading.Parse(b"", True)
    return b"".join(taken)


def parts_of_sheets(box: zipfile.ZipFile) -> dict[str, str]:
    """{name of a sheet: its part}, as workbook and relationships say ([ECMA-376-1] 18.2.19, part 2, 9.3)."""
    identities: dict[str, str] = {}
    targets: dict[str, str] = {}

    def sheet(tag: str, attributes: dict[str, str]) -> None:
        if tag.rpartition(":")[2] == "sheet":
            reference = next((value for key, value in attributes.items() if key.endswith(":id")), "")
            identities[attributes.get("name", "")] = reference

    def relation(_tag: str, attributes: dict[str, str]) -> None:
        target = attributes.get("Target", "")
        targets[attributes.get("Id", "")] = target[1:] if target.startswith("/") else f"xl/{target}"

    for part, start in ((WORKBOOK, sheet), (_RELATIONS, relation)):
        if part in box.namelist():
            reading = parser()
            reading.StartElementHandler = start
            parse(box, part, reading)
    return {name: targets.get(identity, "") for name, identity in identities.items()}


class SheetScan:
    """What is to be known of a sheet's XML before it is read as a whole.

    Attributes
    ----------
    rows, columns : the rectangle that its cells span.
    said : {(row, column) from 1: text} of cells with an error, and of formulas whose value wasn't kept.
    """

    def __init__(self, name: str) -> None:
        self.rows = self.columns = 0
        self.said: dict[tuple[int, int], str] = {}
        self._name = name
        self._row = self._column = 0
        self._numbers: set[int] = set()
        self._error = False
        self._formula_text: list[str] = []
        self._text: list[str] = []
        self._parser = parser()
        self._parser.StartElementHandler = self._start

    def read(self, box: zipfile.ZipFile, part: zipfile.ZipInfo) -> bytes:
        """Go through a part; its bytes.

        Raises
        ------
        BadInput : its cells span too much.
        """
        taken = parse(box, part, self._parser)
        self._close()
        return taken

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        kind = tag.rpartition(":")[2]
        if kind == "c":
            self._close()
            before = self._row, self._column
            self._row, self._column = self._place(attributes.get("r"), self._row, self._column + 1)
            if before == (self._row, self._column):
                raise ValueError(f"two cells in row {self._row}, column {self._column}")
            self._error = attributes.get("t") == "e"
        elif kind == "row":
            self._close()
            number = attributes.get("r", "")
            self._row, self._column = (int(number) if number.isdecimal() else self._row + 1), 0
            if self._row in self._numbers:
                raise ValueError(f"two rows {self._row}")
            self._numbers.add(self._row)
        elif kind in _HOLDS:
            _HOLDS[kind](self)
            if self._row > self.rows or self._column > self.columns:
                self._widen()

    def _place(self, reference: str | None, row: int, column: int) -> tuple[int, int]:
        if reference is None:
            return row, column
        hit = _NEAR.fullmatch(reference) or _REFERENCE.fullmatch(reference)
        if hit is None:
            raise ValueError(f"a cell at {reference[:20]!r}")
        column = 0
        for letter in hit[1].upper():
            column = min(column * 26 + ord(letter) - 64, 2**32)
        return int(hit[2][:12]), column

    def _widen(self) -> None:
        self.rows, self.columns = max(self.rows, self._row), max(self.columns, self._column)
        if self.rows * self.columns > CELL_LIMIT or self.columns > SHEET_COLUMNS:
            raise BadInput(
                "workbook",
                place=self._name,
                found=f"a sheet of {self.rows:,} rows and {self.columns:,} columns",
                expected=f"at most {CELL_LIMIT:,} cells",
            )

    def _formula(self) -> None:
        self._formula_text = ["="]
        self._parser.CharacterDataHandler = self._formula_text.append

    def _value(self) -> None:
        self._text = []
        wanted = self._error or self._formula_text
        self._parser.CharacterDataHandler = self._text.append if wanted else None

    def _close(self) -> None:
        """The end of a cell."""
        if self._error or self._formula_text:
            value = "".join(self._text).strip()
            if self._error:
                self.said[self._row, self._column] = value or "#VALUE!"
            elif not value:
                self.said[self._row, self._column] = "".join(self._formula_text).strip()
            self._parser.CharacterDataHandler = None
            self._error, self._formula_text, self._text = False, [], []


_HOLDS: dict[str, Callable[[SheetScan], None]] = {
    "v": SheetScan._value,
    "is": SheetScan._value,
    "f": SheetScan._formula,
}
