"""What folder and file names say of a measurement: a pattern, shown and confirmed once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from typing import Any

from stillroom.errors import BadInput
from stillroom.lab.book import Book, by_path, row_for
from stillroom.readers.accuracy import parse_accuracy
from stillroom.readers.inference import infer_pattern
from stillroom.readers.kinds import Kind
from stillroom.readers.names import Pattern
from stillroom.readers.overrides import GRID_KEYS, is_layout_key
from stillroom.records.acts import Run
from stillroom.records.bench import Rig

FIELDS = ("fan", "sample", "mounting", "obstacle", "duty", "volts", "speed", "rig")
_DIVISORS = {"duty": 100.0, "volts": 1.0, "speed": 60.0}
OBSTACLE = "obstacle"


@dataclass(frozen=True)
class Naming:
    """What the names of files say.

    Parameters
    ----------
    said : {file: {field: text}}; settings in SI. pattern : the pattern used, or "". words : it, in words.
    remember : whether it was confirmed now and is to be kept. marks : what nobody told.
    told : what `--as` says of every file.
    """

    said: dict[str, dict[str, str]] = field(default_factory=dict)
    pattern: str = ""
    words: str = ""
    remember: bool = False
    marks: tuple[str, ...] = ()
    told: Mapping[str, str] = field(default_factory=dict)


def name_files(
    book: Book,
    records: Sequence[Any],
    files: Sequence[tuple[str, str]],
    told: Mapping[str, str],
    ask: Callable[[str], bool] | None,
) -> Naming:
    """What is said of each file that no row of the run table speaks of.

    Parameters
    ----------
    book : the lab. records : what is being brought in with the files. files : (name, kind of content).
    told : what was told by `--as`. ask : how to ask, or None.

    Raises
    ------
    BadInput : the names can't be understood, or were understood but nobody confirmed it.
    """
    rows = dict(book.runs) | {each.name: each for each in records if isinstance(each, Run)}
    by_name = by_path(rows.values())
    alone = [(name, content) for name, content in files if row_for(name, by_name) is None]
    _check_keys(told)
    fixed = _fixed(told)
    rigs = {*book.rigs, *(each.rig for each in records if isinstance(each, Rig))}
    alone_on = {"rig": next(iter(rigs))} if len(rigs) == 1 else {}
    fans = [name for name, content in alone if content != Kind.OBSTACLE.value]
    shared = alone_on | fixed
    said = {name: shared | _obstacle_name(name, fixed) for name, content in alone if name not in fans}
    marks = _marks(book, records, fixed, bool(alone))
    if not fans:
        return Naming(said, marks=marks, told=fixed)
    if "fan" in fixed:
        return Naming(said | dict.fromkeys(fans, shared), marks=marks, told=fixed)
    known = told.get("names") or _remembered(book)
    pattern = Pattern(known) if known else _inferred(book, fans, fixed)
    matched = {name: _in_si(pattern.match(_tail(name, pattern)), name) for name in fans}
    words = _words(pattern, matched)
    if not known and not _confirmed(words, ask):
        raise BadInput(
            "names of the files",
            place=fans[0],
            found=f"{words}, which nobody has confirmed",
            expected=f"--as 'names={pattern.text}', another pattern, or a run table",
        )
    return Naming(
        said | {name: shared | each | fixed for name, each in matched.items()},
        pattern.text,
        words,
        known != _remembered(book) or not known,
        marks,
        fixed | ({"names": told["names"]} if "names" in told else {}),
    )


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


def _inferred(book: Book, fans: Sequence[str], fixed: Mapping[str, str]) -> Pattern:
    """The pattern of the names, first without the folder that was given, then with it."""
    known = {"fan": list(book.fans), "obstacle": list(book.obstacles), "rig": list(book.rigs)}
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
    fixed = _in_si({name: told[name] for name in FIELDS if name in told}, "--as")
    if "accuracy" in told:
        accuracy = parse_accuracy(told["accuracy"], place="--as accuracy")
        fixed["accuracy_relative"] = repr(accuracy.relative)
        fixed["accuracy_absolute"] = repr(accuracy.fixed)
    return fixed


def _remembered(book: Book) -> str:
    saved = book.layouts.get("names")
    return book.settings.names or (saved.reading.get("names", "") if saved else "")


def _obstacle_name(name: str, fixed: Mapping[str, str]) -> dict[str, str]:
    return {} if OBSTACLE in fixed else {OBSTACLE: PurePosixPath(name).stem}


def _in_si(said: Mapping[str, str], place: str) -> dict[str, str]:
    """The same with settings in SI, as text that gives the number back exactly."""
    found = dict(said)
    for name, divisor in _DIVISORS.items():
        if name in found:
            try:
                found[name] = repr(float(found[name].rstrip("% Vrpm").replace(",", ".")) / divisor)
            except ValueError:
                raise BadInput(name, place=place, found=repr(found[name]), expected="a number") from None
    return found


def _words(pattern: Pattern, matched: Mapping[str, Mapping[str, str]]) -> str:
    name, first = next(iter(matched.items()))
    parts = ", ".join(f"{each} {_shown(each, value)}" for each, value in first.items() if each in FIELDS)
    return f"{name} means {parts} (pattern {pattern.text})"


def _shown(name: str, value: str) -> str:
    factor, unit = {"duty": (100.0, " %"), "volts": (1.0, " V"), "speed": (60.0, " rpm")}.get(name, (0.0, ""))
    return f"{float(value) * factor:g}{unit}" if factor else value


def _confirmed(words: str, ask: Callable[[str], bool] | None) -> bool:
    return ask is not None and ask(f"{words}. Is that right?")


def _marks(book: Book, records: Sequence[Any], fixed: Mapping[str, str], alone: bool) -> tuple[str, ...]:
    rigs = bool(book.rigs) or any(each.kind == "rig" for each in records)
    if alone and not rigs and "accuracy_relative" not in fixed:
        return (
            "how accurate is the bench? Nobody told: ± 5 % of reading is assumed"
            " (tell it with --as 'accuracy=± 3 % of reading', or a rigs file)",
        )
    return ()
