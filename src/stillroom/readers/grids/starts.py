"""Where a table begins, what stands above it, and the lines in it that are no readings."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from stillroom.readers.grids import lines
from stillroom.readers.grids.grid import Row
from stillroom.readers.words.settings import chosen
from stillroom.vocabulary import plain

BLANK, FOOTER = "blank line", "footer"


@dataclass(frozen=True)
class LeftOut:
    """A line of the file that isn't a reading, and why."""

    line: int
    why: str


@dataclass(frozen=True)
class Start:
    """A table begins.

    Parameters
    ----------
    number : its number in the text or sheet, from 1.
    header, units : its rows of names and of units; those of the table before where it has none of its own.
    above : the lines before it, since the table before.
    first : the lines before the first table.
    """

    number: int
    header: Row
    units: Row | None
    above: tuple[Row, ...]
    first: tuple[Row, ...]

    @property
    def notes(self) -> dict[str, str]:
        """Its notes; a later table keeps the file's first notes, but not the setting they told."""
        own = lines.notes_of([row.cells for row in self.above])
        if self.number == 1:
            return own
        common = [row.cells for row in self.first if not lines.setting_of_line(row.cells)]
        told = {plain(key) for key in ("title", *own)}
        file = {key: value for key, value in lines.notes_of(common).items() if plain(key) not in told}
        return file | own

    @property
    def setting(self) -> dict[str, float]:
        """The setting that the lines above it tell, in SI; {} where they tell none or contradict each other."""
        told: dict[str, set[float]] = {}
        for row in self.above:
            for name, value in lines.setting_of_line(row.cells).items():
                told.setdefault(name, set()).add(value)
        clear = {name: next(iter(values)) for name, values in told.items() if len(values) == 1}
        return chosen(clear) if len(clear) == len(told) else {}


def without_last_blanks(left_out: Iterable[LeftOut], last: int) -> list[LeftOut]:
    """The lines left out, but for blank ones after the last reading."""
    return [each for each in left_out if each.line < last or each.why != BLANK]


def names_of(cells: Iterable[str]) -> list[str]:
    """The names of a header, without doubled blanks."""
    return [" ".join(cell.split()) for cell in cells]
