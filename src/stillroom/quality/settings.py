"""Rules that hold speeds against settings: swapped files, a control signal that is off, drift."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from stillroom.quality.facts import FanFacts, MountingFacts, ReadingFacts, RunFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.quality.saying import RunContext, about_mounting, about_run
from stillroom.records.limits import Limits

SAMPLES = 0.06
"""Speeds of two samples at one setting differ by less, relative."""

WELL_BELOW_FULL = 0.85
"""Duties up to this are shaped by the control signal; at full duty it stands still [1]."""

OFF_BETWEEN = 0.04
"""Speeds between that are off by more, while full speed agrees, speak of the control signal, relative."""

FEW_POINTS = 6


def odd_settings(group: Sequence[MountingFacts], limits: Limits) -> dict[str, Finding]:
    """Rules 21 and 29: mountings whose speeds don't go with their settings, {mounting: finding}."""
    found: dict[str, Finding] = {}
    for mounting in group:
        others = [each for each in group if each is not mounting]
        for finding in (
            *_generator(mounting, limits),
            *_swapped(mounting, _expected(others)),
            *_not_rising(mounting),
            *_control(mounting, others),
        ):
            found.setdefault(mounting.name, finding)
    return found


def _expected(others: Sequence[MountingFacts]) -> dict[float, float]:
    """{setting: median speed of the other mountings [1/s]}."""
    settings = {each for other in others for each in other.speeds}
    return {
        each: float(np.median([other.speeds[each] for other in others if each in other.speeds]))
        for each in settings
    }


def _swapped(mounting: MountingFacts, expected: Mapping[float, float]) -> Iterator[Finding]:
    """Rule 29: two settings whose speeds are each other's, or one that stands under another's name."""
    common = sorted(mounting.speeds.keys() & expected.keys())
    wrong = {each for each in common if _apart(mounting.speeds[each], expected[each]) > SAMPLES}
    fits = {
        each: [other for other in expected if other != each
               and _apart(mounting.speeds[each], expected[other]) < SAMPLES / 2]
        for each in wrong
    }  # fmt: skip
    named = {each: others[0] for each, others in fits.items() if len(others) == 1}
    if not named or named.keys() != wrong or len(wrong) > max(2, len(common) // 2):
        return
    words = {run.setting: run for run in mounting.runs}
    said = [f"{words[each].words} ({words[each].file}) turns as fast as {_as_words(words[each], other)}"
            for each, other in sorted(named.items())]  # fmt: skip
    both = len(named) == 2 and all(named.get(named[each]) == each for each in named)
    yield about_mounting(
        29, mounting, f"in {mounting.name} " + "; ".join(said), "the speed of its setting",
        cause="two files were exchanged: each stands under the other's setting"
        if both
        else "a file stands under another setting",
        test="set both settings again and read the speed; look at the names of the files",
        common="a file stands under another setting",
    )  # fmt: skip


def _as_words(run: RunFacts, setting: float) -> str:
    if run.setting_kind == "duty" or run.setting_word.endswith("%"):
        return f"at {100 * setting:g} %"
    return f"at {setting:g} V" if run.setting_word.endswith("V") else f"at {60 * setting:,.0f} rpm"


def _not_rising(mounting: MountingFacts) -> Iterator[Finding]:
    """Rule 29: speeds that don't rise with the setting, where nothing else is there to compare with."""
    if any(each.setting_kind == "speed" for each in mounting.runs):
        return
    rising = sorted(mounting.speeds.items())
    falls = [(low, high) for low, high in itertools.pairwise(rising) if high[1] < low[1] * 0.98]
    if falls:
        (low, _), (high, _) = falls[0]
        words = {run.setting: run for run in mounting.runs}
        yield about_mounting(
            29, mounting,
            f"{words[high].words} of {mounting.name} turns slower than {words[low].words}",
            "more speed at the greater setting",
            cause="two files were exchanged: each stands under the other's setting",
            test="set both settings again and read the speed; look at the names of the files",
            common="a file stands under another setting",
        )  # fmt: skip


def _control(mounting: MountingFacts, others: Sequence[MountingFacts]) -> Iterator[Finding]:
    """Rule 21: speeds that agree at full duty and not between: the control signal was another one.

    Of two that disagree both are doubtful; of more, the one that disagrees with most.
    """
    if any(each.setting_kind not in ("", "duty") for each in mounting.runs) or 1.0 not in mounting.speeds:
        return
    compared = [(each, _between(mounting, each)) for each in others]
    told = [(each, off) for each, off in compared if off is not None]
    against = [(each, off) for each, off in told if abs(math.log(off)) > OFF_BETWEEN]
    if not against or 2 * len(against) <= len(told) or any(_read(each) for each in mounting.runs):
        return
    other, off = max(against, key=lambda each: abs(math.log(each[1])))
    alone = len(told) == 1
    yield about_mounting(
        21, mounting,
        f"{mounting.name} turns as {other.name} does at full duty, and {100 * abs(off - 1.0):.0f} %"
        f" {'faster' if off > 1.0 else 'slower'} at the duties between",
        "one curve of speed against duty within some per cent",
        cause="the PWM generator is set to another frequency or level: at full duty its signal stands still"
        + (f" (or that of {other.name}: nothing here decides)" if alone else ""),
        test="put an oscilloscope or a counter on the control wire; set the generator to 25 kHz, 5 V",
        common="the PWM generator is set to another frequency",
    )  # fmt: skip


def _between(one: MountingFacts, other: MountingFacts) -> float | None:
    """Speed at the duties between over the other's, where full speeds agree; None where that says nothing."""
    ratios = {each: one.speeds[each] / other.speeds[each] for each in one.speeds.keys() & other.speeds.keys()}
    between = [value for setting, value in ratios.items() if setting <= WELL_BELOW_FULL]
    full = ratios.get(1.0)
    if full is None or len(between) < 2 or _apart(full, 1.0) > SAMPLES / 2:
        return None
    off = [value / full for value in between]
    alike = all(each > 0.995 for each in off) or all(each < 1.005 for each in off)
    return float(np.median(off)) if alike else None


def _generator(mounting: MountingFacts, limits: Limits) -> Iterator[Finding]:
    """Rule 21: frequency of the control signal, where it was read or written down, outside its window."""
    low, high = limits.pwm_frequency_low, limits.pwm_frequency_high
    read = [_frequency(each) for each in mounting.readings if each.setting != 1.0]
    odd = [value for value in read if value is not None and not low <= value <= high]
    if odd:
        values = sorted({f"{value / 1000:.3g}" for value in odd})
        yield about_mounting(
            21, mounting,
            f"control signal of {' and '.join(values)} kHz in {len(odd)} of {len(mounting.readings)} sweeps of"
            f" {mounting.name}",
            f"{low / 1000:g} to {high / 1000:g} kHz",
            cause="the PWM generator is set to another frequency: duty and speed don't go together as they should",
            test="put an oscilloscope or a counter on the control wire; set the generator to 25 kHz",
            what=f"frequency {values}",
            common="the PWM generator is set to another frequency",
        )  # fmt: skip


def _frequency(run: ReadingFacts) -> float | None:
    """Frequency of the control signal [Hz], as written beside the run, else as its file has it."""
    if run.beside.pwm_frequency is not None:
        return run.beside.pwm_frequency
    column = run.read.get("pwm_frequency")
    return None if column is None else float(np.median(column))


def _read(run: ReadingFacts) -> bool:
    """Whether the frequency is known: then that decides, by a rule of its own."""
    return _frequency(run) is not None


def _apart(one: float, other: float) -> float:
    return abs(math.log(one / other))


# --- drift and scatter within a sweep ------------------------------------------------------------------------


def wandering_speed(fan: FanFacts) -> Iterator[Finding]:
    """Rule 19: speed that scatters, or drifts over a sweep by more than the load explains."""
    for mounting in fan.mountings:
        context = RunContext.of_mounting(mounting, fan)
        others = [
            run for other in fan.mountings if other.obstacle == mounting.obstacle for run in other.sound_runs
        ]
        for run in mounting.sound_runs:
            if run.speed is not None and len(run.speed) >= FEW_POINTS and run.setting_kind != "speed":
                yield from _scatters(run, context)
                same = [each for each in others if each.run != run.run and each.setting == run.setting]
                yield from _drifts(run, same, context)


def _scatters(run: RunFacts, context: RunContext) -> Iterator[Finding]:
    assert run.speed is not None
    speed, limits = run.speed, context.limits
    limit = limits.slow_speed_unsteady if speed.mean() < 10.0 else limits.speed_unsteady
    place = np.argsort(run.phi)
    bend = speed[place][1:-1] - 0.5 * (speed[place][:-2] + speed[place][2:])  # what neighbours don't explain
    scatter = float(np.median(np.abs(bend))) / 0.6745 / math.sqrt(1.5) / float(speed.mean())
    step = _step(run) / math.sqrt(12.0) / float(speed.mean())
    if scatter > max(limit, 2.0 * step):
        yield about_run(
            19, run, context, f"the speed scatters by {100 * scatter:.1f} % from point to point in {run.words}",
            f"{100 * limit:g} % at most", severity=Severity.MARKS,
            cause="the setting isn't held, or the tachometer loses pulses",
            test="watch the speed for a minute at one setting", common="the speed scatters from point to point",
        )  # fmt: skip


def _step(run: RunFacts) -> float:
    """The step in which the speed was shown [1/s]: the least difference between two readings."""
    assert run.speed is not None
    steps = np.diff(np.unique(np.round(run.speed, 6)))
    return float(steps.min()) if len(steps) else 0.0


def _drifts(run: RunFacts, same: Sequence[RunFacts], context: RunContext) -> Iterator[Finding]:
    """Held against the sweeps of other mountings at the same setting, which show what the load does."""
    usual = [value for each in same if (value := _sag(each)) is not None]
    mine = _sag(run)
    if mine is None or len(usual) < 2:
        return
    excess = mine[0] - float(np.median([each[0] for each in usual]))
    sure = 2.0 * math.hypot(mine[1], float(np.median([each[1] for each in usual])))
    spread = 2.0 * float(np.std([each[0] for each in usual], ddof=1))
    if abs(excess) > max(context.limits.speed_drift, sure, spread):
        yield about_run(
            19, run, context,
            f"from shut-off to free delivery the speed changes by {100 * mine[0]:+.1f} % in {run.words},"
            f" {100 * excess:+.1f} % from what {len(usual)} other sweeps at this setting do",
            f"within {100 * context.limits.speed_drift:g} %", severity=Severity.MARKS,
            cause="the supply or the control signal drifted, or the fan was still getting warm",
            test="go back to the first point and read the speed again", common="the speed drifted",
        )  # fmt: skip


def _sag(run: RunFacts) -> tuple[float, float] | None:
    """Relative change of the speed from shut-off to free delivery, by a straight line, and its deviation."""
    if run.speed is None or len(run.speed) < FEW_POINTS:
        return None
    share = run.phi / float(run.phi.max())
    design = np.stack([np.ones_like(share), share], axis=1)
    found, *_ = np.linalg.lstsq(design, run.speed / run.speed.mean(), rcond=None)
    left = run.speed / run.speed.mean() - design @ found
    variance = float(left @ left) / (len(left) - 2) * float(np.linalg.inv(design.T @ design)[1, 1])
    return float(found[1]), math.sqrt(variance)
