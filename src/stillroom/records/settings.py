"""The lab's own settings: lab.toml as a frozen dataclass."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Collection
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from stillroom import vocabulary
from stillroom.errors import BadInput, UnreadableFile
from stillroom.records import limits as limits_
from stillroom.records.limits import Limits
from stillroom.records.publish_settings import PublishSettings, publish_settings

MARGINS: dict[str, float] = {
    "airflow": 0.05,
    "free-airflow": 0.05,
    "maximum-pressure": 0.05,
    "air-power": 0.05,
    "static-efficiency": 0.05,
    "free-speed": 0.05,
    "free-power": 0.05,
    "pressure-at": 0.05,
    "speed-at": 0.05,
    "power-at": 0.05,
    "efficiency-at": 0.05,
    "pressure-to-spare": 0.05,
    "load-line": 0.05,
    "load-line-open": 0.05,
    "load-line-restrictive": 0.05,
    "level": 1.0,
    "loudness": 0.07,
    "sharpness": 0.05,
    "limited-speed": 0.05,
    "needed-speed": 0.05,
    "heat": 0.4,
    "conductance": 0.03,
    "heat-power": 0.05,
    "start-duty": 0.15,
    "stop-duty": 0.15,
    "lowest-duty": 0.15,
    "start-voltage": 0.1,
    "stop-voltage": 0.1,
    "lowest-speed": 0.1,
    "linearity": 0.25,
    "open-wire-speed": 0.02,
    "inrush": 0.1,
}
"""Practical margins of the measures unless the lab sets its own: relative [1], 5 %; those of `ABSOLUTE` in its unit.

One decibel is about 7 % of a loudness in sone (a doubling takes 10 phon). Of what tells how a fan answers its control
smaller gaps than these matter to nobody: 3 % of duty at 20 %, 0.4 V at 4 V.
"""

ABSOLUTE = {"level": ("dB", 1.0), "heat": ("K", 0.4)}
"""Measures whose margin and spread are told in a unit, with it and a usual margin: a level has no zero that a share
could be taken of, and half a degree is felt as half a degree on any radiator."""

RULES = ("highest", "never exceeded")
"""How the speed at a noise limit is taken: the highest speed at which the level is at or under the limit, or the
highest up to which it is never exceeded."""


@dataclass(frozen=True)
class SoundSettings:
    """How fans are compared at the same noise.

    Parameters
    ----------
    limits : the usual limits [dB(A)]. rule : one of `RULES`.
    distance : of the microphone from the fan's middle [m], at which the limits hold.
    """

    limits: tuple[float, ...] = (25.0, 30.0, 35.0)
    rule: str = RULES[0]
    distance: float = 0.5


REPEATS = ("sample", "always", "never")
"""When a mounting on the heat rig ends with its first setting once more: once a sample, always, or never."""


@dataclass(frozen=True)
class HeatSettings:
    """How runs on a heat rig are judged.

    Parameters
    ----------
    tolerance : within which a temperature rise is steady [K]. repeat : one of `REPEATS`.
    nominal : heat to which every rise is brought [W], where the rig doesn't tell its own.
    """

    tolerance: float = 0.05
    repeat: str = REPEATS[0]
    nominal: float = 300.0


@dataclass(frozen=True)
class Settings:
    """What a lab decides for itself.

    Parameters
    ----------
    name : the lab's name. trials : number of trials of each result.
    units : {dimension: unit shown}. margins : {measure: margin}, relative [1], or in the unit of `ABSOLUTE`.
    references : obstacles of the usual comparisons. rig : the rig of runs that name none.
    names : the pattern by which folder and file names are read, once it was confirmed.
    reference_fan : the fan that is measured every day to watch the rig.
    limits : of the rules of quality. sound : how fans are compared at the same noise. heat : how runs on a heat
    rig are judged. publish : what a release holds.
    """

    name: str = "A fan laboratory"
    trials: int = 2000
    units: dict[str, str] = field(default_factory=dict)
    margins: dict[str, float] = field(default_factory=lambda: dict(MARGINS))
    references: tuple[str, ...] = ()
    rig: str = ""
    names: str = ""
    reference_fan: str = ""
    limits: Limits = field(default_factory=Limits)
    sound: SoundSettings = SoundSettings()
    heat: HeatSettings = HeatSettings()
    publish: PublishSettings = PublishSettings()


_KEYS = (
    "name",
    "trials",
    "units",
    "margins",
    "references",
    "rig",
    "names",
    "reference_fan",
    "limits",
    "sound",
    "heat",
    "publish",
)

TEMPLATE = """\
# The settings of this laboratory. Lines that start with # show what may be set.
name = {name}

# Number of trials by which uncertainty is carried.
# trials = 2000

# Obstacles of the usual comparisons, and the rig of runs that name none.
# references = ["rad27"]
# rig = "chamber"
# reference_fan = "the fan that is measured every day"

# How folder and file names are read, once confirmed.
# names = "{{fan}}/s{{sample}}/{{duty}}pct"

# Units on charts and in tables.
# [units]
# flow = "CFM"
# pressure = "mmH₂O"

# Practical margins: a smaller gap is nothing that a buyer would notice. Fix them before data are seen.
# [margins]
# airflow = 0.05
# level = 1.0
# heat = 0.4

# Noise limits in dB(A), the rule by which the speed at a limit is taken ("highest" or "never exceeded"), and the
# distance in metres from the fan's middle at which they hold.
# [sound]
# limits = [25, 30, 35]
# rule = "highest"
# distance = 0.5

# Heat rig: within how many kelvin a temperature rise is steady, whether a mounting ends with its first setting once
# more ("sample": once a sample, "always" or "never"), and the heat in watts to which every rise is brought.
# [heat]
# tolerance = 0.05
# repeat = "sample"
# nominal = 300

# What a release holds: its measures (else those that a round registered, else the usual ones), whether frames for
# video and level-matched sounds are made, and the licence of the open data.
# [publish]
# measures = ["airflow through rad27 at 35 dBA", "heat at 30 dBA"]
# reveal = true
# excerpts = false
# licence = "CC-BY-4.0"

# Limits of the rules of quality; docs/findings.md lists them all. A changed one is told beside each finding.
# [limits]
# zero_drift = 0.2
"""


def template(name: str) -> str:
    """The text of a new lab.toml."""
    return TEMPLATE.format(name=_quoted(name))


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(each for each in escaped if each.isprintable()) + '"'


def read_settings(path: Path) -> Settings:
    """The settings of a lab.toml.

    Raises
    ------
    UnreadableFile : it isn't TOML, or can't be read. BadInput : a setting that isn't known, or has a wrong value.
    """
    try:
        told = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (ValueError, RecursionError, OSError) as error:
        raise UnreadableFile("settings", place=path.name, found=str(error), expected="TOML") from None
    for key in told:
        if key not in _KEYS:
            close = difflib.get_close_matches(key, _KEYS, n=1)
            hint = f"{close[0]!r}?" if close else ", ".join(_KEYS)
            raise BadInput("setting", place=path.name, found=repr(key), expected=hint)
    return Settings(
        name=_text(told, "name", Settings.name),
        trials=_trials(told),
        units=_units(told),
        margins=MARGINS | _numbers(told, "margins"),
        references=tuple(_list(told, "references")),
        rig=_text(told, "rig", ""),
        names=_text(told, "names", ""),
        reference_fan=_text(told, "reference_fan", ""),
        limits=_limits(told),
        sound=_sound(told),
        heat=_heat(told),
        publish=publish_settings(
            _table(told, "publish", [each.name for each in fields(PublishSettings)]), _wrong
        ),
    )


def _wrong(key: str, value: object, expected: str) -> BadInput:
    return BadInput(f"setting {key!r}", place="lab.toml", found=repr(value), expected=expected)


def _text(told: dict[str, Any], key: str, usual: str) -> str:
    value = told.get(key, usual)
    if not isinstance(value, str):
        raise _wrong(key, value, "text in quotes")
    return value


def _trials(told: dict[str, Any]) -> int:
    value = told.get("trials", Settings.trials)
    if not isinstance(value, int) or isinstance(value, bool) or not 500 <= value <= 20_000:
        raise _wrong("trials", value, "a whole number from 500 to 20000")
    return value


def _list(told: dict[str, Any], key: str) -> list[str]:
    value = told.get(key, [])
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise _wrong(key, value, "a list of names")
    return value


def _table(told: dict[str, Any], key: str, own: Collection[str] = ()) -> dict[str, Any]:
    value = told.get(key, {})
    if not isinstance(value, dict):
        raise _wrong(key, value, f"a table [{key}]")
    if below := next((each for each in value if each in _KEYS and each not in own), ""):
        found = f"below the line [{key}]"
        raise BadInput(
            f"setting {below!r}", place="lab.toml", found=found, expected="above the first such line"
        )
    return value


def _numbers(told: dict[str, Any], key: str) -> dict[str, float]:
    table = _table(told, key, MARGINS)
    for name, value in table.items():
        if name not in MARGINS:
            raise _wrong(f"{key}.{name}", value, "one of " + ", ".join(MARGINS))
        most, expected = (
            (20, f"a number of {ABSOLUTE[name][0]}, such as {ABSOLUTE[name][1]}")
            if name in ABSOLUTE
            else (1, "a share between 0 and 1, such as 0.05")
        )
        if not _is_number(value) or not 0 < value < most:
            raise _wrong(f"{key}.{name}", value, expected)
    return {name: float(value) for name, value in table.items()}


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


LOWEST_LIMIT, HIGHEST_LIMIT, MOST_LIMITS = 0.0, 120.0, 12
"""Between which a noise limit lies [dB(A)], and how many a lab may have."""


def _sound(told: dict[str, Any]) -> SoundSettings:
    names = [each.name for each in fields(SoundSettings)]
    table, usual = _table(told, "sound", names), SoundSettings()
    for name, value in table.items():
        if name not in names:
            close = difflib.get_close_matches(name, names, n=1)
            raise _wrong(f"sound.{name}", value, close[0] if close else ", ".join(names))
    limits = table.get("limits", list(usual.limits))
    if (
        not isinstance(limits, list)
        or not 0 < len(limits) <= MOST_LIMITS
        or not all(_is_number(each) and LOWEST_LIMIT < each < HIGHEST_LIMIT for each in limits)
        or len(set(limits)) < len(limits)
    ):
        raise _wrong("sound.limits", limits, "a list of levels in dB(A), each once, such as [25, 30, 35]")
    rule = table.get("rule", usual.rule)
    if rule not in RULES:
        raise _wrong("sound.rule", rule, " or ".join(f'"{each}"' for each in RULES))
    distance = table.get("distance", usual.distance)
    if not _is_number(distance) or not 0.05 <= distance <= 10.0:
        raise _wrong("sound.distance", distance, "a distance in metres, such as 0.5")
    return SoundSettings(tuple(sorted(float(each) for each in limits)), rule, float(distance))


_HEAT_NUMBERS: dict[str, tuple[float, float, str]] = {
    "tolerance": (0.005, 1.0, "a number of kelvin, such as 0.05"),
    "nominal": (1.0, 20_000.0, "a number of watts, such as 300"),
}


def _heat(told: dict[str, Any]) -> HeatSettings:
    names = [each.name for each in fields(HeatSettings)]
    table, usual = _table(told, "heat", names), HeatSettings()
    for name, value in table.items():
        if name not in names:
            close = difflib.get_close_matches(name, names, n=1)
            raise _wrong(f"heat.{name}", value, close[0] if close else ", ".join(names))
        if name in _HEAT_NUMBERS:
            low, high, expected = _HEAT_NUMBERS[name]
            if not _is_number(value) or not low <= value <= high:
                raise _wrong(f"heat.{name}", value, expected)
    repeat = table.get("repeat", usual.repeat)
    if repeat not in REPEATS:
        raise _wrong("heat.repeat", repeat, ", ".join(f'"{each}"' for each in REPEATS))
    return HeatSettings(
        float(table.get("tolerance", usual.tolerance)), repeat, float(table.get("nominal", usual.nominal))
    )


def _limits(told: dict[str, Any]) -> Limits:
    table = _table(told, "limits")
    for name, value in table.items():
        if name not in limits_.names():
            close = difflib.get_close_matches(name, limits_.names(), n=1)
            raise _wrong(f"limits.{name}", value, close[0] if close else ", ".join(limits_.names()))
        if not isinstance(value, int | float) or isinstance(value, bool) or not 0 < value < 1e9:
            usual = limits_.told_of(name)
            unit = "a share" if usual.unit == "1" else f"a number of {usual.unit}"
            raise _wrong(f"limits.{name}", value, f"{unit}, usually {usual.usual:g}")
    return Limits(**{name: float(value) for name, value in table.items()})


def _units(told: dict[str, Any]) -> dict[str, str]:
    table = _table(told, "units")
    for dimension, symbol in table.items():
        known = isinstance(symbol, str) and vocabulary.is_unit(symbol)
        if not known or vocabulary.unit(symbol).dimension != dimension:
            raise _wrong(f"units.{dimension}", symbol, f"a unit of {dimension}")
    return {dimension: vocabulary.unit(symbol).symbol for dimension, symbol in table.items()}
