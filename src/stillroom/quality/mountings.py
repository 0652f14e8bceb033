"""Rules that hold the curves of a fan's mountings against each other."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from stillroom.core.deviation import Reference, scales_apart
from stillroom.core.spread import FIRST_YEAR_MOUNTING_SD, FIRST_YEAR_SAMPLE_SD
from stillroom.quality.causes import cause_of
from stillroom.quality.explaining import (
    PLUGGED_FROM,
    Fault,
    Verdict,
    explain_mounting,
    explain_patterns,
)
from stillroom.quality.facts import FanFacts, MountingFacts, cloud_of
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.quality.saying import about_mounting
from stillroom.quality.settings import odd_settings
from stillroom.quality.speeds import mixed_up, replicate_speeds, wrong_multiples
from stillroom.quality.telling import bank_of, named_nozzle, say
from stillroom.records.acts import Event
from stillroom.records.limits import Limits

SURELY = 5.0
"""Two mountings differ by less than 2.8 s_r in 95 % (ISO 5725-6) and by less than this times s_r in 99.96 % of
cases: with some ten pairs a round the first is passed every other round though nothing is wrong, so it marks and
the second blocks."""

MISSES = 0.3
"""A curve that misses the points of the sweeps it was fitted to by more can't be used [1]."""


def usable(mounting: MountingFacts) -> bool:
    """Whether a mounting has a curve that follows its own points."""
    kept = [each.check.collapse for each in mounting.sound_runs]
    return mounting.curve is not None and bool(kept) and float(np.median(kept)) < MISSES


def own_reference(mounting: MountingFacts, fan: FanFacts) -> Reference | None:
    """What the sweeps of a mounting are held against: its own curve, else those of the fan's other mountings."""
    if usable(mounting) and mounting.curve is not None:
        return Reference.of([mounting.curve])
    return _reference([each for each in fan.mountings if each.obstacle == mounting.obstacle and usable(each)])


def _reference(mountings: Sequence[MountingFacts]) -> Reference | None:
    curves = [each.curve for each in mountings if each.curve is not None]
    return Reference.of(curves) if curves else None


def between_mountings(fan: FanFacts) -> Iterator[Finding]:
    """All findings from holding a fan's mountings against each other, those under one obstacle together."""
    for obstacle in sorted({each.obstacle for each in fan.mountings}):
        group = [each for each in fan.mountings if each.obstacle == obstacle and each.runs]
        multiples = wrong_multiples(group, fan)
        rest = [each for each in group if each.name not in multiples]
        mixed = mixed_up(rest)
        rest = [each for each in rest if each.name not in mixed]
        settings = odd_settings(rest, fan.limits)
        pool = [each for each in rest if usable(each)]
        odd = odd_ones_out(pool, fan)
        alone = {each.name: found for each in pool if each.name not in odd
                 for found in own_patterns(each, fan.limits)}  # fmt: skip
        pool = [each for each in pool if each.name not in odd and each.name not in alone]
        speeds = replicate_speeds([each for each in rest if each.name not in settings])
        yield from (*multiples.values(), *mixed.values(), *settings.values())
        yield from (*odd.values(), *alone.values(), *speeds.values())
        yield from replicate_curves([each for each in pool if each.name not in speeds], fan)


def own_patterns(mounting: MountingFacts, limits: Limits) -> Iterator[Finding]:
    """Rule 24: sweeps of one mounting that contradict each other as one wrong nozzle would make them."""
    if mounting.curve is None:
        return
    verdict = explain_patterns(mounting, Reference.of([mounting.curve]))
    telling = [each for each in verdict.faults if _worth_telling(each, limits) and each.gain > ALONE]
    if not telling or telling[0] is not verdict.best:
        return
    said = say(telling[0], mounting.bores, mounting.sound_runs)
    yield about_mounting(
        said.rule, mounting,
        f"sweeps of {mounting.name} that opened different nozzles contradict each other at the same opening by up"
        f" to {100 * telling[0].effect:.1f} % of the greatest flow",
        f"within {100 * limits.nozzle_pattern:g} %", cause=said.cause, test=said.test, common=said.common,
    )  # fmt: skip


ALONE = 60.0
"""By how much (in χ², scaled) a nozzle's fault must explain a mounting that nothing else is held against."""


def curve_failed(mounting: MountingFacts) -> Iterator[Finding]:
    """Rule 29: no curve at all, or one that misses its own points."""
    if mounting.failed:
        found, cause = mounting.failed, "a unit or the pulses per revolution of some sweeps is wrong"
    elif mounting.runs and not usable(mounting):
        found = f"the curve of {mounting.name} misses the points that it was fitted to"
        cause = "the readings contradict what is stated of the rig's errors"
    else:
        return
    yield about_mounting(29, mounting, found, "one curve for all sweeps", cause=cause,
                         test="add one sweep at a time and look at the collapse plot")  # fmt: skip


# --- one of several -----------------------------------------------------------------------------------------


def odd_ones_out(pool: Sequence[MountingFacts], fan: FanFacts) -> dict[str, Finding]:
    """Rules 24, 25, 26, 29: mountings that a known fault explains, the clearest first, {mounting: finding}."""
    found: dict[str, Finding] = {}
    rest = list(pool)
    while len(rest) > 1:
        verdicts = [(each, _verdict(each, [o for o in rest if o is not each], fan.limits)) for each in rest]
        faulty = [(each, verdict) for each, verdict in verdicts if verdict.best]
        if not faulty:
            break
        faulty.sort(key=lambda each: -(each[1].best.gain if each[1].best else 0.0))
        worst, verdict = faulty[0]
        doubtful = len(rest) == 2 and len(faulty) == 2 and _gain(faulty[1][1]) > 0.7 * _gain(verdict)
        found[worst.name] = _odd(worst, verdict, [each for each in rest if each is not worst], fan.log)
        if doubtful:
            found[faulty[1][0].name] = _odd(faulty[1][0], faulty[1][1], [worst], fan.log)
            break
        rest.remove(worst)
    return found


def _gain(verdict: Verdict) -> float:
    return verdict.best.gain if verdict.best else 0.0


def _verdict(mounting: MountingFacts, others: Sequence[MountingFacts], limits: Limits) -> Verdict:
    reference = _reference(others)
    if reference is None:
        return Verdict(())
    found = explain_mounting(mounting, reference, _scales(mounting, others))
    listed = bank_of(mounting.bores, mounting.sound_runs)

    def telling(fault: Fault) -> bool:
        named = fault.kind == "flow" and named_nozzle(fault.value, listed) is not None
        return named or _worth_telling(fault, limits)

    if found.best is None or not telling(found.best):
        return Verdict(())  # a scale alike at all points, and no unit: what replicates differ by (rule 41)
    return Verdict(tuple(each for each in found.faults if telling(each)))


def _scales(mounting: MountingFacts, others: Sequence[MountingFacts]) -> tuple[float, float]:
    """How far two mountings' scales may lie apart: samples, mountings, and what unlike rigs don't share."""
    same = all(each.sample == mounting.sample for each in others)
    spread = FIRST_YEAR_MOUNTING_SD if same else math.hypot(FIRST_YEAR_MOUNTING_SD, FIRST_YEAR_SAMPLE_SD)
    apart = math.sqrt(2.0) * spread
    flow, pressure = _unlike_rigs(mounting, others)
    return math.hypot(apart, flow), math.hypot(apart, pressure)


def _unlike_rigs(mounting: MountingFacts, others: Sequence[MountingFacts]) -> tuple[float, float]:
    """Relative uncertainty of a difference in flow and pressure that mountings on unlike rigs don't share."""
    if all(each.rig == mounting.rig for each in others):
        return 0.0, 0.0
    runs = [[run for each in side for run in each.runs] for side in ((mounting,), others)]
    flow = math.hypot(*(max((run.shared_flow for run in side), default=0.0) for side in runs))
    pressure = math.hypot(*(max((run.shared_pressure for run in side), default=0.0) for side in runs))
    return flow, pressure


def _worth_telling(fault: Fault, limits: Limits) -> bool:
    if fault.kind == "leak":
        return fault.effect > limits.leak
    if fault.kind in ("unlisted", "exchanged"):
        return fault.effect > limits.nozzle_pattern and abs(fault.value - 1.0) < 1.0 - PLUGGED_FROM
    if fault.kind == "plugged":
        return fault.effect > limits.nozzle_pattern
    if fault.kind == "zero":
        return abs(fault.value) > max(limits.zero_drift, 2.0 * fault.fitted.sd)
    if fault.kind == "unit":
        return True
    return cause_of(fault.kind, fault.value) is not None


def _odd(
    mounting: MountingFacts, verdict: Verdict, others: Sequence[MountingFacts], log: Sequence[Event]
) -> Finding:
    best = verdict.best
    assert best is not None
    said = say(best, mounting.bores, mounting.sound_runs)
    names = " and ".join(each.name for each in others[:3])
    rivals = [say(each, mounting.bores, mounting.sound_runs).cause for each in verdict.rivals]
    cause = said.cause + (f"; nearly as likely: {rivals[0]}" if rivals else "")
    cause += _since(mounting, others, log) if best.kind in RIGS_FAULTS else ""
    return Finding(
        said.rule,
        mounting.subject,
        mounting.judged,
        Severity.BLOCKS,
        f"{mounting.name} leaves the curve of {names} by up to {100 * best.effect:.1f} % of the greatest flow",
        "the same curve within the spread of mountings",
        cause,
        said.test,
        mounting.runs[0].file,
        (mounting.fan,),
        (mounting.name,),
        common=said.common,
    )


RIGS_FAULTS = ("leak", "plugged", "unlisted", "zero", "pressure", "flow")
"""Faults of the rig, which may have begun with something that was done to it."""


def _since(mounting: MountingFacts, others: Sequence[MountingFacts], log: Sequence[Event]) -> str:
    """What was done to the rig between the other mountings and this one, in words, or ""."""
    before = max((each.date for each in others if each.date and each.date <= mounting.date), default="")
    if not mounting.date or not before:
        return ""
    done = [each for each in log if before <= each.time[:10] <= mounting.date
            and each.rig in (None, "", mounting.rig)]  # fmt: skip
    return f"; it began after {done[-1].text!r} ({done[-1].time[:10]})" if done else ""


# --- replicates ---------------------------------------------------------------------------------------------


def replicate_curves(pool: Sequence[MountingFacts], fan: FanFacts) -> Iterator[Finding]:
    """Rule 41, curves: mountings of one sample whose flow or pressure differ by more than repeatability.

    Of two, both are doubtful; of three or more, those that differ from most of the others. Eras of a rig are
    held apart: what differs between them is for a bridge to tell.
    """
    spread = max(fan.repeatability or 0.0, FIRST_YEAR_MOUNTING_SD)
    marks = fan.limits.replicates
    for sample in sorted({each.sample for each in pool}):
        own = [each for each in pool if each.sample == sample]
        apart: dict[str, list[tuple[MountingFacts, str, float, Severity]]] = {each.name: [] for each in own}
        compared = dict.fromkeys(apart, 0)
        for i, one in enumerate(own):
            for other in own[:i]:
                if one.rig == other.rig and one.era != other.era:
                    continue
                compared[one.name] += 1
                compared[other.name] += 1
                worst = _scale_apart(one, other, spread, marks)
                if worst is not None:
                    apart[one.name].append((other, *worst))
                    apart[other.name].append((one, *worst))
        for mounting in own:
            against = apart[mounting.name]
            if against and 2 * len(against) > compared[mounting.name]:
                alone = compared[mounting.name] == 1
                yield _replicate(mounting, *max(against, key=lambda each: each[2]), alone=alone)


def _scale_apart(
    one: MountingFacts, other: MountingFacts, spread: float, marks: float
) -> tuple[str, float, Severity] | None:
    """The quantity in which two mountings differ by more than repeatability, by how much, and how bad."""
    reference = _reference([other])
    if reference is None:
        return None
    found = scales_apart(cloud_of(one.sound_runs), reference)
    worst: tuple[str, float, Severity] | None = None
    for quantity, scale, rigs in zip(("flow", "pressure"), found, _unlike_rigs(one, [other]), strict=True):
        size = abs(scale.value - 1.0)
        known = math.hypot(math.sqrt(2.0) * spread, scale.sd, rigs)
        for factor, severity in ((marks, Severity.MARKS), (max(SURELY, marks), Severity.BLOCKS)):
            if size > factor / math.sqrt(2.0) * known and (worst is None or size >= worst[1]):
                worst = quantity, size, severity
    return worst


def _replicate(
    mounting: MountingFacts,
    other: MountingFacts,
    quantity: str,
    size: float,
    severity: Severity,
    *,
    alone: bool,
) -> Finding:
    either = f"one of {mounting.name} and {other.name} is wrong: " if alone else ""
    cause = {
        "flow": "a seal, a nozzle's list or bore, or another sample"
        if any(names for run in mounting.sound_runs for names in run.nozzles)
        else "a seal, the flow meter, or another sample",
        "pressure": "the pressure gauge's zero or tube, a seal, or another sample",
    }[quantity]
    return Finding(
        41,
        mounting.subject,
        mounting.judged,
        severity,
        f"{quantity} of {mounting.name} and {other.name}, one sample, differs by {100 * size:.1f} %",
        "within the repeatability limit 2.8 s_r",
        either + cause,
        "mount the sample once more: a third mounting decides",
        mounting.runs[0].file,
        (mounting.fan,),
        (mounting.name,) if severity is Severity.BLOCKS else (),
    )
