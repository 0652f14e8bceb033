"""The runs of a table of levels: each stretch of readings of one fan, at one setting, of one recording."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np

from stillroom.errors import BadInput
from stillroom.lab.intake.batch import File
from stillroom.lab.intake.file_names import names_in_columns
from stillroom.lab.intake.told_sound import sound_in_si
from stillroom.readers.reading.levels import stretches
from stillroom.readers.reading.recording import Recording
from stillroom.readers.reading.sweeps import SweepPart
from stillroom.readers.words.headers import NAMES, RECORDING, SWEEP
from stillroom.readers.words.kinds import Kind

MOST_LEVELS = 1_000_000
"""Most readings of one table of levels: a day of a meter that writes ten a second."""

_SETTINGS = {"duty": "duty", "voltage": "volts", "set_speed": "speed"}
_SAME = 1e-9


def sound_parts(recording: Recording) -> list[SweepPart]:
    """The stretches of a table of levels that are runs of their own, in its order.

    A sheet has a run for each fan, sample, obstacle, setting and distance that follow one another; a table of bands
    one for each dwell; a series of levels is one.
    """
    count = len(recording)
    edges = {0, count}
    if recording.kind is Kind.BAND_LEVELS and recording.layout.is_wide:
        edges |= {i for i in range(1, count) if recording.lines[i] != recording.lines[i - 1]}
    elif recording.kind in {Kind.BAND_LEVELS, Kind.NARROW_BAND}:
        edges |= {first for first, _ in stretches(recording.columns["frequency"])}
    if recording.kind is not Kind.LEVEL_SERIES:
        edges |= set(_told_edges(recording))
    return [SweepPart(first, last) for first, last in pairwise(sorted(edges))]


def _told_edges(recording: Recording) -> Iterator[int]:
    for name in (*NAMES, RECORDING, SWEEP):
        cells = recording.texts.get(name, ())
        yield from (i for i in range(1, len(cells)) if cells[i] and cells[i] != cells[i - 1])
    for name in (*_SETTINGS, "distance"):
        if (values := recording.columns.get(name)) is not None:
            moved = np.abs(np.diff(values)) > _SAME
            gone = np.isnan(values[1:]) != np.isnan(values[:-1])
            yield from (np.flatnonzero(moved | gone) + 1).tolist()


def sound_found(
    file: File,
    recording: Recording,
    part: SweepPart,
    said: Mapping[str, str],
    known: Collection[str],
    by_hand: Collection[str],
) -> dict[str, str]:
    """What the columns tell of one run: names, setting, what was recorded, distance, a speed that was read.

    Raises
    ------
    Contradiction, BadInput : a run of two names; a cell that tells nothing that can be meant.
    """
    found = names_in_columns(file, _with_names_from_above(recording, part), part, said, known, by_hand)
    columns = {name: values[part.first : part.last] for name, values in recording.columns.items()}
    settings = {told: columns[name] for name, told in _SETTINGS.items() if name in columns}
    for told, values in settings.items():
        if not np.isnan(values[0]):
            found[told] = repr(float(values[0]))
            break
    if "distance" in columns and not np.isnan(columns["distance"][0]):
        found["distance"] = repr(float(columns["distance"][0]))
    if recording.kind in {Kind.BAND_LEVELS, Kind.NARROW_BAND} and "speed" in columns:
        found["tachometer"] = repr(float(np.median(columns["speed"])))
    if words := next(
        (cell for cell in recording.texts.get(RECORDING, ())[part.first : part.last] if cell), ""
    ):
        place = f"{file.name}, line {recording.lines[part.first]}"
        found["recording"] = sound_in_si("recording", words, place)
    return found


def _with_names_from_above(recording: Recording, part: SweepPart) -> Recording:
    """The same with names from the rows above, where a sheet names a fan once for those below."""
    texts = dict(recording.texts)
    for name in NAMES:
        cells = recording.texts.get(name, ())
        if part.first < len(cells) and not any(cells[part.first : part.last]):
            above = next((cells[i] for i in range(part.first - 1, -1, -1) if cells[i]), "")
            texts[name] = [*cells[: part.first], above, *cells[part.first + 1 :]]
    return replace(recording, texts=texts)


def check_size(file: File, recording: Recording) -> None:
    """Refuse a table of levels that is too long to be held.

    Raises
    ------
    BadInput : says how many readings it has.
    """
    if len(recording) > MOST_LEVELS:
        raise BadInput(
            "table of levels",
            place=file.name,
            found=f"{len(recording):,} readings",
            expected=f"at most {MOST_LEVELS:,}: levels of each second, or of each 0.125 s",
        )
