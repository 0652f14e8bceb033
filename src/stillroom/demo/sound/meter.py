"""A simple sound level meter beside the recordings: a sheet of its readings, and tables of a level each second."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from stillroom.demo.calendar import Calendar
from stillroom.demo.draws import Draws
from stillroom.demo.fan import Setting
from stillroom.demo.sound.plan import What
from stillroom.demo.sound.room import AIR_DENSITY, ANGLE, DISTANCE, HEIGHT, HOLDER, QUIET, ROOM_FROM, SIDE
from stillroom.demo.sound.tables import SoundLine
from stillroom.demo.sound.truth import Blowing, MeterTruth
from stillroom.demo.tables import write_table

RIG, METER = "meter", "meter-1"
SELF_NOISE = 17.0
"""What it shows in silence [dBA]."""
ACCURACY = 1.0
"""What it states of itself: ± this [dB]."""
FAST_SD = 0.35
"""Spread of its fast level from second to second [dB]."""
SECONDS = 30
ON_SHEET = ("Lousewort", "Spearwort", "Eyebright")
BY_SECOND = ("Bearberry", "Bedstraw")
SHEET_DUTIES, SECOND_DUTIES = (37.0, 46.0, 64.0, 82.0, 100.0), (46.0, 64.0, 82.0)
SHEET_DAY, SECOND_DAY = 2, 9


@dataclass(frozen=True)
class Shown:
    """What stands in one file: lines of the run table and what is true of them."""

    lines: tuple[SoundLine, ...]
    truths: tuple[MeterTruth, ...]


def write_sheet(
    folder: Path, place: str, fans: Sequence[tuple[str, Blowing]], seed: int, calendar: Calendar
) -> Shown:
    """The first day's sheet, by hand: fan, speed, level, background, distance."""
    file = f"{place}/{calendar.day(SHEET_DAY)}-levels.csv"
    rows, truths = [], []
    background = _shown(seed, "background", _background())
    for fan, blowing in fans:
        for duty in SHEET_DUTIES:
            truth = _truth(file, fan, blowing, Setting(duty))
            both = _sum(truth.level, truth.background)
            shown = _shown(seed, f"{fan} {duty:g}", both)
            rows.append(
                [fan, f"{truth.speed * 60:.0f}", f"{shown:.1f}", f"{background:.1f}", f"{DISTANCE:g}"]
            )
            truths.append(truth)
    header = ["fan", "speed [rpm]", "level [dBA]", "background [dBA]", "distance [m]"]
    _table(folder / file, header, rows)
    return Shown((SoundLine(file, "", "", rig=RIG),), tuple(truths))


def write_seconds(
    folder: Path, place: str, fans: Sequence[tuple[str, Blowing]], seed: int, calendar: Calendar
) -> Shown:
    """The meter's own tables: one fast level each second, of the background and of each fan's settings."""
    day = calendar.day(SECOND_DAY)
    here, session = f"{place}/{day}-{RIG}", f"{day}-{RIG}"
    quiet = f"{here}/bg-before.csv"
    lines, truths = [SoundLine(quiet, What.BACKGROUND_BEFORE.value, session, rig=RIG)], []
    _seconds(folder / quiet, _background(), seed)
    for fan, blowing in fans:
        for duty in SECOND_DUTIES:
            file = f"{here}/{fan.lower()}_s1_q1_{duty:g}pct_free.csv"
            truth = _truth(file, fan, blowing, Setting(duty))
            _seconds(folder / file, _sum(truth.level, truth.background), seed)
            lines.append(
                SoundLine(
                    file, What.DWELL.value, session, f"{fan}-s1-q1", fan, "s1", "", Setting(duty),
                    tachometer=truth.speed, rig=RIG,
                )
            )  # fmt: skip
            truths.append(truth)
    return Shown(tuple(lines), tuple(truths))


def meter_lines() -> Iterator[str]:
    """The meter in the laboratory's own words: more of `quiet.toml`."""
    yield f"[rig.{RIG}]"
    yield 'kind = "sound"'
    yield f'distance = "{DISTANCE:g} m"'
    yield f'angle = "{ANGLE:g} °"'
    yield f'height = "{HEIGHT:g} m"'
    yield f'microphone_side = "{SIDE}"'
    yield f'holder = "{HOLDER}"'
    yield f'room_from = "{ROOM_FROM:g} Hz"'
    yield f'sound_level = "{METER}"'
    yield ""
    yield f"[instrument.{METER}]"
    yield 'quantity = "sound_level"'
    yield f'accuracy = "± {ACCURACY:g} dB"'
    yield f'self_noise = "{SELF_NOISE:g} dBA"'
    yield ""


def _truth(file: str, fan: str, blowing: Blowing, setting: Setting) -> MeterTruth:
    speed, opening = blowing.at(blowing.fan.free_speed(setting))
    level = blowing.voice.total(speed, opening, AIR_DENSITY) - 20 * math.log10(DISTANCE)
    return MeterTruth(file, fan, speed, level, _background())


def _background() -> float:
    """Room and the meter's own noise [dBA]."""
    return _sum(QUIET, SELF_NOISE)


def _shown(seed: int, occasion: str, level: float) -> float:
    """What the meter shows of a level."""
    bias = Draws(seed, "meter").normal(ACCURACY / 2)
    return level + bias + Draws(seed, f"meter {occasion}").normal(0.1)


def _seconds(path: Path, level: float, seed: int) -> None:
    name = path.name
    steady = _shown(seed, name, level)
    rows = [
        [str(i), f"{steady + Draws(seed, f'meter {name} {i}').normal(FAST_SD):.1f}"]
        for i in range(1, SECONDS + 1)
    ]
    _table(path, ["time [s]", "LAF [dBA]"], rows)


def _table(path: Path, header: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    write_table(path, header, rows)


def _sum(*levels: float) -> float:
    return 10 * math.log10(sum(10 ** (each / 10) for each in levels))
