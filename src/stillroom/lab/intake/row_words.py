"""What the run table tells of files that are brought in: it comes first, and names fill what it leaves empty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from stillroom.lab.book import SETTINGS, row_for
from stillroom.lab.intake.batch import Measured
from stillroom.lab.intake.recordings import is_of_fan, recorded_of
from stillroom.records.acts import Run


@dataclass(frozen=True)
class RowsTold:
    """The rows of the run table as they will stand.

    Parameters
    ----------
    rows : as by `by_path`.
    """

    rows: Mapping[str, list[Run]]

    def of(self, each: Measured) -> Sequence[Run | None]:
        """The row of each run of a file, in their order; None where there is none."""
        numbers: list[int | None] = [None] if len(each.found) == 1 else [*range(1, len(each.found) + 1)]
        return [row_for(each.file.name, self.rows, number) for number in numbers]

    def speak_of(self, each: Measured) -> bool:
        """Whether there is a row for every run of a file that tells its fan, or that no fan runs in it.

        Of an obstacle's measurement, without a fan, any row will do.
        """
        told = zip(self.of(each), each.found, strict=True)
        return all(
            row is not None
            and (
                bool(row.fan)
                or each.is_obstacle
                or not each.runs_fan
                or (each.is_heat and bool(row.session or row.what))
                or (each.is_sound and not is_of_fan(recorded_of({}, own, row)))
            )
            for row, own in told
        )


def tells(row: Run | None, key: str) -> bool:
    """Whether a row tells something of its run; of several kinds of setting it tells but one."""
    if row is None:
        return False
    names = tuple(SETTINGS) if key in SETTINGS else (key,)
    return any(getattr(row, name, None) is not None for name in names)
