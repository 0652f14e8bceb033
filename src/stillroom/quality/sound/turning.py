"""Rules 19 and 20 for sound: the speed that is heard against the tachometer and the optical one."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stillroom.core.sound.pulses import pulses_per_revolution
from stillroom.quality.finding import Finding
from stillroom.quality.saying import about_fan, mark_or_block, rpm
from stillroom.quality.sound.facts import RPM, HeardFan, HeardMounting, RecordingFacts
from stillroom.quality.sound.saying import BLOCKS, about_recording, about_sound, settings_of
from stillroom.records.keys import key_of
from stillroom.records.limits import Limits

USUAL_PULSES = 2
"""Pulses per revolution of a fan of which nothing is told: 4-wire PWM fan specification."""

RATES = {
    48.0 / 44.1: "44,100 Hz, and the file says 48,000 Hz",
    44.1 / 48.0: "48,000 Hz, and the file says 44,100 Hz",
}
RATE_WITHIN = 0.005
"""How well a ratio must fit that of two sampling rates [1]."""

SLOW = 600 * RPM

_TIMES = {0.5: "half", 1.5: "1.5 times", 2.0: "twice", 3.0: "three times"}


@dataclass(frozen=True)
class Contradiction:
    """A dwell of which two tell another speed.

    Parameters
    ----------
    run : the dwell. name, shown : what is doubted, with its reading [1/s]. against, true : what it is held against.
    """

    run: RecordingFacts
    name: str
    shown: float
    against: str
    true: float

    @property
    def ratio(self) -> float:
        """Shown over true [1]."""
        return self.shown / self.true


def turning(fan: HeardFan) -> Iterator[Finding]:
    """What speaks against the speeds of a fan's dwells."""
    for mounting in fan.mountings:
        yield from _contradictions(mounting, fan.limits)
        yield from _unsteady(mounting, fan.limits)
    yield from _blades(fan)


def _contradictions(mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 20: dwells of one cause are one finding."""
    dwells = [each for each in mounting.recordings if each.is_dwell and each.speed is not None]
    steps = {name: _step([_reading(each, name) for each in dwells]) for name in ("tachometer", "optical")}
    groups: dict[str, list[Contradiction]] = defaultdict(list)
    for run in dwells:
        found = _contradiction(run, steps, limits)
        if found is not None:
            groups[_kind(found)].append(found)
    for kind, several in groups.items():
        yield _told(kind, several, mounting, limits)


def _reading(run: RecordingFacts, name: str) -> float | None:
    found: float | None = getattr(run.speed, name)
    return found


def _step(readings: Sequence[float | None]) -> float:
    """Resolution of a display by its readings: 10, 5 or 1 rpm [1/s]."""
    shown = [each / RPM for each in readings if each is not None]
    for step in (10.0, 5.0, 1.0):
        if len(shown) > 1 and all(abs(each / step - round(each / step)) < 0.01 for each in shown):
            return step * RPM
    return RPM


def _contradiction(run: RecordingFacts, steps: dict[str, float], limits: Limits) -> Contradiction | None:
    speed = run.speed
    if speed is None:
        return None
    heard, u_heard = speed.sound, speed.sound_u
    pairs = (
        ("tachometer", speed.tachometer, "the optical tachometer", speed.optical, steps["optical"] / math.sqrt(12.0),
         limits.optical_speed),
        ("tachometer", speed.tachometer, "the speed that is heard", heard, u_heard, limits.heard_speed),
        ("optical", speed.optical, "the speed that is heard", heard, u_heard, limits.heard_speed),
    )  # fmt: skip
    for name, shown, against, true, u, limit in pairs:
        if not shown or not true:
            continue
        sure = 2.0 * math.hypot(steps[name] / math.sqrt(12.0), u) / true
        if abs(shown / true - 1.0) > max(limit, sure):
            return Contradiction(run, name, shown, against, true)
    return None


def _kind(found: Contradiction) -> str:
    heard = found.against == "the speed that is heard"
    if heard and any(abs(1.0 / found.ratio / each - 1.0) <= RATE_WITHIN for each in RATES):
        return f"rate {1.0 / found.ratio > 1.0}"
    named = pulses_per_revolution([found.shown], [found.true]).named
    if found.name == "tachometer" and named is not None:
        return f"pulses {named:g}"
    return f"{found.name} {found.against}"


def _told(kind: str, several: Sequence[Contradiction], mounting: HeardMounting, limits: Limits) -> Finding:
    first = several[0]
    ratio = sorted(each.ratio for each in several)[len(several) // 2]
    runs = [each.run for each in several]
    name = {"tachometer": "the tachometer", "optical": "the optical tachometer"}[first.name]
    found = (
        f"{settings_of(runs)} of {mounting.name}: {name} reads {rpm(first.shown)}, {first.against} is"
        f" {rpm(first.true)} (ratio {ratio:.3f})"
    )
    limit = limits.heard_speed if first.against == "the speed that is heard" else limits.optical_speed
    expected = f"within {100 * limit:g} %"
    cause, test = _causes(kind, ratio, mounting)
    common = cause.partition(":")[0]
    if len(several) == 1:
        return about_recording(
            20, first.run, mounting, found, expected, cause=cause, test=test, common=common
        )
    return about_sound(
        20, mounting, found, expected, severity=BLOCKS, cause=cause, test=test, common=common,
        place=first.run.place,
    )  # fmt: skip


def _causes(kind: str, ratio: float, mounting: HeardMounting) -> tuple[str, str]:
    """The probable cause, and what shows it within a minute."""
    if kind.startswith("rate"):
        near = min(RATES, key=lambda each: abs(1.0 / ratio / each - 1.0))
        return (
            f"wrong sampling rate in the file: it was recorded at {RATES[near]}, so that speed and tones read"
            f" {100 * (near - 1.0):+.1f} %",
            "look at the recorder's sampling rate; the calibrator's tone must lie at 1,000 Hz",
        )
    if kind.startswith("pulses"):
        return _pulse_words(ratio, mounting.pulses), (
            "read the speed with the optical tachometer once and compare; then set the pulses per revolution"
        )
    return (
        "the reading was taken at another moment, or belongs to another recording",
        "read the tachometer while it is recorded",
    )


def _pulse_words(ratio: float, told: int | None) -> str:
    """Wrong pulses per revolution, with the numbers that fit."""
    named = pulses_per_revolution([ratio], [1.0]).named or ratio
    times = _TIMES.get(named, f"{named:g} times")
    words = f"wrong pulses per revolution: the speed reads {times} what it is"
    set_at = (told or USUAL_PULSES) / named
    if abs(set_at - round(set_at)) < 0.01 and round(set_at) >= 1:
        return f"{words}; the fan gives {told or USUAL_PULSES}, the tachometer was set to {round(set_at)}"
    return f"{words}; {round((told or USUAL_PULSES) * named)} would fit where {told or USUAL_PULSES} were reckoned with"


def _unsteady(mounting: HeardMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 19: the speed moved while it was recorded."""
    moved = []
    for run in mounting.dwells:
        speed = run.speed
        if speed is None or speed.sound is None:
            continue
        limit = limits.slow_speed_unsteady if speed.sound < SLOW else limits.speed_unsteady
        if speed.sound_drift > max(limit, 2.0 * speed.sound_u / speed.sound):
            moved.append((run, speed.sound_drift))
    if not moved:
        return
    runs = [run for run, _ in moved]
    most = 100 * max(drift for _, drift in moved)
    found = f"{settings_of(runs)} of {mounting.name}: the speed heard varies by up to {most:.1f} %"
    words = {
        "cause": "a supply or a control signal that isn't steady, or recorded before the fan had settled",
        "test": "watch the tachometer for a minute at this setting", "common": "speed unsteady while it was recorded",
    }  # fmt: skip
    expected = (
        f"within {100 * limits.speed_unsteady:g} % ({100 * limits.slow_speed_unsteady:g} % below 600 rpm)"
    )
    severity = mark_or_block(len(runs))
    if len(runs) == 1:
        yield about_recording(19, runs[0], mounting, found, expected, severity=severity, **words)
    else:
        yield about_sound(19, mounting, found, expected, severity=severity, **words)


def _blades(fan: HeardFan) -> Iterator[Finding]:
    """Rule 20: the blades told aren't those that are heard."""
    heard = [each.speed.blades for mounting in fan.mountings for each in mounting.dwells
             if each.speed is not None and each.speed.sound is not None and not each.speed.told_blades_fit]  # fmt: skip
    every = [each for mounting in fan.mountings for each in mounting.dwells
             if each.speed is not None and each.speed.sound is not None]  # fmt: skip
    told = next((each.blades for each in fan.mountings if each.blades), None)
    if told is None or len(heard) < 2 or 2 * len(heard) <= len(every):
        return
    counts = sorted({each for each in heard if each is not None}, key=heard.count)
    yield about_fan(
        20, fan.name, key_of("blades", fan.name, told, heard),
        f"{fan.name}: the sound fits {counts[-1]} blades, {told} are told",
        "the number of blades that it has", cause="the number of blades in the register is wrong",
        test="count the blades", common="the blades told aren't those that are heard",
    )  # fmt: skip
