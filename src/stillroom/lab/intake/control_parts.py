"""The runs of a test of the control: each stretch of readings of one fan and mounting, whatever its settings."""

from __future__ import annotations

from itertools import pairwise

from stillroom.errors import BadInput
from stillroom.lab.intake.batch import File
from stillroom.readers.reading.recording import Recording
from stillroom.readers.reading.sweeps import SweepPart
from stillroom.readers.words.headers import NAMES

MOST_READINGS = 200_000
"""Most readings of one table: a staircase logged ten times a second for five hours."""


def control_parts(file: File, recording: Recording) -> list[SweepPart]:
    """The runs of a table, in its order.

    Raises
    ------
    BadInput : a table that is too long to be a test of the control.
    """
    count = len(recording)
    if count > MOST_READINGS:
        raise BadInput(
            "test of the control",
            place=file.name,
            found=f"{count:,} readings",
            expected=f"at most {MOST_READINGS:,}: one staircase, or one record of a start",
        )
    edges = {0, count}
    for name in NAMES:
        cells = recording.texts.get(name, ())
        edges |= {i for i in range(1, len(cells)) if cells[i] and cells[i] != cells[i - 1]}
    return [SweepPart(first, last) for first, last in pairwise(sorted(edges))]
