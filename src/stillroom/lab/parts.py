"""The runs of a measurement file: its tables and their sweeps, with what the file itself says of each."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from stillroom.errors import BadInput, Contradiction
from stillroom.lab.batch import File, Part
from stillroom.readers.layout import Layout
from stillroom.readers.recording import Recording, read
from stillroom.readers.sweeps import SweepPart, sweeps
from stillroom.readers.understanding import FileUnderstanding
from stillroom.vocabulary import is_unit, plain, unit

MOST_POINTS = 300
"""Most points of one sweep: each is one steady observation, not one line of a logger."""

NOTES: dict[str, tuple[str, ...]] = {
    "fan": ("fan", "fan name", "fan id", "lüfter", "ventilator", "ventilateur"),
    "sample": ("sample", "sample no", "sample id", "specimen", "muster", "prüfling", "échantillon"),
    "mounting": ("mounting", "mounting no", "mount", "einbau", "montage"),
    "obstacle": ("obstacle", "restriction", "widerstand", "obstacle name"),
    "rig": ("rig", "bench", "test rig", "prüfstand"),
    "duty": ("duty", "pwm", "pwm duty", "duty cycle", "tastgrad"),
    "volts": ("voltage", "volts", "supply voltage", "supply", "spannung"),
    "speed": ("set speed", "speed set", "speed setting", "nominal speed", "target speed", "solldrehzahl"),
    "measured": ("date", "datum", "measured", "date time", "date and time", "start", "start time", "started"),
}
"""What a note above a table can say, by the words that exports use for it (compared by `plain`)."""

_WORDS = {plain(word): name for name, words in NOTES.items() for word in words}
_SETTINGS: dict[str, tuple[str, str, float]] = {
    "duty": ("ratio", "%", 0.02),
    "volts": ("voltage", "V", 0.25),
    "speed": ("speed", "rpm", 50 / 60),
}
"""{kind: (dimension, unit where none is written, how far two tellings of one setting may lie apart [SI])}."""

SETTINGS_SHOWN = tuple(_SETTINGS)
"""The kinds of setting, in the order in which one is taken where several are told."""

_QUANTITY = {"duty": "duty", "voltage": "volts", "speed": "speed"}
_MEASURE = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*(\S*)")
_ISO = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}(?::\d{2})?))?")
RELATIVE = 0.1
"""Two tellings of one setting may also lie so far apart, relative: a speed moves along a sweep [1]."""


def parts_of(file: File, seen: FileUnderstanding, names: Mapping[str, Collection[str]]) -> tuple[Part, ...]:
    """The runs of a file, in its order.

    Parameters
    ----------
    file : the file. seen : what was understood of it. names : {"fan" or "rig": names that the lab knows}.

    Raises
    ------
    StillroomError : a table that can't be read by its layout; a sweep of more than `MOST_POINTS` readings.
    Contradiction : a note and the readings tell two settings.
    """
    found: list[Part] = []
    for block in seen.blocks:
        recording = read(file.source, block.layout)
        said = notes_said(block.notes or recording.notes, names)
        swept = sweeps(recording)
        for each in swept:
            _check_length(file, each)
            own = _settings(file, each, said, alone=len(swept) == 1)
            found.append(_part(recording, block.layout, each, own))
    if len(found) == 1:
        return tuple(found)
    return tuple(replace(each, number=number) for number, each in enumerate(found, start=1))


def _part(recording: Recording, layout: Layout, swept: SweepPart, said: dict[str, str]) -> Part:
    measured = _moment(recording, swept.first, said.pop("measured", ""))
    return Part(
        number=None,
        kind=recording.kind,
        layout=_plain(layout),
        recording=recording,
        first=swept.first,
        last=swept.last,
        direction=swept.direction,
        found=said,
        measured=measured,
    )


def _plain(layout: Layout) -> dict[str, Any]:
    return layout.to_dict()


def _check_length(file: File, swept: SweepPart) -> None:
    if swept.last - swept.first > MOST_POINTS:
        raise BadInput(
            "measurement file",
            place=file.name,
            found=f"{swept.last - swept.first:,} rows in one sweep",
            expected=f"at most {MOST_POINTS} steady points in one sweep: average the log to one row a point",
        )


def notes_said(notes: Mapping[str, str], names: Mapping[str, Collection[str]]) -> dict[str, str]:
    """What the notes above a table say in the lab's own terms; settings in SI, dates as ISO.

    A name that the lab knows is written as the lab writes it; a rig that it doesn't know is not believed.
    """
    said: dict[str, str] = {}
    for key, text in notes.items():
        name = _WORDS.get(plain(key))
        if name is None or not text.strip():
            continue
        value = _value(name, text.strip(), names)
        if value:
            said.setdefault(name, value)
    return said


def _value(name: str, text: str, names: Mapping[str, Collection[str]]) -> str:
    if name in _SETTINGS:
        return _setting(name, text)
    if name == "measured":
        hit = _ISO.match(text)
        return "T".join(each for each in hit.groups() if each) if hit else ""
    known = {each.casefold(): each for each in names.get(name, ())}
    return known.get(text.casefold(), "" if name == "rig" else text)


def _setting(name: str, text: str) -> str:
    """A setting that a note tells, in SI, as text that gives the number back; "" where it tells none."""
    dimension, usual, _ = _SETTINGS[name]
    hit = _MEASURE.fullmatch(text)
    symbol = (hit.group(2) or usual) if hit else ""
    if hit is None or not is_unit(symbol) or unit(symbol).dimension != dimension:
        return ""
    return repr(float(hit.group(1).replace(",", ".")) * unit(symbol).factor)


def _settings(file: File, swept: SweepPart, said: Mapping[str, str], *, alone: bool) -> dict[str, str]:
    """What a file says of one sweep: the readings' own setting before a note's.

    Raises
    ------
    Contradiction : both tell a setting of the same kind, and not the same.
    """
    own = {_QUANTITY[name]: repr(float(value)) for name, value in swept.setting.items() if name in _QUANTITY}
    for name, value in own.items():
        if alone and name in said and not same_setting(name, value, said[name]):
            raise Contradiction(
                f"setting ({name})",
                place=file.name,
                found=f"{setting_words(name, said[name])} in a note and {setting_words(name, value)} read",
                expected=f"the same, or --as {name}=VALUE",
            )
    if own:
        return {name: value for name, value in said.items() if name not in _SETTINGS} | own
    return dict(said)


def same_setting(name: str, one: str, other: str) -> bool:
    """Whether two tellings of a setting (SI, as text) mean the same."""
    a, b = float(one), float(other)
    return abs(a - b) <= max(_SETTINGS[name][2], 0.0 if name == "duty" else RELATIVE * max(abs(a), abs(b)))


def setting_words(name: str, value: str) -> str:
    """A setting in words, from SI."""
    _, symbol, _ = _SETTINGS[name]
    blank = "" if symbol == "%" else " "
    return f"{float(value) / unit(symbol).factor:g}{blank}{symbol}"


def _moment(recording: Recording, first: int, note: str) -> str:
    """When a run began, as ISO: by its own time column, else by a note."""
    times: Sequence[str] = recording.texts.get("time", ())
    hit = _ISO.match(times[first]) if first < len(times) else None
    if hit:
        return "T".join(each for each in hit.groups() if each)
    return note
