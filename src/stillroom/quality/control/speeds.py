"""Rules 19 and 20 for tests of the control: unsteady steps, wrong pulses per revolution, a tachometer's overflow."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from stillroom.core.sound.pulses import pulses_per_revolution
from stillroom.core.standards.pwm_fans_4_wire import PULSES_PER_REVOLUTION
from stillroom.quality.control.facts import RPM, ControlledFan, ControlledMounting, TableFacts
from stillroom.quality.control.saying import BLOCKS, about_control, about_table, setting_words
from stillroom.quality.finding import Finding
from stillroom.quality.saying import listed, mark_or_block, rpm
from stillroom.records.limits import Limits

SLOW = 600 * RPM

TO_BOX = 0.06
"""How far a multiple of the box's full speed may be off, and of another mounting's [1]."""

_TIMES = {0.5: "half", 1.5: "1.5 times", 2.0: "twice", 3.0: "three times"}


def unsteady(fan: ControlledFan) -> Iterator[Finding]:
    """Rule 19: settled readings of a step that scatter by more than the limit, and more than the display's step."""
    for mounting in fan.mountings:
        for table in mounting.tables:
            moved = [
                each for each in table.unsettled if each[2] > _limit(each[1], table.resolution, fan.limits)
            ]
            if not moved:
                continue
            most = max(100 * each[2] for each in moved)
            where = listed([setting_words(table.control, each[0]) for each in moved])
            yield about_table(
                19, table, mounting, f"{where} of {mounting.name}: the settled speed varies by up to {most:.1f} %",
                f"within {100 * fan.limits.speed_unsteady:g} %"
                f" ({100 * fan.limits.slow_speed_unsteady:g} % below 600 rpm)",
                severity=mark_or_block(len(moved)),
                cause="the step was too short for the speed to settle, or supply or control signal aren't steady",
                test="hold one step for a minute and watch the tachometer", common="speed unsteady over a step",
            )  # fmt: skip


def _limit(speed: float, resolution: float, limits: Limits) -> float:
    """The limit, or what the display's step does to three readings."""
    limit = limits.slow_speed_unsteady if speed < SLOW else limits.speed_unsteady
    return max(limit, 2.0 * resolution / math.sqrt(12.0) / speed)


def overflowed(fan: ControlledFan) -> Iterator[Finding]:
    """Rule 20: a reading that equals a display's largest number is an overflow, no speed."""
    for mounting in fan.mountings:
        for table in mounting.tables:
            if table.overflow is not None:
                times = "once" if table.overflows == 1 else f"{table.overflows} times"
                yield about_table(
                    20, table, mounting,
                    f"{mounting.name}: {times} the speed reads {60 * table.overflow:.0f}, a display's or counter's"
                    " largest number",
                    "a speed", cause="the tachometer overflowed: pulses that are no pulses, or none in its time",
                    test="look at the tachometer's signal with an oscilloscope; add the pull-up resistor or lower the"
                    " trigger level", common="the tachometer overflowed", what="overflow",
                )  # fmt: skip


def against_optical(fan: ControlledFan) -> Iterator[Finding]:
    """Rule 20: the tachometer against the optical one, read at the same steps."""
    for mounting in fan.mountings:
        for table in mounting.tables:
            off = _off(table, fan.limits)
            if off is None:
                continue
            shown, true = off
            check = pulses_per_revolution(
                [each[0] for each in table.pairs], [each[1] for each in table.pairs]
            )
            is_multiple = check.named is not None and check.named != 1.0
            cause = (
                _pulse_words(check.named or 1.0, fan.pulses)
                if is_multiple
                else "one of the two was read at another moment, or the optical one saw two marks"
            )
            yield about_table(
                20, table, mounting,
                f"{mounting.name}: the tachometer reads {rpm(shown)} where the optical one reads {rpm(true)}"
                f" (ratio {check.ratio:.3f})",
                f"within {100 * fan.limits.optical_speed:g} %", cause=cause,
                test="read both at full speed once more; then set the pulses per revolution",
                common=cause.partition(":")[0], what="optical",
            )  # fmt: skip


def _off(table: TableFacts, limits: Limits) -> tuple[float, float] | None:
    """The pair with the median ratio, where that is off by more than the limit and the display's step."""
    if not table.pairs:
        return None
    ratios = np.array([shown / true for shown, true in table.pairs])
    at = int(np.argsort(ratios)[len(ratios) // 2])
    shown, true = table.pairs[at]
    sure = 2.0 * table.resolution / math.sqrt(12.0) / true
    return (shown, true) if abs(float(ratios[at]) - 1.0) > max(limits.optical_speed, sure) else None


def _pulse_words(named: float, told: int | None) -> str:
    times = _TIMES.get(named, f"{named:g} times")
    words = f"wrong pulses per revolution: the speed reads {times} what it is"
    fits = (told or PULSES_PER_REVOLUTION) * named
    return f"{words}; {fits:g} would fit where {told or PULSES_PER_REVOLUTION} were reckoned with"


def against_box(fan: ControlledFan) -> Iterator[Finding]:
    """Rule 20: full speed in a whole or half multiple of the box's, or of another mounting's where the box agrees.

    A mounting that the optical tachometer speaks of is left to that.
    """
    speeds = {each.name: _full(each) for each in fan.mountings}
    for mounting in fan.mountings:
        full = speeds[mounting.name]
        if full is None or any(table.pairs for table in mounting.tables):
            continue
        others = [each for name, each in speeds.items() if each is not None and name != mounting.name]
        named = _multiple(full, fan.full_speed)
        against, words = fan.full_speed, "the box says"
        if named is None and fan.full_speed is None and len(others) > 1:
            against, words = float(np.median(others)), "its other mountings turn"
            named = _multiple(full, against)
        if named is not None and against is not None:
            yield about_control(
                20, mounting,
                f"full speed of {mounting.name} is {rpm(full)}, {full / against:.2f} times what {words}",
                f"about {rpm(against)}", severity=BLOCKS, cause=_pulse_words(named, fan.pulses),
                test="read the optical tachometer at full speed; then set the pulses per revolution",
                common="wrong pulses per revolution",
            )  # fmt: skip


def _multiple(speed: float, against: float | None) -> float | None:
    if against is None:
        return None
    return next((each for each in _TIMES if abs(speed / against / each - 1.0) <= TO_BOX), None)


def _full(mounting: ControlledMounting) -> float | None:
    if mounting.control is None:
        return None
    drives = mounting.control.drives.values()
    full = [each.full for each in drives if each.full and _is_full(each.kind, each.full_setting)]
    return max(full, default=None)


def _is_full(kind: str, setting: float | None) -> bool:
    return setting is not None and (setting >= 0.995 if kind == "duty" else 11.4 <= setting <= 12.6)
