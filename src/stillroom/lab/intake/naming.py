"""What folder and file names say of a measurement: a pattern, shown and confirmed once."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import Any

from stillroom.errors import BadInput, Contradiction, StillroomError
from stillroom.lab.book import SETTINGS, Book, by_path, row_for
from stillroom.lab.eras.rigs_by_date import rig_names
from stillroom.lab.intake.batch import Ask, Measured, agreed
from stillroom.lab.intake.layouts import REMEMBERED
from stillroom.lab.intake.name_signs import other_fan_in, settings_in
from stillroom.lab.intake.parts import same_setting, setting_words
from stillroom.lab.intake.told_settings import setting_in_si
from stillroom.lab.versions import is_free_air, names_of
from stillroom.readers.meaning.overrides import GRID_KEYS, is_layout_key
from stillroom.readers.paths.inference import infer_pattern
from stillroom.readers.paths.names import Pattern
from stillroom.readers.registers.accuracy import parse_accuracy
from stillroom.records.acts import Run
from stillroom.records.bench import Rig

FIELDS = ("fan", "sample", "mounting", "obstacle", *SETTINGS, "rig")
OBSTACLE = "obstacle"


@dataclass(frozen=True)
class Naming:
    """What the names of files say.

    Parameters
    ----------
    said : {file: {field: text}}; settings in SI. pattern : the pattern used, or "". words : it, in words.
    remember : what was confirmed now and is to be kept, {"names": pattern, "accuracy": text}.
    marks : what nobody told. told : what `--as` says of every file. bad : {file: why its name is refused}.
    """

    said: dict[str, dict[str, str]] = field(default_factory=dict)
    pattern: str = ""
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
    by_name = by_path(rows.values())
    alone = [each for each in files if not _in_table(each, by_name)]
    answers = _accuracy(book, records, fixed, ask, any_alone=bool(alone))
    shared = _only_rig(book, records) | dict(like or {}) | answers.said | fixed
    said = {each.file.name: shared | _obstacle_name(each, shared) for each in alone if each.is_obstacle}
    fans = [each for each in alone if not each.is_obstacle]
    said |= {each.file.name: dict(shared) for each in fans}
    speaking = [] if "fan" in fixed else [each.file.name for each in fans]
    needing = [] if "fan" in shared else [each.file.name for each in fans if not _tells_fan(each)]
    pattern, words, confirmed = _pattern(book, needing, told, fixed, ask, shown=shown)
    named = _Named(pattern, shared, fixed) if pattern else None
    bad: dict[str, StillroomError] = {}
    for name in speaking if named else ():
        try:
            said[name] = named.said(name, needed=name in needing)  # type: ignore[union-attr]
        except StillroomError as error:
            bad[name] = error
    known = fans_known(book, [found for each in fans for found in each.found])
    for each in said.values():
        if "fan" in each:
            each["fan"] = known.get(each["fan"].casefold(), each["fan"])
    if named and not words and needing:
        words = named.words(next((name for name in needing if name not in bad), ""))
    bad |= _contradictions(fans, said, fixed, bad, known.values())
    return Naming(
        said,
        pattern.text if pattern else "",
        words,
        answers.remember | ({"names": pattern.text} if pattern and confirmed else {}),
        answers.marks,
        fixed | ({"names": told["names"]} if "names" in told else {}),
        bad,
    )


def fans_known(book: Book, found: Sequence[Mapping[str, str]] = ()) -> dict[str, str]:
    """{a fan's name without case: as the lab writes it}; a fan's record comes first, then what came in first.

    Parameters
    ----------
    found : what files that are being brought in say themselves.
    """
    said = [each for one in book.taken.values() for each in (one.said or {}, one.found or {})]
    names = [*book.fans, *(each.fan or "" for each in book.runs.values())]
    names += [each.get("fan", "") for each in (*said, *found)]
    known: dict[str, str] = {}
    for name in names:
        if name:
            known.setdefault(name.casefold(), name)
    return known


class _Named:
    """The pattern at work: what the names say, with what is told of all files."""

    def __init__(self, pattern: Pattern, shared: Mapping[str, str], fixed: Mapping[str, str]) -> None:
        self.pattern, self.shared, self.fixed = pattern, shared, fixed

    def said(self, name: str, *, needed: bool) -> dict[str, str]:
        """What is said of a file; a name that doesn't fit says nothing where nothing is needed of it."""
        try:
            matched = _in_si(self.pattern.match(_tail(name, self.pattern)), name)
        except StillroomError:
            if needed:
                raise
            matched = {}
        return {**self.shared, **matched, **self.fixed}

    def words(self, name: str) -> str:
        """What the first name means, for showing."""
        return _words(self.pattern, name, self.said(name, needed=True)) if name else ""


def _pattern(
    book: Book,
    needing: Sequence[str],
    told: Mapping[str, str],
    fixed: Mapping[str, str],
    ask: Ask | None,
    *,
    shown: bool,
) -> tuple[Pattern | None, str, bool]:
    """The pattern of the names, in words, and whether it was confirmed now and is to be remembered."""
    remembered = _remembered(book, "names")
    known = told.get("names") or remembered
    if known:
        return Pattern(known), "", known != remembered
    if not needing:
        return None, "", False
    pattern = _inferred(book, needing, fixed)
    words = _words(pattern, needing[0], _in_si(pattern.match(_tail(needing[0], pattern)), needing[0]))
    if not shown and not agreed(ask, f"{words}. Is that right?"):
        raise BadInput(
            "names of the files",
            place=needing[0],
            found=f"{words}, which nobody has confirmed",
            expected=f"--as 'names={pattern.text}', another pattern, or a run table",
        )
    return pattern, words, not shown


def _in_table(each: Measured, rows: Mapping[str, list[Run]]) -> bool:
    """Whether the run table speaks of every run of a file."""
    numbers: list[int | None] = [None] if len(each.found) == 1 else [*range(1, len(each.found) + 1)]
    return all(row_for(each.file.name, rows, number) is not None for number in numbers)


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
) -> dict[str, StillroomError]:
    """What a file's name says and the file itself says otherwise; what `--as` says comes before both."""
    found: dict[str, StillroomError] = {}
    for each in files:
        name = each.file.name
        told = {**_given_away(each, said[name], known), **said[name], **fixed}
        for number, own in enumerate(each.found, start=1):
            for key in ("fan", "sample", "obstacle", *SETTINGS):
                by_name = told.get(key, "")
                if key in fixed or not by_name or key not in own or _same(key, by_name, own[key]):
                    continue
                part = f", part {number}" if len(each.found) > 1 else ""
                found.setdefault(
                    name,
                    Contradiction(
                        key,
                        place=f"{name}{part}",
                        found=f"{_shown(key, by_name)} in its name and {_shown(key, own[key])} in the file",
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


def _only_rig(book: Book, records: Sequence[Any]) -> dict[str, str]:
    rigs = {*rig_names(book.rigs), *(each.rig for each in records if isinstance(each, Rig))}
    return {"rig": next(iter(rigs))} if len(rigs) == 1 else {}


def _inferred(book: Book, fans: Sequence[str], fixed: Mapping[str, str]) -> Pattern:
    """The pattern of the names, first without the folder that was given, then with it."""
    known = {"fan": list(book.fans), "obstacle": names_of(book.obstacles), "rig": rig_names(book.rigs)}
    within = [name.split("/", 1)[-1] for name in fans]
    try:
        return infer_pattern(within, known=known, given=tuple(fixed))
    except BadInput:
        return infer_pattern(fans, known=known, given=tuple(fixed))


def _tail(name: str, pattern: Pattern) -> str:
    """As many parts of a path's end as the pattern has."""
    return "/".join(name.split("/")[-len(pattern.text.split("/")) :])


def _fixed(told: Mapping[str, str]) -> dict[str, str]:
    """What `--as` tells of every file: settings in SI, the accuracy as numbers."""
    for name in FIELDS:
        if name in told and not (told[name].strip() and told[name].isprintable()):
            raise BadInput(f"--as {name}", found=repr(told[name]), expected="a name or a number that shows")
    fixed = _in_si({name: told[name].strip() for name in FIELDS if name in told}, "--as")
    return fixed | (_accuracy_said(told["accuracy"]) if "accuracy" in told else {})


def _accuracy_said(text: str) -> dict[str, str]:
    accuracy = parse_accuracy(text, place="--as accuracy")
    return {"accuracy_relative": repr(accuracy.relative), "accuracy_absolute": repr(accuracy.fixed)}


def _remembered(book: Book, what: str) -> str:
    saved = book.layouts.get(REMEMBERED)
    told = saved.reading.get(what, "") if saved else ""
    return (book.settings.names or told) if what == "names" else told


def _obstacle_name(each: Measured, told: Mapping[str, str]) -> dict[str, str]:
    if OBSTACLE in told or all(OBSTACLE in found for found in each.found):
        return {}
    return {OBSTACLE: PurePosixPath(each.file.name).stem}


def _in_si(said: Mapping[str, str], place: str) -> dict[str, str]:
    """The same with settings in SI, as text that gives the number back exactly."""
    return {
        name: repr(setting_in_si(name, text, place)) if name in SETTINGS else text
        for name, text in said.items()
    }


def _words(pattern: Pattern, name: str, said: Mapping[str, str]) -> str:
    parts = ", ".join(f"{each} {_shown(each, said[each])}" for each in pattern.fields if each in FIELDS)
    return f"{name} means {parts} (pattern {pattern.text})"


def _shown(name: str, value: str) -> str:
    return setting_words(name, value) if name in SETTINGS else value


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
    known = _remembered(book, "accuracy")
    if known:
        return _Answered(_accuracy_said(known))
    if ask is not None:
        answer = ask(
            "How accurate is the bench? (such as ± 3 % of reading; empty if that isn't known)"
        ).strip()
        if answer:
            return _Answered(_accuracy_said(answer), {"accuracy": answer})
    return _Answered(marks=(_UNTOLD,))
