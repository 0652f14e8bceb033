"""Sound as open data: the level at each speed that was held, and level against speed with its interval."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.sound.sound_mounting import Dwell, SoundMounting, SpeedFrom
from stillroom.lab.sound.loading import load_sound
from stillroom.lab.sound.nodes import SoundNode
from stillroom.publish.data.cells import Cell, figures
from stillroom.publish.data.fields import AT_LEAST_ZERO, Field, Table, of_quantity
from stillroom.publish.data.shown import (
    DATE,
    FAN,
    MARKS,
    MOUNTING,
    OBSTACLE,
    OF_MOUNTING,
    OF_SAMPLE,
    SAMPLE,
    Shown,
    joined,
    place,
    setting_cells,
    setting_fields,
)

STEP = 4
"""Every so many places of a curve's grid are told (20 rpm on the usual grid)."""


def levels(shown: Shown) -> Table:
    """The levels at the speeds that were held, and at the steps of ramps."""
    units = shown.units
    fields = (
        place("number", "Its place among the levels of the mounting."),
        MOUNTING,
        FAN,
        SAMPLE,
        OBSTACLE,
        DATE,
        Field("run", "run", "Short identity of the recording.", constraints={"required": True}),
        *setting_fields(units),
        of_quantity("speed", "speed", units),
        of_quantity("u_speed", "speed", units, title="u(speed)", description="Its standard uncertainty.",
                    constraints=AT_LEAST_ZERO),
        Field("speed_from", "speed from", "What told the speed.",
              constraints={"enum": [each.value for each in SpeedFrom]}),
        of_quantity("level", "sound_level", units,
                    description="A-weighted sound pressure level, corrected for background, at the distance told."),
        Field("u_level", "u(level)", "Standard uncertainty of this reading alone.", "number", "dB",
              constraints=AT_LEAST_ZERO),
        Field("is_bound", "at most", "Whether the level is only known not to be higher.", "boolean"),
        Field("c_level", "C-weighted level", "Not corrected for background.", "number", "dBC"),
        Field("z_level", "Z-weighted level", "Not corrected for background.", "number", "dB"),
        of_quantity("loudness", "loudness", units, constraints=AT_LEAST_ZERO),
        of_quantity("sharpness", "sharpness", units, constraints=AT_LEAST_ZERO),
        Field("tones", "tones", "Prominent tones, parted by a bar: frequency and origin. At one place of the "
              "microphone their levels say little."),
        of_quantity("distance", "distance", units, description="Of the microphone from the fan’s middle."),
        Field("microphone", "microphone", "Where the microphone stood and what held the fan, as far as told."),
        MARKS,
    )  # fmt: skip
    rows = (row for node, sound in _sounds(shown) for row in _levels(shown, node, sound))
    words = "Each speed that was held while the fan was recorded, in order of speed."
    key = ("mounting", "number")
    return Table("levels", "Levels", words, fields, tuple(rows), key, (OF_MOUNTING, OF_SAMPLE))


def _sounds(shown: Shown) -> Iterable[tuple[SoundNode, SoundMounting]]:
    for node, result in shown.sounds:
        yield node, load_sound(shown.contents.lab.path, result)


def _levels(shown: Shown, node: SoundNode, sound: SoundMounting) -> Iterable[dict[str, Cell]]:
    for number, each in enumerate(sound.dwells, start=1):
        yield {
            "number": number,
            "mounting": node.subject,
            "fan": node.fan,
            "sample": node.sample,
            "obstacle": node.obstacle or None,
            "date": node.date,
            "run": each.run,
            **setting_cells(shown, each.setting_kind, each.setting),
            **_heard(shown, each),
            "distance": figures(shown.si("distance", sound.geometry.distance)),
            "microphone": sound.geometry.words,
            "marks": joined(sound.marks),
        }


def _heard(shown: Shown, dwell: Dwell) -> dict[str, Cell]:
    return {
        "speed": figures(shown.si("speed", dwell.speed)),
        "u_speed": figures(shown.si("speed", dwell.u_speed), 3),
        "speed_from": dwell.speed_from.value,
        "level": figures(shown.si("sound_level", dwell.level), 4),
        "u_level": figures(dwell.u, 3),
        "is_bound": dwell.is_bound,
        "c_level": figures(dwell.c_level, 4),
        "z_level": figures(dwell.z_level, 4),
        "loudness": figures(shown.si("loudness", dwell.loudness), 4),
        "sharpness": figures(shown.si("sharpness", dwell.sharpness), 4),
        "tones": joined([f"{each.tone.frequency:.0f} Hz ({each.origin.value})" for each in dwell.tones]),
    }


def level_curves(shown: Shown) -> Table:
    """Level against speed of every mounting, with its 95 % interval."""
    units = shown.units
    ends = {"level": "", "level_low": ", 95 % from", "level_high": ", 95 % to"}
    fields = (
        MOUNTING,
        place("point", "Its place on the curve, by rising speed."),
        FAN,
        SAMPLE,
        OBSTACLE,
        of_quantity("speed", "speed", units),
        *(of_quantity(name, "sound_level", units, title=f"Sound level{words}", description=f"Sound level{words}.")
          for name, words in ends.items()),
        Field("is_bound", "at most", "Whether nothing but bounds was measured there.", "boolean"),
    )  # fmt: skip
    rows = (row for node, sound in _sounds(shown) for row in _curve(shown, node, sound))
    words = (
        "Level against speed, fitted to the dwells and ramps of one mounting, between the least and the greatest speed "
        "measured. It need not rise: resonances are kept. Intervals are 95 %, of this mounting."
    )
    key = ("mounting", "point")
    return Table("level-curves", "Level curves", words, fields, tuple(rows), key, (OF_MOUNTING, OF_SAMPLE))


def _curve(shown: Shown, node: SoundNode, sound: SoundMounting) -> Iterable[dict[str, Cell]]:
    curve = sound.levels
    places = np.arange(0, len(curve.speeds), STEP)
    rows = curve.rows(Part.TOTAL, speeds=curve.speeds[places])
    low, high = coverage_interval(rows[1 + len(curve.sources) :], axis=0)
    for at, place_ in enumerate(places):
        values = (float(each) for each in (rows[0, at], low[at], high[at]))
        told = [figures(shown.si("sound_level", each), 4) for each in values]
        yield {
            "mounting": node.subject,
            "point": at + 1,
            "fan": node.fan,
            "sample": node.sample,
            "obstacle": node.obstacle or None,
            "speed": figures(shown.si("speed", float(curve.speeds[place_]))),
            "level": told[0],
            "level_low": told[1],
            "level_high": told[2],
            "is_bound": bool(curve.bound[place_]),
        }
