"""The runs of a measurement file: its tables and their sweeps, with what the file itself says of each."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from stillroom.errors import BadInput, Contradiction
from stillroom.lab.intake.batch import File, Part
from stillroom.lab.intake.control_parts import control_parts
from stillroom.lab.intake.file_names import check_notes_agree, names_in_columns
from stillroom.lab.intake.heat_parts import heat_part
from stillroom.lab.intake.recordings import told_by_name
from stillroom.lab.intake.sound_parts import check_size, sound_found, sound_parts
from stillroom.lab.intake.told_settings import check_setting
from stillroom.readers.layout import Layout
from stillroom.readers.meaning.understanding import FileUnderstanding
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.reading.streaming import stream
from stillroom.readers.reading.sweeps import SweepPart, sweeps
from stillroom.readers.words.dates import is_clock, iso, order_of
from stillroom.readers.words.kinds import Kind
from stillroom.readers.words.settings import setting_of_note
from stillroom.vocabulary import plain, unit

MOST_POINTS = 300
"""Most points of one sweep: each is one steady observation, not one line of a logger."""

MOST_READINGS = 20_000
"""Most readings of one table: sixty long sweeps; more is a logger's file."""

LONG_LOG = 200_000
"""Size from which a file may hold so many [bytes]."""

NOTES: dict[str, tuple[str, ...]] = {
    "fan": ("fan", "fan name", "fan id", "lüfter", "ventilator", "ventilateur"),
    "sample": ("sample", "sample no", "sample id", "specimen", "muster", "prüfling", "échantillon"),
    "mounting": ("mounting", "mounting no", "mount", "einbau", "montage"),
    "obstacle": ("obstacle", "restriction", "widerstand", "obstacle name"),
    "rig": ("rig", "bench", "test rig", "prüfstand"),
    "date": ("date", "datum", "measured", "date time", "date and time", "start", "start time", "started"),
    "clock": ("time", "clock", "zeit", "uhrzeit", "heure"),
}
"""What a note above a table can say, by the words that exports use for it (compared by `plain`)."""

_WORDS = {plain(word): name for name, words in NOTES.items() for word in words}
_SETTINGS: dict[str, tuple[str, float]] = {
    "duty": ("%", 0.02),
    "volts": ("V", 0.25),
    "speed": ("rpm", 50 / 60),
}
"""{kind: (unit as it is shown, how far two tellings of one setting may lie apart [SI])}."""

SETTINGS_SHOWN = tuple(_SETTINGS)
"""The kinds of setting, in the order in which one is taken where several are told."""

_QUANTITY = {"duty": "duty", "voltage": "volts", "speed": "speed"}
_ISO = re.compile(r"(\d{4}-\d{2}-\d{2})(?:[T ](\d{2}:\d{2}(?::\d{2})?))?")
RELATIVE = 0.1
"""Two tellings of one setting may also lie so far apart, relative: a speed moves along a sweep [1]."""


def parts_of(
    file: File,
    seen: FileUnderstanding,
    names: Mapping[str, Collection[str]],
    by_hand: Collection[str] = (),
) -> tuple[Part, ...]:
    """The runs of a file, in its order.

    Parameters
    ----------
    file : the file. seen : what was understood of it. names : {"fan" or "rig": names that the lab knows}.
    by_hand : what is told by `--as`, whatever the file says ("fan", "sample", …).

    Raises
    ------
    StillroomError : a table that can't be read by its layout; a sweep of more than `MOST_POINTS` readings.
    Contradiction : a note and the readings tell two settings.
    """
    found: list[Part] = []
    for block in seen.blocks:
        if file.source.size > LONG_LOG and block.kind.is_airflow:
            _refuse_log(file, block.layout)
        recording = read(file.source, block.layout)
        notes = block.notes or recording.notes
        check_notes_agree(file, _told(notes), by_hand)
        said = notes_said(notes, names)
        date, unread = ("", "") if _tells_days(recording) else _date(file, notes, block.layout)
        if recording.kind.is_sound:
            check_size(file, recording)
            by_name = {} if recording.kind is Kind.SOUND_SHEET else told_by_name(file.name)
            for one in sound_parts(recording):
                own_said = sound_found(file, recording, one, said, names.get("fan", ()), by_hand)
                found.append(_part(recording, block.layout, one, by_name | said | own_said, date, unread))
            continue
        if recording.kind.is_heat:
            found.append(heat_part(file, recording, block.layout, said, date, unread))
            continue
        if recording.kind.is_control:
            for one in control_parts(file, recording):
                named = names_in_columns(file, recording, one, said, names.get("fan", ()), by_hand)
                found.append(_part(recording, block.layout, one, said | named, date, unread))
            continue
        swept = sweeps(recording)
        settings = [
            {_QUANTITY[name]: repr(float(value)) for name, value in each.setting.items()} for each in swept
        ]
        _check_notes(file, notes, settings)
        for each, own in zip(swept, settings, strict=True):
            _check_length(file, each)
            if "duty" in own:
                text = f"{100 * float(own['duty']):g}"
                check_setting(
                    "duty", float(own["duty"]), f"{file.name}, line {recording.lines[each.first]}", text
                )
            named = names_in_columns(file, recording, each, said, names.get("fan", ()), by_hand)
            found.append(_part(recording, block.layout, each, said | own | named, date, unread))
    if len(found) == 1:
        return tuple(found)
    return tuple(replace(each, number=number) for number, each in enumerate(found, start=1))


def _part(
    recording: Recording, layout: Layout, swept: SweepPart, found: dict[str, str], date: str, unread: str
) -> Part:
    return Part(
        number=None,
        kind=recording.kind,
        layout=layout.to_dict(),
        recording=recording,
        first=swept.first,
        last=swept.last,
        direction=swept.direction,
        found=found,
        measured=_moment(recording, swept.first, date),
        unread_date=unread,
    )


def _refuse_log(file: File, layout: Layout) -> None:
    """Refuse a logger's file at its first readings too many, however long it is."""
    count = 0
    for part in stream(file.source, layout):
        count += len(part)
        if count > MOST_READINGS:
            raise BadInput(
                "measurement file",
                place=file.name,
                found=f"more than {MOST_READINGS:,} readings in one table",
                expected=f"at most {MOST_POINTS} steady points in one sweep: average the log to one row a point",
            )


def _check_length(file: File, swept: SweepPart) -> None:
    if swept.last - swept.first > MOST_POINTS:
        raise BadInput(
            "measurement file",
            place=file.name,
            found=f"{swept.last - swept.first:,} rows in one sweep",
            expected=f"at most {MOST_POINTS} steady points in one sweep: average the log to one row a point",
        )


def _check_notes(file: File, notes: Mapping[str, str], settings: Sequence[Mapping[str, str]]) -> None:
    """Refuse a note that tells another setting than the readings of every sweep, of the same kind."""
    for key, text in notes.items():
        for quantity, value in setting_of_note(key, text).items():
            name, said = _QUANTITY[quantity], repr(value)
            check_setting(name, value, f"the note {key!r} of {file.name}", text)
            own = next((each for each in settings if name in each), {})
            if own and not any(same_setting(name, said, each[name]) for each in settings if name in each):
                raise Contradiction(
                    f"setting ({name})",
                    place=file.name,
                    found=f"{setting_words(name, said)} in the note {key!r}, {setting_words(name, own[name])} read",
                    expected="the same: another note, or a column that is left out by --as 'column:HEADER=none'",
                )


def _told(notes: Mapping[str, str]) -> dict[str, list[tuple[str, str]]]:
    """The notes that tell something, by what they tell."""
    told: dict[str, list[tuple[str, str]]] = {}
    for key, text in notes.items():
        if (name := _WORDS.get(plain(key), "")) and text.strip():
            told.setdefault(name, []).append((key, text))
    return told


def notes_said(notes: Mapping[str, str], names: Mapping[str, Collection[str]]) -> dict[str, str]:
    """What the notes above a table say of fan, sample, mounting, obstacle and rig.

    A name that the lab knows is written as the lab writes it; a rig that it doesn't know is not believed.
    """
    said: dict[str, str] = {}
    for key, text in notes.items():
        name, value = _WORDS.get(plain(key), ""), text.strip()
        if not value or name in {"", "date", "clock"}:
            continue
        known = {each.casefold(): each for each in names.get(name, ())}
        value = known.get(value.casefold(), "" if name == "rig" else value)
        if value:
            said.setdefault(name, value)
    return said


def fan_written(part: Part) -> str:
    """The fan of a run as its file writes it, whatever the lab's own writing; "" where the file doesn't tell it."""
    in_column = part.recording.texts.get("fan", ())[part.first : part.last]
    in_notes = (text.strip() for key, text in part.recording.notes.items() if _WORDS.get(plain(key)) == "fan")
    written = next((each for each in (*in_notes, *in_column) if each), "")
    return written if written.casefold() == part.found.get("fan", "").casefold() else ""


def _date(file: File, notes: Mapping[str, str], layout: Layout) -> tuple[str, str]:
    """The date, or date and time, that the notes tell, as ISO, "" where none does; and the text of one that is no
    date, or "".

    Raises
    ------
    BadInput : the date can be read in two ways, and nobody told which.
    """
    told: dict[str, tuple[str, str]] = {}
    for key, text in notes.items():
        name = _WORDS.get(plain(key), "")
        if name in {"date", "clock"} and text.strip():
            told.setdefault(name, (key, text.strip()))
    clock = told.get("clock", ("", ""))[1]
    key, text = told.get("date") or (("", "") if is_clock(clock) else told.get("clock", ("", "")))
    date = _iso(file, key, text, layout) if text else ""
    if len(date) == len("2026-05-04") and is_clock(clock):
        date = f"{date}T{clock}"
    return date, "" if date else text


def _iso(file: File, key: str, text: str, layout: Layout) -> str:
    """A date as ISO, "" where the text is none; raises as `_date`."""
    order = order_of([text], file.name, f"date in the note {key!r}", layout.date_order)
    try:
        found = _ISO.match(iso(text, order))
    except ValueError:  # 31/02/2026
        return ""
    return "T".join(each for each in found.groups() if each) if found else ""


def _tells_days(recording: Recording) -> bool:
    """Whether the readings tell their own day."""
    return any(_ISO.match(each.strip()) for each in recording.texts.get("time", ())[:1])


def _moment(recording: Recording, first: int, date: str) -> str:
    """When a run began, as ISO: by its own time column, with the date of a note where that has none."""
    times: Sequence[str] = recording.texts.get("time", ())
    text = times[first].strip() if first < len(times) else ""
    if hit := _ISO.match(text):
        return "T".join(each for each in hit.groups() if each)
    return f"{date[:10]}T{text}" if date and is_clock(text) else date


def same_setting(name: str, one: str, other: str) -> bool:
    """Whether two tellings of a setting (SI, as text) mean the same."""
    a, b = float(one), float(other)
    return abs(a - b) <= max(_SETTINGS[name][1], 0.0 if name == "duty" else RELATIVE * max(abs(a), abs(b)))


def setting_words(name: str, value: str) -> str:
    """A setting in words, from SI."""
    symbol = _SETTINGS[name][0]
    blank = "" if symbol == "%" else " "
    return f"{float(value) / unit(symbol).factor:g}{blank}{symbol}"
