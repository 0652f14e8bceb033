"""Facts of a made fan's sound: a session in which nothing is wrong, to be changed in one thing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stillroom.core.sound.level_curve import LevelCurve
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.sound_mounting import Geometry, SoundMounting
from stillroom.quality import Finding
from stillroom.quality.sound import (
    HeardFan,
    HeardMounting,
    RecordingFacts,
    ScaleFacts,
    SpeedFacts,
    ToneFacts,
    check_sound,
)
from stillroom.records.limits import Limits

USUAL = Limits()
SPEEDS = (1000.0, 1020.0, 1040.0, 1060.0)
"""Of the dwells [rpm]: near enough to each other around each limit."""


def level_at(speed: float) -> float:
    """Level of the made fan at a speed [rpm]: 30 dBA at 1,030 rpm, 53 dB a decade."""
    return 30.0 + 53.0 * float(np.log10(speed / 1030.0))


def dwell(number: int, speed: float, **changed: object) -> RecordingFacts:
    """A dwell in which nothing is wrong; speed in rpm."""
    made = RecordingFacts(
        run=f"run{number}",
        key=f"key{number}",
        file=f"dwell-{number}.wav",
        what="dwell",
        moment=f"2026-03-04T10:{number:02}",
        setting=speed / 2000,
        setting_kind="duty",
        setting_word=f"{speed / 20:.0f} %",
        duration=30.0,
        level=level_at(speed),
        corrected=level_at(speed),
        u=0.15,
        delta=16.0,
        before=14.0,
        after=14.1,
        burst=0.4,
        scatter=0.1,
        speed=SpeedFacts(speed / 60, speed / 60, 0.002, 0.0002, 7, True, speed / 60),
        tones=(ToneFacts(7 * speed / 60, False, True),),
    )
    return replace(made, **changed)  # type: ignore[arg-type]


def beside(run: str, what: str, **changed: object) -> RecordingFacts:
    """A calibrator or a background."""
    made = RecordingFacts(run=run, key=f"{run}-key", file=f"{run}.wav", what=what, duration=30.0, scatter=0.06,
                          level=94.0 if what.startswith("cal") else 14.0)  # fmt: skip
    return replace(made, **changed)  # type: ignore[arg-type]


DWELLS = (
    *(dwell(i, speed) for i, speed in enumerate(SPEEDS)),
    dwell(9, SPEEDS[0], moment="2026-03-04T11:00"),
)
CALIBRATORS = (beside("cal-before", "calibrator before"), beside("cal-after", "calibrator after"))
ROOMS = (beside("bg-before", "background before"), beside("bg-after", "background after"))
SCALE = ScaleFacts(120.0, 120.0, 0.0, ("cal-before",), ("cal-after",), tuple(each.run for each in DWELLS))
PLACE = Geometry(0.5, np.pi / 4, 0.0, "inlet", "soft", 100.0)


def curve(points: tuple[LevelPoint, ...], offset: float = 0.0) -> LevelCurve:
    """A curve through points on the made fan's line."""
    speeds = np.linspace(points[0].speed, points[-1].speed, 60)
    central = np.array([level_at(60 * each) + offset for each in speeds])
    reach = (float(speeds[0]), float(speeds[-1]))
    return LevelCurve("made", speeds, central, (), np.zeros((0, 60)), np.zeros((10, 60), np.float32),
                      np.zeros(60, np.bool_), points, (), None, reach, 1)  # fmt: skip


def point(speed: float, *, from_ramp: bool = False) -> LevelPoint:
    """A point of the made fan; speed in rpm."""
    return LevelPoint(speed / 60, 0.01, level_at(speed), 0.15, False, from_ramp, "run")


def sound(
    speeds: tuple[float, ...] = SPEEDS, offset: float = 0.0, ramp: tuple[float, ...] = ()
) -> SoundMounting:
    """A reduced mounting of the made fan."""
    points = [point(each) for each in speeds] + [point(each, from_ramp=True) for each in ramp]
    ordered = tuple(sorted(points, key=lambda each: each.speed))
    return SoundMounting(curve(ordered, offset), None, (), {}, None, PLACE, None)


def mounting(name: str = "Rush-q1", **changed: object) -> HeardMounting:
    """A mounting in which nothing is wrong."""
    made = HeardMounting(
        name=name,
        fan="Rush",
        sample="s1",
        obstacle="",
        rig="quiet",
        date="2026-03-04",
        judged=f"{name}-judged",
        blocked_as=f"sound of {name}",
        geometry=PLACE,
        method=PLACE,
        recordings=DWELLS,
        calibrators=CALIBRATORS,
        backgrounds=ROOMS,
        rooms={each.run: (("bg-before",), ("bg-after",)) for each in DWELLS},
        scales=(SCALE,),
        sound=sound(),
        blades=7,
        pulses=2,
        room_from=100.0,
    )
    return replace(made, **changed)  # type: ignore[arg-type]


def with_dwell(number: int = 1, **changed: object) -> HeardMounting:
    """A mounting with one dwell changed."""
    return mounting(recordings=tuple(replace(each, **changed) if i == number else each  # type: ignore[arg-type]
                                     for i, each in enumerate(DWELLS)))  # fmt: skip


def found(*mountings: HeardMounting, limits: Limits = USUAL, **changed: object) -> list[Finding]:
    """What is found of a fan with these mountings, and a second one in which nothing is wrong where there is one."""
    every = mountings if len(mountings) > 1 else (*mountings, mounting("Rush-q2"))
    fan = HeardFan(name="Rush", mountings=every, limits=limits, targets=(30.0,))
    return check_sound(replace(fan, **changed))  # type: ignore[arg-type]


def only(findings: list[Finding]) -> Finding:
    """The one finding that there is."""
    (one,) = findings
    return one
