"""What nobody tells of runs that are brought in: marks, not demands; and rows of a run table for no run."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any

from stillroom import wording
from stillroom.errors import Contradiction, StillroomError, UnknownThing
from stillroom.lab.book import SETTINGS, by_path, row_for
from stillroom.lab.intake.batch import Measured, Part
from stillroom.lab.intake.parts import same_setting, setting_words
from stillroom.lab.intake.recordings import differ_in_kind, differ_in_level, is_dwell, recorded_of
from stillroom.lab.intake.told_sound import sound_words
from stillroom.readers.reading.noted_air import noted_air
from stillroom.readers.source import shown
from stillroom.readers.words.headers import split_header, squeeze
from stillroom.readers.words.recordings import recorded_in
from stillroom.records.acts import Run, Taken
from stillroom.vocabulary import is_unit, unit


def marks(
    measured: Sequence[Measured], said: Mapping[str, Mapping[str, str]], rows: Mapping[str, list[Run]]
) -> tuple[str, ...]:
    """What has to be said of new runs whose setting nobody tells (neither table, name, `--as` nor the file), and of
    files whose day can't be read.

    Parameters
    ----------
    measured : the files. said : what names and `--as` say of each. rows : the run table's, as by `by_path`.
    """
    untold = [
        each.file.name if part.number is None else f"{each.file.name}, part {part.number}"
        for each in measured
        if not each.is_obstacle
        for part in each.parts
        if _wants_setting(
            each, part, said.get(each.file.name, {}), row_for(each.file.name, rows, part.number)
        )
    ]
    said_of = [
        f"no setting is told for {wording.listed(untold, most=3)}:"
        " full setting can't be known from it (tell it with --as duty=, volts= or speed=, or a run table)"
    ] if untold else []  # fmt: skip
    return (*said_of, *_unread_dates(measured), *_unused_air(measured), *_unnamed_probes(measured))


def _unnamed_probes(measured: Sequence[Measured]) -> Iterator[str]:
    """Logs with temperatures of which nobody tells what they are, files of the same columns once."""
    seen: dict[tuple[str, ...], list[str]] = {}
    for each in measured:
        for part in each.parts if each.is_heat and not (each.layout or each.asked) else ():
            left = tuple(
                column["header"]
                for column in part.layout["columns"]
                if not (column["quantity"] or column["left"])
                and _is_probe(column)
                and not each.unread
                & {squeeze(column["header"]), squeeze(split_header(column["header"]).name)}
            )
            if left:
                seen.setdefault(left, []).append(each.file.name)
    for headers, files in seen.items():
        more = f" and {len(files) - 1} more" if len(files) > 1 else ""
        words = [shown(each) for each in headers]
        yield (
            f"{files[0]}{more}: left out, for nobody tells what it measures: {wording.listed(words, most=4)}"
            f" (tell it with --as 'column:{words[0]}=hot_temperature', or air_in_temperature and so on; or =none)"
        )


def _is_probe(column: Mapping[str, Any]) -> bool:
    stated = split_header(column["header"]).unit or column["stated"]
    return is_unit(stated) and unit(stated).dimension == "temperature"


def _unused_air(measured: Sequence[Measured]) -> Iterator[str]:
    """Notes that tell something of the air and aren't used, each once with the first file that has it."""
    files: dict[str, str] = {}
    for each in measured:
        for part in each.parts:
            for air in noted_air(part.recording.notes, part.recording.headers):
                if air.value is None:
                    files.setdefault(air.words, each.file.name)
    yield from (f"{file}: {words}" for words, file in files.items())


def _unread_dates(measured: Sequence[Measured]) -> Iterator[str]:
    """Files with a note that should tell their day, and doesn't."""
    unread = {
        each.file.name: part.unread_date for each in measured for part in each.parts if part.unread_date
    }
    if unread:
        file, text = next(iter(unread.items()))
        more = f" and {len(unread) - 1} more" if len(unread) > 1 else ""
        yield f"{text!r} in {file}{more} is no date: the day of arrival stands in for the day of measurement"


def _wants_setting(each: Measured, part: Part, said: Mapping[str, str], row: Run | None) -> bool:
    """Whether a run lacks a setting that somebody should tell: of sound only a recorded dwell does, and no test of the
    control, which has settings of its own.
    """
    if part.kind.is_control:
        return False
    if each.is_heat or each.is_control:
        return False  # their own columns tell it, as it changes
    if each.is_sound and (not part.audio or not is_dwell(recorded_of(said, part.found, row))):
        return False
    return not _has_setting(row, said, part.found)


def _has_setting(row: Run | None, said: Mapping[str, str], found: Mapping[str, str]) -> bool:
    by_row = row is not None and any(getattr(row, name) is not None for name in SETTINGS)
    by_name = any(name in said for name in SETTINGS)
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


def rows_for_two_files(
    measured: Sequence[Measured], rows: Mapping[str, list[Run]]
) -> Iterator[tuple[str, StillroomError]]:
    """The files for which a row of the run table speaks that fits another file just as well, with what is wrong.

    A row without folders ("x.csv") speaks of the file of that name; of two in several folders it is one too many.
    """
    spoken: dict[str, list[str]] = {}
    for each in measured if rows else ():
        row = row_for(each.file.name, rows, None) or row_for(each.file.name, rows, 1)
        if row is not None:
            spoken.setdefault(row.file, []).append(each.file.name)
    for path, names in spoken.items():
        for name in names if len(set(names)) > 1 else ():
            other = next(one for one in names if one != name)
            yield (
                name,
                Contradiction(
                    "run table",
                    place=name,
                    found=f"a row for {path!r}, which also fits {other}",
                    expected="the path with its folders in the run table",
                ),
            )


def unknown_microphones(
    measured: Sequence[Measured],
    said: Mapping[str, Mapping[str, str]],
    rows: Mapping[str, list[Run]],
    by_as: Mapping[str, str],
    instruments: Collection[str],
) -> Iterator[tuple[str, StillroomError]]:
    """The files of sound for which a microphone is told that is no instrument of the lab, with what is wrong."""
    for each in measured:
        row = row_for(each.file.name, rows, None) or row_for(each.file.name, rows, 1)
        by_row = row.microphone if row else None
        told = by_row or said.get(each.file.name, by_as).get("microphone") or ""
        if each.is_sound and told and told not in instruments:
            known = ", ".join(sorted(instruments)) or "none is known yet"
            yield (
                each.file.name,
                UnknownThing(
                    "microphone",
                    place=each.file.name,
                    found=repr(told),
                    expected=f"an instrument of a file of rigs: {known}",
                ),
            )


def against_rows(
    measured: Sequence[Measured], rows: Mapping[str, list[Run]], by_as: Mapping[str, str]
) -> Iterator[str]:
    """What has to be said where a row of the run table, which comes first, and the file or `--as` tell otherwise.

    Parameters
    ----------
    measured : the files. rows : the run table's, as by `by_path`. by_as : what `--as` says of every file.
    """
    for each in measured if rows else ():
        for part in each.parts:
            row = row_for(each.file.name, rows, part.number)
            if row is None:
                continue
            name = each.file.name if part.number is None else f"{each.file.name}, part {part.number}"
            yield from (f"{name}: {words}" for words in _against_told(row, by_as))
            if part.audio:
                yield from (f"{name}: {words}" for words in _against_name(row, part.found))
            for kind in SETTINGS:
                told, found = getattr(row, kind), part.found.get(kind)
                if told is not None and found is not None and not same_setting(kind, repr(told), found):
                    words = setting_words(kind, repr(told)), setting_words(kind, found)
                    yield f"{name}: {words[0]} by the run table, which counts; {words[1]} in the file"
            fan = part.found.get("fan", "")
            if row.fan and fan and row.fan.casefold() != fan.casefold():
                yield f"{name}: fan {row.fan} by the run table, which counts; {fan} in the file"


_NAMED = (
    "fan",
    "sample",
    "mounting",
    "obstacle",
    "rig",
    "recording",
    "microphone",
    "session",
    "logger",
    "what",
)


def _against_told(row: Run, told: Mapping[str, str]) -> Iterator[str]:
    """What a row says otherwise than `--as`."""
    for key in _NAMED:
        by_row = getattr(row, key) or ""
        if by_row and key in told and by_row.casefold() != told[key].casefold():
            yield f"{key} {by_row} by the run table, which counts; {told[key]} by --as"
    for key in SETTINGS:
        value = getattr(row, key)
        if value is not None and key in told and not same_setting(key, repr(value), told[key]):
            words = setting_words(key, repr(value)), setting_words(key, told[key])
            yield f"{words[0]} by the run table, which counts; {words[1]} by --as"


def rows_against_names(
    new: Iterable[Run], standing: Mapping[str, Run], taken: Iterable[Taken]
) -> Iterator[str]:
    """The same of recordings that the lab has, where a run table that comes in now says otherwise than their names.

    Parameters
    ----------
    new : rows that come in. standing : those that the lab has, by name. taken : the lab's runs.
    """
    rows = by_path(each for each in new if standing.get(each.name) != each)
    for each in taken if rows else ():
        row = row_for(each.file, rows, each.part)
        if row is not None and "audio" in each.layout:
            yield from (f"{each.file}: {words}" for words in _against_name(row, each.found or {}))


def _against_name(row: Run, found: Mapping[str, str]) -> Iterator[str]:
    """What a row says of a recording otherwise than its name: what was recorded, the calibrator's level."""
    by_row, by_name = recorded_in(row.recording or ""), found.get("recording", "")
    if by_row and by_name and differ_in_kind(by_row.value, by_name):
        yield f"{by_row.value} by the run table, which counts; its name says {by_name}"
    level = found.get("calibrator")
    if level and row.calibrator is not None and differ_in_level(repr(row.calibrator), level):
        words = sound_words("calibrator", repr(row.calibrator)), sound_words("calibrator", level)
        yield f"calibrator {words[0]} by the run table, which counts; its name says {words[1]}"


def passed_over(measured: Sequence[Measured]) -> Iterator[str]:
    """What of the files was passed over: sheets, and tables that are no measurement's."""
    for each in measured:
        for words in each.seen.passed_over if each.seen else ():
            yield f"passed over in {each.file.name}: {words}"
