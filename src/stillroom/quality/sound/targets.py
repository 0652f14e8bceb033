"""Rules 16 to 18: how well a noise limit is bracketed, and noise of free air behind an obstacle."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from stillroom.core.characteristic import Part
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.limit import LimitRule, Reached, limit_speed
from stillroom.quality.finding import Finding
from stillroom.quality.saying import about_fan, listed
from stillroom.quality.sound.facts import RPM, HeardFan, HeardMounting
from stillroom.quality.sound.saying import heard_key
from stillroom.records.keys import key_of


@dataclass(frozen=True)
class Bracket:
    """What was measured next below and above the speed of a noise limit: levels [dB] and speeds [1/s] apart."""

    level: float
    speed: float
    has_ramp: bool


def targets(fan: HeardFan) -> Iterator[Finding]:
    """Rules 16 and 17: the limits that no mounting of the fan brackets well; one finding for all of them."""
    groups: dict[str, list[HeardMounting]] = defaultdict(list)
    for each in fan.mountings:
        groups[each.obstacle].append(each)
    for obstacle, mountings in groups.items():
        wide, coarse = [], []
        for target in fan.targets:
            brackets = [found for each in mountings if (found := bracket(each, target, highest=fan.highest))]
            if not brackets or any(each.has_ramp for each in brackets):
                continue
            best = min(brackets, key=lambda each: abs(each.level))
            if abs(best.level) > fan.limits.limit_bracket:
                wide.append((target, best))
            elif abs(best.level) > fan.limits.limit_step or best.speed / RPM > fan.limits.limit_speed_step:
                coarse.append((target, best))
        yield from _told(fan, obstacle, wide, coarse)


def _told(
    fan: HeardFan,
    obstacle: str,
    wide: Sequence[tuple[float, Bracket]],
    coarse: Sequence[tuple[float, Bracket]],
) -> Iterator[Finding]:
    where = f"behind {obstacle}" if obstacle else "in free air"
    limits, rule, told = fan.limits, 16, coarse
    expected = f"within {limits.limit_step:g} dB and {limits.limit_speed_step:g} rpm, or a ramp between"
    if wide:
        rule, told, expected = 17, wide, f"within {limits.limit_bracket:g} dB, or a ramp between"
    if told:
        words = listed([f"{abs(each.level):.1f} dB and {each.speed * 60:,.0f} rpm around {target:g} dBA"
                        for target, each in told])  # fmt: skip
        yield about_fan(
            rule, fan.name, key_of(heard_key(fan), obstacle), f"{fan.name} {where}: dwells {words} apart", expected,
            cause="the speed at the limit lies between dwells that are far apart; its interval is wider",
            test="record the speed that `plan` or the set-list names, or a slow ramp",
            common="dwells around a noise limit far apart",
        )  # fmt: skip


def bracket(mounting: HeardMounting, target: float, *, highest: bool = True) -> Bracket | None:
    """What lies next below and above the speed at a noise limit; None where the mounting has no such speed."""
    if mounting.sound is None:
        return None
    curve = mounting.sound.levels
    points = [each for each in curve.points if not each.is_bound]
    dwells = sorted((each for each in points if not each.from_ramp), key=lambda each: each.speed)
    rule = LimitRule.HIGHEST if highest else LimitRule.NEVER_EXCEEDED
    found = limit_speed(curve.rows(Part.CENTRAL), curve.speeds, target, rule, bound=curve.bound)
    if found.reached is not Reached.AT_LIMIT or found.at_least:
        return None
    speed = float(found.speeds[0])
    below: list[LevelPoint] = [each for each in dwells if each.speed <= speed]
    above: list[LevelPoint] = [each for each in dwells if each.speed > speed]
    if not below or not above:
        return Bracket(0.0, 0.0, has_ramp=True) if len(points) > len(dwells) else None
    low, high = below[-1], above[0]
    ramp = any(each.from_ramp and low.speed < each.speed < high.speed for each in points)
    return Bracket(high.level - low.level, high.speed - low.speed, ramp)


def free_air(fan: HeardFan) -> Iterator[Finding]:
    """Rule 18: a comparison behind an obstacle that rests on noise in free air."""
    if fan.free_air:
        yield about_fan(
            18, fan.name, key_of(heard_key(fan), fan.free_air),
            f"the noise of {fan.name} was measured in free air and is used {listed(list(fan.free_air))}",
            "noise measured with the same obstacle mounted",
            cause="an obstacle makes a fan louder at the same speed",
            test="record one dwell with the obstacle before the fan", common="free-air noise behind an obstacle",
        )  # fmt: skip
