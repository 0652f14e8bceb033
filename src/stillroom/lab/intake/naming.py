"""What folder and file names say of a measurement: a pattern, shown and confirmed once."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import Any

from stillroom.errors import BadInput, Contradiction, StillroomError
from stillroom.lab.book import BATH, SETTINGS, Book, by_path, fans_known
from stillroom.lab.intake.batch import Ask, Measured
from stillroom.lab.intake.layouts import REMEMBERED
from stillroom.lab.intake.name_signs import other_fan_in, settings_in
from stillroom.lab.intake.parts import fan_written, same_setting
from stillroom.lab.intake.patterns import NamesRead, PatternsOfLab, in_si
from stillroom.lab.intake.patterns import shown as shown_as
from stillroom.lab.intake.recording_names import read_recordings
from stillroom.lab.intake.recordings import against_own_name, is_of_fan, recorded_of
from stillroom.lab.intake.row_words import RowsTold, tells
from stillroom.lab.intake.told_heat import FIELDS as HEAT_FIELDS
from stillroom.lab.intake.told_sound import FIELDS as SOUND_FIELDS
from stillroom.lab.purposes import Purpose, rigs_for
from stillroom.lab.versions import is_free_air
from stillroom.readers.meaning.overrides import GRID_KEYS, is_layout_key
from stillroom.readers.registers.accuracy import parse_accuracy
from stillroom.readers.words.kinds import Kind
from stillroom.records.acts import Run
from stillroom.records.bench import Rig
from stillroom.records.products import Fan

FIELDS = tuple(
    dict.fromkeys(("fan", "sample", "mounting", "obstacle", *SETTINGS, "rig", *SOUND_FIELDS, *HEAT_FIELDS))
)
OBSTACLE = "obstacle"


@dataclass(frozen=True)
class Naming:
    """What the names of files say.

    Parameters
    ----------
    said : {file: {field: text}}; settings in SI. words : what the first name means, or "".
    remember : what was confirmed now and is to be kept, {"names": patterns, "accuracy": text}.
    marks : what nobody told. told : what `--as` says of every file. bad : {file: why its name is refused}.
    """

    said: dict[str, dict[str, str]] = field(default_factory=dict)
    words: str = ""
    remember: dict[str, str] = field(default_factory=dict)
    marks: tuple[str, ...] = ()
    told: Mapping[str, str] = field(default_factory=dict)
    bad: Mapping[str, StillroomError] = field(default_factory=dict)


def name_files(
    book: Book,
    records: Sequence[Any],
    files: Sequence[Measured],
    told: Mapping[str, str],
    ask: Ask | None,
    *,
    like: Mapping[str, str] | None = None,
    extra: Mapping[str, str] | None = None,
    shown: bool = False,
) -> Naming:
    """What is said of each file that no row of the run table speaks of.

    Parameters
    ----------
    book : the lab. records : what is being brought in with the files. files : the files to name.
    told : what was told by `--as`. ask : how to ask, or None.
    like : what is taken from the last run where neither names nor `--as` tell. extra : what is said of all
    files besides. shown : only to be shown.

    Raises
    ------
    BadInput : the names can't be understood, or were understood but nobody confirmed it.
    """
    _check_keys(told)
    fixed = _fixed(told) | dict(extra or {})
    rows = dict(book.runs) | {each.name: each for each in records if isinstance(each, Run)}
    table = RowsTold(by_path(rows.values()))
    alone = [each for each in files if not table.speak_of(each)]
    answers = _accuracy(book, records, fixed, ask, any_alone=any(each.is_airflow for each in alone))
    shared = _Shared(book, records, dict(like or {}) | answers.said, fixed)
    said = {each.file.name: shared.of(each) if each in alone else shared.fixed_of(each) for each in files}
    for each in files:
        said[each.file.name] |= _obstacle_name(each, said[each.file.name]) if each.is_obstacle else {}
    fans = [each for each in files if not each.is_obstacle]
    patterns = PatternsOfLab(book, told.get("names", ""), fixed, ask, shown)
    read = _names_read(patterns, fans, fixed, dict(like or {}), table)
    known_fans = _fans_told(book, records, fans, read.said)
    for each in fans:
        if (by_pattern := read.said.get(each.file.name)) is not None:
            own = _but_title(each, by_pattern, known_fans)
            said[each.file.name] |= own | shared.fixed_of(each)
    known, as_known = _as_the_lab_writes(book, records, fans, said)
    return Naming(
        said,
        read.words,
        answers.remember | ({"names": read.remember} if read.remember else {}),
        (*answers.marks, *as_known),
        fixed | ({"names": told["names"]} if "names" in told else {}),
        read.bad | _contradictions(fans, said, fixed, read.bad, known, table),
    )


@dataclass(frozen=True)
class _Shared:
    """What is said of every file of a kind: its rig where there is only one, what was told, what is remembered."""

    book: Book
    records: Sequence[Any]
    remembered: Mapping[str, str]
    fixed: Mapping[str, str]

    def of(self, each: Measured) -> dict[str, str]:
        """What is said of one file, whatever its name."""
        rigs = [*self.book.rigs.values(), *(one for one in self.records if isinstance(one, Rig))]
        fitting = _rigs_of(each, rigs)
        remembered = dict(self.remembered)
        foreign = {one.rig for one in rigs} - fitting
        told = remembered.get("rig", "")
        if told and (told in foreign or (each.is_sound and told not in fitting)):
            remembered = {key: value for key, value in remembered.items() if key not in {"rig", "mounting"}}
        rig = {"rig": next(iter(fitting))} if len(fitting) == 1 else {}
        return rig | remembered | self.fixed_of(each)

    def fixed_of(self, each: Measured) -> dict[str, str]:
        """What `--as` says of a file: what only sound, or only heat, has is said of no other."""
        own = {*(SOUND_FIELDS if each.is_sound else ()), *(HEAT_FIELDS if each.is_heat else ())}
        foreign = {*SOUND_FIELDS, *HEAT_FIELDS} - own
        return {key: value for key, value in self.fixed.items() if key not in foreign}


def _rigs_of(each: Measured, rigs: Sequence[Rig]) -> set[str]:
    """The rigs from which a file may come."""
    if each.is_sound:
        return rigs_for(Purpose.SOUND, rigs)
    if each.is_heat:
        return rigs_for(Purpose.HEAT, rigs)
    own = rigs_for(Purpose.CONTROL, rigs) if each.is_control else set()
    return own or rigs_for(Purpose.AIRFLOW, rigs)


def _names_read(
    patterns: PatternsOfLab,
    files: Sequence[Measured],
    fixed: Mapping[str, str],
    like: Mapping[str, str],
    table: RowsTold,
) -> NamesRead:
    """What names say: first those that tell a setting, then those that tell what else was recorded."""
    others = [each for each in files if each.is_sound and any("recording" in own for own in each.found)]
    plain = [each for each in files if each not in others]
    silent = "fan" in fixed
    needs = [
        each
        for each in files
        if not (silent or "fan" in like or _tells_fan(each) or table.speak_of(each))
        and _runs_fan(each, fixed)
    ]

    def names(several: Iterable[Measured]) -> list[str]:
        return [each.file.name for each in several]

    read = patterns.read(
        [] if silent else names(plain), [name for name in names(needs) if name in names(plain)]
    )
    if silent or not others:
        return read
    return read_recordings(
        patterns, read, names(others), [name for name in names(needs) if name in names(others)]
    )


def _fans_told(
    book: Book, records: Sequence[Any], files: Sequence[Measured], read: Mapping[str, Mapping[str, str]]
) -> set[str]:
    """The fans, without case, that the lab has, that files tell, and that names tell where nothing else does."""
    told = set(fans_known(book)) | {each.fan.casefold() for each in records if isinstance(each, Fan)}
    told |= {each.fan.casefold() for each in records if isinstance(each, Run) and each.fan}
    told |= {own["fan"].casefold() for each in files for own in each.found if own.get("fan")}
    alone = [each for each in files if not _tells_fan(each) and each.runs_fan]
    return told | {read[each.file.name].get("fan", "").casefold() for each in alone if each.file.name in read}


def _but_title(each: Measured, by_pattern: Mapping[str, str], known: Collection[str]) -> dict[str, str]:
    """What a pattern reads in the name of a file, without a "fan" that is only the title of a sheet of fans."""
    fans = {own.get("fan", "") for own in each.found}
    is_sheet = "" not in fans and (len(fans) > 1 or each.kinds == {Kind.SOUND_SHEET.value})
    is_title = (is_sheet or not each.runs_fan) and by_pattern.get("fan", "").casefold() not in known
    return {key: value for key, value in by_pattern.items() if not (is_title and key == "fan")}


def _runs_fan(each: Measured, fixed: Mapping[str, str]) -> bool:
    """Whether a fan runs in a file: not in a recording of the calibrator or the background."""
    if not each.runs_fan or (each.is_heat and ("session" in fixed or fixed.get("what") == BATH)):
        return False
    return not each.is_sound or any(is_of_fan(recorded_of(fixed, own, None)) for own in each.found)


def _as_the_lab_writes(
    book: Book, records: Sequence[Any], files: Sequence[Measured], said: Mapping[str, dict[str, str]]
) -> tuple[list[str], list[str]]:
    """Write each fan as the lab knows it: a name that differs only in case is no new fan.

    Returns
    -------
    The names of all fans, and marks for those that were told otherwise.
    """
    own = {each.fan for each in records if isinstance(each, Fan)}
    known = fans_known(book) | {each.casefold(): each for each in own}
    exact = own | set(book.fans)
    others: dict[str, str] = {}

    def written(name: str) -> str:
        first = name if name in exact else known.setdefault(name.casefold(), name)
        if name != first:
            others.setdefault(name, first)
        return first

    for each in records:
        if isinstance(each, Run) and each.fan:
            written(each.fan)
    for measured in files:
        for part in measured.parts:
            if fan := fan_written(part):
                written(fan)
    for told in said.values():
        if "fan" in told:
            told["fan"] = written(told["fan"])
    marks = [
        f"fan {name} is taken for {first}, which the lab has: the names differ only in case"
        for name, first in others.items()
    ]
    return list(known.values()), marks


def _tells_fan(each: Measured) -> bool:
    """Whether the fan is known without the name: the file itself tells it, or it was told before."""
    before = [(one.said or {}).get("fan") for one in each.before]
    return all(found.get("fan") for found in each.found) or (bool(before) and all(before))


def _contradictions(
    files: Sequence[Measured],
    said: Mapping[str, Mapping[str, str]],
    fixed: Mapping[str, str],
    bad: Mapping[str, StillroomError],
    known: Collection[str],
    table: RowsTold,
) -> dict[str, StillroomError]:
    """What a file's name says and the file itself says otherwise; what a row or `--as` says comes before both.

    What was recorded, and at which level of the calibrator, `--as` can't say otherwise than a recording's own name.
    """
    found: dict[str, StillroomError] = {}
    for each in files:
        name = each.file.name
        rows = table.of(each)
        away = {} if all(rows) else _given_away(each, said[name], known)
        told = {**away, **said[name], **fixed}
        for number, (own, row) in enumerate(zip(each.found, rows, strict=True), start=1):
            if each.is_recording and (why := against_own_name(name, fixed, own, row)):
                found.setdefault(name, why)
            for key in ("fan", "sample", "obstacle", *SETTINGS):
                by_name = told.get(key, "")
                if key in fixed or tells(row, key) or not by_name or key not in own:
                    continue
                if _same(key, by_name, own[key]):
                    continue
                part = f", part {number}" if len(each.found) > 1 else ""
                found.setdefault(
                    name,
                    Contradiction(
                        key,
                        place=f"{name}{part}",
                        found=f"{shown_as(key, by_name)} in its name and {shown_as(key, own[key])} in the file",
                        expected=f"the same, or --as {key}=VALUE, or a row of a run table",
                    ),
                )
    return {name: error for name, error in found.items() if name not in bad}


def _given_away(each: Measured, said: Mapping[str, str], known: Collection[str]) -> dict[str, str]:
    """What a name gives away that no pattern reads; of several runs one at least has to be as it says."""
    name = each.file.name
    away = {
        key: value
        for key, value in settings_in(name).items()
        if not any(key in own and _same(key, value, own[key]) for own in each.found)
    }
    fans = {own.get("fan", "") for own in each.found}
    if "fan" not in said and len(fans) == 1 and (own_fan := fans.pop()):
        other = other_fan_in(name, own_fan, known)
        away |= {"fan": other} if other else {}
    return away


def _same(key: str, one: str, other: str) -> bool:
    if key in SETTINGS:
        return same_setting(key, one, other)
    if key == OBSTACLE and is_free_air(one, {}) and is_free_air(other, {}):
        return True
    a, b = (
        each.casefold().removeprefix("s") if key == "sample" else each.casefold() for each in (one, other)
    )
    return a == b


def _check_keys(told: Mapping[str, str]) -> None:
    """Refuse a key of `--as` that means nothing.

    Raises
    ------
    BadInput : names it, and the keys that there are.
    """
    for key in told:
        if key not in (*FIELDS, "names", "accuracy") and not is_layout_key(key):
            known = ", ".join((*FIELDS, "names", "accuracy", "unit:HEADER", "column:HEADER", *GRID_KEYS))
            raise BadInput("--as", found=repr(key), expected=f"one of {known}")


def _fixed(told: Mapping[str, str]) -> dict[str, str]:
    """What `--as` tells of every file: settings in SI, the accuracy as numbers."""
    for name in FIELDS:
        if name in told and not (told[name].strip() and told[name].isprintable()):
            raise BadInput(f"--as {name}", found=repr(told[name]), expected="a name or a number that shows")
    fixed = in_si({name: told[name].strip() for name in FIELDS if name in told}, "--as")
    return fixed | (_accuracy_said(told["accuracy"]) if "accuracy" in told else {})


def _accuracy_said(text: str) -> dict[str, str]:
    accuracy = parse_accuracy(text, place="--as accuracy")
    return {"accuracy_relative": repr(accuracy.relative), "accuracy_absolute": repr(accuracy.fixed)}


def _obstacle_name(each: Measured, told: Mapping[str, str]) -> dict[str, str]:
    if OBSTACLE in told or all(OBSTACLE in found for found in each.found):
        return {}
    return {OBSTACLE: PurePosixPath(each.file.name).stem}


@dataclass(frozen=True)
class _Answered:
    """What is known of the bench's accuracy: as it is said of files, as it is remembered, and a mark."""

    said: dict[str, str] = field(default_factory=dict)
    remember: dict[str, str] = field(default_factory=dict)
    marks: tuple[str, ...] = ()


_UNTOLD = (
    "how accurate is the bench? Nobody told: ± 5 % of reading is assumed"
    " (tell it with --as 'accuracy=± 3 % of reading', or a rigs file)"
)


def _accuracy(
    book: Book, records: Sequence[Any], fixed: Mapping[str, str], ask: Ask | None, *, any_alone: bool
) -> _Answered:
    """The accuracy of a bench without instruments: as remembered, asked once at a terminal, or marked."""
    rigs = bool(book.rigs) or any(each.kind == Rig.kind for each in records)
    if not any_alone or rigs or "accuracy_relative" in fixed:
        return _Answered()
    saved = book.layouts.get(REMEMBERED)
    known = saved.reading.get("accuracy", "") if saved else ""
    if known:
        return _Answered(_accuracy_said(known))
    if ask is not None:
        answer = ask(
            "How accurate is the bench? (such as ± 3 % of reading; empty if that isn't known)"
        ).strip()
        if answer:
            return _Answered(_accuracy_said(answer), {"accuracy": answer})
    return _Answered(marks=(_UNTOLD,))
