"""Rules on what the box claims, by the verdicts that claims are given wherever they are shown."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.quality.causes import cause_of
from stillroom.quality.facts import ClaimFacts
from stillroom.quality.finding import Finding
from stillroom.quality.rules import Severity
from stillroom.quality.saying import about_fan
from stillroom.records.fields import as_json
from stillroom.records.keys import key_of
from stillroom.records.limits import Limits

UNIT_WITHIN = 0.10
"""A mix-up of units explains a distance from the box within this [1]."""

LEVEL_FAR = 6.0
"""How far from its box a level may lie before the data are looked at [dB]: as much as half or twice the distance
makes (common practice)."""

SURELY = 2.0
"""|z| from which a claim far off is no chance."""

SAMPLES = 2
"""From so many samples on a failure may be published: a single unit may be the odd one."""


def claim_findings(claim: ClaimFacts, limits: Limits) -> Iterator[Finding]:
    """Rules 42 and 49 for one claim.

    Rule 42 blocks the sentence that a box fails while it rests on one sample; it blocks no number. Far off the
    box, whatever the side and however many samples, is a mark: the data may be what is wrong.
    """
    if claim.why:
        yield about_fan(
            49, claim.claim.fan, _key(claim), f"{_printed(claim)} is not checkable: {claim.why}",
            "the condition as printed: setting and place on the curve; without it nothing fails",
            test="look at the box again; write down all that stands beside the number", common="not checkable",
        )  # fmt: skip
    elif claim.z is not None and claim.difference is not None:
        yield from _louder(claim, claim.difference, claim.z)
    elif claim.ratio is not None and claim.z is not None:
        yield from _off(claim, claim.ratio, claim.z, limits.box_claim)


def _rests_on_one(claim: ClaimFacts) -> bool:
    return claim.outside and claim.falls_short and claim.samples < SAMPLES


def _louder(claim: ClaimFacts, difference: float, z: float) -> Iterator[Finding]:
    """Rule 42 of a level, which differs in dB."""
    single = _rests_on_one(claim)
    if not single and (abs(difference) <= LEVEL_FAR or abs(z) <= SURELY):
        return
    yield about_fan(
        42, claim.claim.fan, _key(claim),
        f"{_printed(claim)} ({claim.claim.condition}): {difference:+.1f} dB was measured, z = {z:.1f}, by"
        f" {_samples(claim)}",
        "a second sample before the failure is published" if single else f"within {LEVEL_FAR:g} dB of the claim",
        severity=Severity.BLOCKS if single else Severity.MARKS,
        cause="one sample may be the odd one" if single else "",
        test="measure a second sample; leave the failure out until then" if single else
        "look at the distance and the setting on the box again",
        common="a box that fails by one sample" if single else "far off the box",
    )  # fmt: skip


def _samples(claim: ClaimFacts) -> str:
    return "1 sample" if claim.samples == 1 else f"{claim.samples} samples"


def _off(claim: ClaimFacts, ratio: float, z: float, far: float) -> Iterator[Finding]:
    single = _rests_on_one(claim)
    if not single and (abs(ratio - 1.0) <= far or abs(z) <= SURELY):
        return
    cause = cause_of(claim.quantity, ratio, UNIT_WITHIN)
    yield about_fan(
        42, claim.claim.fan, _key(claim),
        f"{_printed(claim)} ({claim.claim.condition}): {100.0 * (ratio - 1.0):+.1f} % was measured, z = {z:.1f}, by"
        f" {_samples(claim)}",
        "a second sample before the failure is published" if single else f"within {100 * far:g} % of the claim",
        severity=Severity.BLOCKS if single else Severity.MARKS,
        cause=f"{cause.words}, or the box's number was written down in the wrong unit" if cause
        else "one sample may be the odd one" if single else "",
        test="look at the unit on the box and in the export" if cause
        else "measure a second sample; leave the failure out until then" if single else "",
        common="a box that fails by one sample" if single else "far off the box",
    )  # fmt: skip


def _printed(claim: ClaimFacts) -> str:
    return f"{claim.claim.quantity} of {claim.claim.value:g} {claim.claim.unit}"


def _key(claim: ClaimFacts) -> str:
    return key_of("claim", as_json(claim.claim), claim.judged)
