"""A set list in words: the cells of a table, of a printed sheet, and of data."""

from __future__ import annotations

from typing import Any

from stillroom.core.speeds import setting_words
from stillroom.lab.sound.level_words import FIRST_OVER, TOO_LOUD, band_words, speed_in_words
from stillroom.lab.sound.set_list import AtNoise, SetList

SCHEMA = "stillroom/set-list/1"

SHOWN_ELSEWHERE = ("tops out", "above ", "has a tone", "free-air noise", FIRST_OVER, "two speeds",
                   "one more dwell", "the limit lies", "may not run", "noise as in")  # fmt: skip
"""How the marks begin that whoever sets a fan must know; the others stand in the ranking."""


def speed_words(row: AtNoise) -> str:
    """The speed to set: "1,012 rpm", or "" where there is none."""
    return "" if row.speed is None else speed_in_words(row.speed)


def interval_words(row: AtNoise) -> str:
    """Its 95 % interval: "995 to 1,030"."""
    if row.low is None or row.high is None:
        return ""
    return f"{row.low * 60:,.0f} to {row.high * 60:,.0f}"


def setting_cell(row: AtNoise) -> str:
    """The duty or voltage that gives the speed: "43 %", "full setting"."""
    if row.tops_out:
        return "full setting"
    if row.setting is None:
        return "" if row.speed is None else "not known"
    if row.setting.kind == "duty":
        return f"{100 * row.setting.value:.1f} %"
    return setting_words(row.setting.kind, round(row.setting.value, 2))


def telling(row: AtNoise) -> tuple[str, ...]:
    """What whoever sets the fan must know."""
    if row.why:
        return (row.why,)
    return tuple(each for each in row.marks if each.startswith(SHOWN_ELSEWHERE))


def as_data(found: SetList, rig: str) -> dict[str, Any]:
    """The documented JSON of a set list; speeds in rpm, duty in per cent."""
    return {
        "schema": SCHEMA,
        "rig": rig,
        "conditions": dict(found.conditions),
        "rows": [row_data(each) for each in found.rows],
        "excluded": [{"fan": fan, "why": why} for fan, why in found.left_out],
        "next_dwells": [
            {"fan": each.fan, "speed": _rpm(each.speed), "limit": each.limit, "probability": each.probability}
            for each in found.next_dwells
        ],
    }


def row_data(row: AtNoise) -> dict[str, Any]:
    """One row of it, as `ask --noise` gives it too."""
    setting = row.setting
    return {
        "fan": row.fan,
        "limit": row.limit,
        "noise": row.noise,
        "sone": row.sone,
        "speed": _rpm(row.speed),
        "low": _rpm(row.low),
        "high": _rpm(row.high),
        "highest": _rpm(row.highest),
        "never_exceeded": _rpm(row.strict),
        "avoid": [[_rpm(low), _rpm(high)] for low, high in row.avoid],
        "tops_out": row.tops_out,
        "too_loud": row.why.startswith(TOO_LOUD),
        "level": _spread(row.level),
        "level_is_at_most": row.is_bound,
        "loudness": _spread(row.loudness),
        "setting": None
        if setting is None
        else {"kind": setting.kind, "value": setting.value, "way": setting.way},
        "tones": [{"frequency": each.frequency, "origin": each.origin} for each in row.tones],
        "sound_measured_with": row.obstacle or None,
        "samples": row.samples,
        "mountings": row.mountings,
        "marks": list(row.marks),
        "key": row.key,
        "why": row.why,
    }


def _rpm(speed: float | None) -> float | None:
    return None if speed is None else speed * 60


def _spread(told: tuple[float, float, float] | None) -> dict[str, float] | None:
    return None if told is None else dict(zip(("value", "low", "high"), told, strict=True))


def avoid_words(row: AtNoise) -> str:
    """The bands to avoid: "1,100–1,330 rpm"."""
    return ", ".join(map(band_words, row.avoid))
