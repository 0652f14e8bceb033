"""The readings of a run, from the original that was taken of its file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from stillroom.readers.layout import Layout
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.source import Source
from stillroom.records.acts import Taken
from stillroom.store import originals


def readings_of(lab: Path, taken: Taken) -> Recording:
    """The readings of one run of the lab at a path: of its file's table, those of its part.

    Raises
    ------
    LabDamaged : the original is missing or was changed.
    """
    data = originals.data_of(lab, taken.place, taken.sha256)
    recording = read(Source(taken.file, data), Layout.from_dict(taken.layout))
    return recording if taken.part is None else _part_of(recording, taken.first or 0, taken.last)


def _part_of(recording: Recording, first: int, last: int | None) -> Recording:
    """The readings [first, last) of a recording; to its end where last is None."""
    kept = slice(first, last)
    return replace(
        recording,
        columns={name: values[kept] for name, values in recording.columns.items()},
        nozzles=recording.nozzles[kept],
        texts={name: values[kept] for name, values in recording.texts.items()},
        lines=recording.lines[kept],
    )
