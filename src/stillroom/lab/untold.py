"""What nobody tells of runs that are brought in: marks, not demands; and rows of a run table for no run."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from stillroom import wording
from stillroom.errors import Contradiction, StillroomError
from stillroom.lab.batch import Measured
from stillroom.lab.book import SETTINGS, row_for
from stillroom.records.acts import Run


def marks(
    measured: Sequence[Measured], said: Mapping[str, Mapping[str, str]], rows: Mapping[str, list[Run]]
) -> tuple[str, ...]:
    """What has to be said of new runs whose setting nobody tells: neither table, name, `--as` nor the file.

    Parameters
    ----------
    measured : the files. said : what names and `--as` say of each. rows : the run table's, as by `by_path`.
    """
    untold = [
        each.file.name if part.number is None else f"{each.file.name}, part {part.number}"
        for each in measured
        if not each.is_obstacle
        for part in each.parts
        if not _has_setting(
            row_for(each.file.name, rows, part.number), said.get(each.file.name, {}), part.found
        )
    ]
    if not untold:
        return ()
    return (
        f"no setting is told for {wording.listed(untold, most=3)}:"
        " full setting can't be known from it (tell it with --as duty=, volts= or speed=, or a run table)",
    )


def _has_setting(row: Run | None, said: Mapping[str, str], found: Mapping[str, str]) -> bool:
    by_row = row is not None and any(getattr(row, name) is not None for name in SETTINGS)
    by_name = row is None and any(name in said for name in SETTINGS)
    return by_row or by_name or any(name in found for name in SETTINGS)


def rows_for_no_run(
    measured: Sequence[Measured], rows: Mapping[str, list[Run]]
) -> Iterator[tuple[str, StillroomError]]:
    """The files for which a row of the run table names a part that they don't have, with what is wrong."""
    numbers = {row.part for several in rows.values() for row in several if row.part is not None}
    for each in measured if numbers else ():
        count = len(each.found)
        beyond = [n for n in sorted(numbers) if n > count or n < 1]
        for number in beyond:
            row = row_for(each.file.name, rows, number)
            if row is not None and row.part == number:
                yield (
                    each.file.name,
                    Contradiction(
                        "run table",
                        place=f"{each.file.name}, part {number}",
                        found=f"a row for it, but the file holds {wording.plural(count, 'run')}",
                        expected=f"parts from 1 to {count}, as `stillroom add --preview` shows them",
                    ),
                )
