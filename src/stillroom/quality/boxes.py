"""Rules on what the box claims, held against the mountings that nothing else speaks against."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from stillroom.core.characteristic import Part, pressure_coefficients
from stillroom.core.claims import ClaimVerdict, score_claim
from stillroom.core.fanlaws import STANDARD_DENSITY, flow_from_coefficient
from stillroom.core.spread import FIRST_YEAR_MOUNTING_SD, FIRST_YEAR_SAMPLE_SD
from stillroom.quality.causes import cause_of
from stillroom.quality.facts import ClaimFacts, FanFacts, MountingFacts, RunFacts
from stillroom.quality.finding import Finding
from stillroom.quality.saying import about_fan, judged
from stillroom.records.fields import as_json
from stillroom.records.keys import key_of

CHECKED = ("flow", "pressure", "speed")
"""Quantities of claims that are held against readings here."""

UNIT_WITHIN = 0.10
"""A mix-up of units explains a distance from the box within this [1]."""


def claims(fan: FanFacts) -> Iterator[Finding]:
    """Rules 42 and 49: what the box claims, where it can be checked."""
    for claim in fan.claims:
        if not claim.claim.condition or (claim.quantity in CHECKED and claim.why):
            yield _not_checkable(fan, claim)
        elif claim.quantity in CHECKED:
            yield from _judge(fan, claim)


def _not_checkable(fan: FanFacts, claim: ClaimFacts) -> Finding:
    printed = claim.claim
    why = claim.why if printed.condition else "no condition"
    return about_fan(
        49, fan, key_of("claim", as_json(printed)),
        f"{printed.quantity} of {printed.value:g} {printed.unit} is not checkable: {why}",
        "the condition as printed: setting and place on the curve; without it nothing fails",
        test="look at the box again; write down all that stands beside the number", common="not checkable",
    )  # fmt: skip


def _judge(fan: FanFacts, claim: ClaimFacts) -> Iterator[Finding]:
    measured = [(each, value) for each in fan.mountings if (value := _measured(each, claim)) is not None]
    if not measured or claim.value <= 0.0:
        return
    mean = float(np.mean([value for _, value in measured]))
    sure = mean * _relative_u([each for each, _ in measured], claim.quantity)
    score = score_claim(mean, claim.value, sure, claim.tolerance)
    off = mean / claim.value - 1.0
    if score.verdict is not ClaimVerdict.OUTSIDE or abs(off) <= fan.limits.box_claim:
        return
    samples = len({each.sample for each, _ in measured})
    cause = cause_of(claim.quantity, mean / claim.value, UNIT_WITHIN)
    printed = claim.claim
    yield about_fan(
        42, fan, key_of("claim", as_json(printed), judged(fan)),
        f"{printed.quantity} is {100 * off:+.0f} % off the box's {printed.value:g} {printed.unit}"
        f" ({printed.condition}), z = {score.z:.1f}, by {samples} sample{'s' if samples > 1 else ''}",
        f"within {100 * fan.limits.box_claim:g} % of the claim"
        + ("" if samples > 1 else "; a failure needs a second sample"),
        cause=f"{cause.words}, or the box's number was written down in the wrong unit" if cause else "",
        test="look at the unit on the box and in the export" if cause else "",
    )  # fmt: skip


def _relative_u(mountings: Sequence[MountingFacts], quantity: str) -> float:
    """Standard uncertainty of the mean, relative: what the rig shares, mountings, samples [1]."""
    runs = [run for each in mountings for run in each.sound_runs]
    shared = {
        "flow": max((run.shared_flow for run in runs), default=0.0),
        "pressure": max((run.shared_pressure for run in runs), default=0.0),
    }.get(quantity, 0.002)
    samples = len({each.sample for each in mountings})
    own = FIRST_YEAR_MOUNTING_SD**2 / len(mountings) + FIRST_YEAR_SAMPLE_SD**2 / samples
    return math.hypot(shared, math.sqrt(own))


def _measured(mounting: MountingFacts, claim: ClaimFacts) -> float | None:
    """What a claim speaks of at full setting, in SI at 1.2 kg/m³; None where it can't be told."""
    run = _full(mounting)
    if run is None or run.speed is None or mounting.obstacle:
        return None
    if claim.quantity == "speed":
        return float(run.speed[int(np.argmax(run.flow))])
    if claim.quantity == "pressure":
        first = int(np.argmin(run.flow))
        return float(run.pressure[first] * STANDARD_DENSITY / run.density) if run.flow[first] <= 0.0 else None
    return _free_airflow(mounting, run)


def _full(mounting: MountingFacts) -> RunFacts | None:
    """The sweep at full duty or 12 V that the fit uses."""
    return next((each for each in mounting.sound_runs if each.setting in (1.0, 12.0)), None)


def _free_airflow(mounting: MountingFacts, run: RunFacts) -> float | None:
    """Flow where the curve's pressure is zero, at the speed read nearest to it."""
    if mounting.curve is None or run.speed is None:
        return None
    phi = np.linspace(0.5 * mounting.curve.reach[1], 1.1 * mounting.curve.reach[1], 200)
    psi = pressure_coefficients(mounting.curve, phi, float(np.median(run.reynolds)), part=Part.CENTRAL)[0]
    crossed = np.flatnonzero((psi[:-1] > 0.0) & (psi[1:] <= 0.0))
    if not len(crossed):
        return None
    speed = float(run.speed[int(np.argmax(run.flow))])
    return float(flow_from_coefficient(phi[crossed[-1]], speed, mounting.diameter))
