"""Rules 19 and 20 for heat: whether the speed was steady, and whether it can be true."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.quality.causes import Cause, cause_of
from stillroom.quality.finding import Finding
from stillroom.quality.heat.facts import ExpectedSpeed, WarmMounting
from stillroom.quality.heat.saying import BLOCKS, MARKS, about_heat, steps_in
from stillroom.quality.saying import mark_or_block, rpm
from stillroom.quality.speeds import SAMPLES_APART
from stillroom.records.limits import Limits

SLOW = 600.0 / 60.0
"""Below this speed [1/s] more unsteadiness is let pass."""

RATIO_WITHIN = 0.01
"""A ratio of tachometer to optical is a wrong number of pulses within this [1]."""


def turning(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """What speaks against the speeds of a mounting's steps."""
    yield from _unsteady(mounting, limits)
    told = {each.number for each in mounting.steps if _against_optical(each, limits)}
    yield from _tachometer(mounting, limits)
    yield from _multiples(mounting, told)


def _unsteady(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 19."""
    steps = [each for each in mounting.seen if _variation(each) > _steady(each, limits)]
    if steps:
        worst = max(steps, key=_variation)
        yield about_heat(
            19, mounting, "unsteady", f"{steps_in(mounting, steps)}: the speed varies by"
            f" {100 * _variation(worst):.1f} % (standard deviation of its means of half a minute)",
            f"{100 * _steady(worst, limits):g} % at most", severity=mark_or_block(len(steps)),
            cause="the fan hunts, its supply wanders, or its control signal is unsteady",
            test="listen to it for a minute; read the supply's volts and the duty at the connector",
            common="speed unsteady on the heat rig",
        )  # fmt: skip


def _variation(step: HeatStep) -> float:
    return step.speed_sd / step.speed if step.speed_sd is not None and step.speed else 0.0


def _steady(step: HeatStep, limits: Limits) -> float:
    return limits.slow_speed_unsteady if (step.speed or 0.0) < SLOW else limits.speed_unsteady


def _against_optical(step: HeatStep, limits: Limits) -> bool:
    if not step.tachometer or not step.optical:
        return False
    return abs(step.tachometer / step.optical - 1.0) > limits.optical_speed


def _tachometer(mounting: WarmMounting, limits: Limits) -> Iterator[Finding]:
    """Rule 20: tachometer wire against optical tachometer; a wrong number of pulses was put right by the method."""
    steps = [each for each in mounting.steps if _against_optical(each, limits)]
    if not steps:
        return
    step = steps[0]
    ratio = (step.tachometer or 1.0) / (step.optical or 1.0)
    cause = cause_of("speed", ratio, RATIO_WITHIN)
    yield about_heat(
        20, mounting, "optical",
        f"{steps_in(mounting, steps)}: the tachometer shows {rpm(step.tachometer or 0.0)}, the optical one"
        f" {rpm(step.optical or 0.0)} ({ratio:.3f} times)",
        f"within {100 * limits.optical_speed:g} %", severity=MARKS if cause else BLOCKS,
        cause=f"{cause.words}; the optical speed was used" if cause
        else "one of them counts something else: a second blade mark, a lamp's flicker, a loose wire",
        test=cause.test if cause else "stick one mark on the hub only, and read both for half a minute",
        common=cause.words if cause else "tachometer against optical",
    )  # fmt: skip


def _multiples(mounting: WarmMounting, told: set[int]) -> Iterator[Finding]:
    """Rule 20: speeds that are a multiple of what airflow, sound or the box say of the same setting."""
    pairs = [
        (step, expected, cause)
        for step in mounting.steps
        if step.number not in told
        and step.tachometer
        and not step.optical
        and (expected := mounting.speeds.get(step.number)) is not None
        and (cause := _multiple(step, expected)) is not None
    ]
    known = [
        each
        for each in mounting.steps
        if each.number in mounting.speeds and each.tachometer and not each.optical
    ]
    if not pairs or len({cause.name for *_, cause in pairs}) > 1 or len(pairs) < len(known):
        return  # a wrong number of pulses shows at all settings alike
    step, expected, cause = pairs[0]
    yield about_heat(
        20, mounting, "multiple",
        f"{steps_in(mounting, [each for each, *_ in pairs])}: the tachometer shows {rpm(step.tachometer or 0.0)},"
        f" {expected.by} {rpm(expected.speed)}",
        f"within {100 * SAMPLES_APART:g} %", severity=BLOCKS, cause=cause.words, test=cause.test, common=cause.words,
    )  # fmt: skip


def _multiple(step: HeatStep, expected: ExpectedSpeed) -> Cause | None:
    return cause_of("speed", (step.tachometer or 0.0) / expected.speed, SAMPLES_APART)
