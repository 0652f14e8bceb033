"""Long measurement files part by part: read or surveyed without being held."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from stillroom.readers.grids.starts import without_last_blanks
from stillroom.readers.layout import Layout
from stillroom.readers.reading.gathering import Gathering, Kinds
from stillroom.readers.reading.recording import Recording, assembled, check, gather
from stillroom.readers.source import Source


def stream(source: Source, layout: Layout) -> Iterator[Recording]:
    """The readings of one table, in recordings of some ten thousand readings each, in the file's order.

    Together they are what `read` gives. Memory doesn't grow with the file, but for the lines left out.

    Raises
    ------
    StillroomError : as `read`, when the part is reached that is wrong.
    """
    gathered = Gathering()
    held: Recording | None = None
    for start in gather(source, layout, gathered):
        if gathered.lines:
            if held is not None:
                yield held
            part = assembled(source, layout, start, gathered, light=True)
            check(part)
            held = replace(part, left_out=tuple(e for e in part.left_out if e.line <= part.lines[-1]))
            gathered.empty()
    if held is not None:
        after = without_last_blanks(gathered.left_out, held.lines[-1])
        yield replace(held, left_out=(*held.left_out, *after))


@dataclass
class Survey:
    """What is in a table, without its readings.

    Parameters
    ----------
    readings : how many there are.
    first, last : the lines of the first and the last, from 1.
    lowest, highest : {quantity: the extreme value [SI]}.
    left_out : how many lines are no readings.
    nozzles : each combination of open nozzles that occurs.
    """

    readings: int = 0
    first: int = 0
    last: int = 0
    lowest: dict[str, float] = field(default_factory=dict)
    highest: dict[str, float] = field(default_factory=dict)
    left_out: int = 0
    nozzles: frozenset[tuple[str, ...]] = frozenset()


def survey(source: Source, layout: Layout) -> Survey:
    """Count and check the readings of a table of any length; raises as `read`."""
    found = Survey()
    for part in stream(source, layout):
        found.first = found.first or part.lines[0]
        found.last = part.lines[-1]
        found.readings += len(part)
        found.left_out += len(part.left_out)
        found.nozzles |= set(part.nozzles.kinds if isinstance(part.nozzles, Kinds) else part.nozzles)
        for quantity, values in part.columns.items():
            low, high = float(values.min()), float(values.max())
            found.lowest[quantity] = min(found.lowest.get(quantity, low), low)
            found.highest[quantity] = max(found.highest.get(quantity, high), high)
    return found
