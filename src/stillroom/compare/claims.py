"""Claims on the box beside what was measured: each with its verdict in words, or why it can't be checked."""

from __future__ import annotations

from dataclasses import dataclass, replace

from stillroom.compare.printed import Subject, Worse, subject_of
from stillroom.core.claims import ClaimVerdict, score_claim
from stillroom.records.products import Claim

SAMPLES_TO_CALL_OUTSIDE = 2
"""How many samples a verdict "outside" must rest on before it may be published as a failure: a single unit
may be the odd one."""

NOTE = "not published as a failure"


@dataclass(frozen=True)
class Measured:
    """What a fan was found to do under the claim's condition; SI.

    Parameters
    ----------
    value : its value. low, high : 95 % interval. uncertainty : standard uncertainty.
    samples, mountings : what it rests on. key : of the result, for tracing. marks : words beside the number.
    """

    value: float
    low: float
    high: float
    uncertainty: float
    samples: int
    mountings: int
    key: str
    marks: tuple[str, ...] = ()


@dataclass(frozen=True)
class ClaimCheck:
    """One claim with its verdict.

    Parameters
    ----------
    claim : the claim as printed. title : its quantity in words. value : the printed value in SI.
    tolerance : ±, relative [1], of a level in dB; 0 where none is printed.
    verdict : what may be said. z : the score [1]; None where it can't be checked.
    measured : what was found; None where it can't be checked. why : why it can't be checked, or "".
    unlike : whether that lies in the condition that the box prints, or in that it prints none.
    """

    claim: Claim
    title: str
    value: float
    tolerance: float
    verdict: ClaimVerdict
    z: float | None = None
    measured: Measured | None = None
    why: str = ""
    unlike: bool = False

    @property
    def falls_short(self) -> bool:
        """Whether it lies outside on the side where whoever buys gets less than was printed."""
        if self.verdict is not ClaimVerdict.OUTSIDE or self.measured is None:
            return False
        named = subject_of(self.claim.quantity)
        worse = named[0].worse if named else Worse.EITHER
        return worse in (Worse.EITHER, Worse.ABOVE if self.measured.value > self.value else Worse.BELOW)

    @property
    def is_failure(self) -> bool:
        """Whether it may be published as a failure: it falls short, by enough samples."""
        enough = self.measured is not None and self.measured.samples >= SAMPLES_TO_CALL_OUTSIDE
        return self.falls_short and enough

    @property
    def words(self) -> str:
        """The verdict as it is printed beside the numbers."""
        if self.measured is None:
            return f"{self.verdict.value}: {self.why}"
        if self.verdict is not ClaimVerdict.OUTSIDE:
            return self.verdict.value
        side = "above" if self.measured.value > self.value else "below"
        far = f"{self.far} " if self.far else ""
        said = f"{self.verdict.value}, {far}{side} the claim"
        if not self.falls_short:
            return f"{said}: no failure"
        said += "" if self.tolerance else " (no tolerance is printed)"
        return said if self.is_failure else f"{said}, 1 sample: {NOTE}"

    @property
    def is_level(self) -> bool:
        """Whether it is of a level: told as a difference in dB, as the ratio of two levels means nothing."""
        named = subject_of(self.claim.quantity)
        return named is not None and named[0] is Subject.NOISE

    @property
    def ratio(self) -> float | None:
        """Measured over claimed [1]; None where it can't be checked, of a level, or where the claim is zero."""
        return (
            self.measured.value / self.value if self.measured and self.value and not self.is_level else None
        )

    @property
    def difference(self) -> float | None:
        """Of a level, measured less claimed [dB]; None of other quantities, and where it can't be checked."""
        return self.measured.value - self.value if self.measured and self.is_level else None

    @property
    def far(self) -> str:
        """How far from the claim, without a side: "12 %", "2.4 dB"; "" where nothing tells it."""
        if self.difference is not None:
            return f"{abs(self.difference):.1f} dB"
        return f"{abs(100.0 * self.ratio - 100.0):.2g} %" if self.ratio else ""


def not_checkable(
    claim: Claim, title: str, value: float, tolerance: float, why: str, *, unlike: bool = False
) -> ClaimCheck:
    """A claim that can't be checked, with why."""
    return ClaimCheck(claim, title, value, tolerance, ClaimVerdict.NOT_CHECKABLE, why=why, unlike=unlike)


HELD_BACK = "one sample only: a second is to be measured before anything is said of it"
"""Why a failure that one sample speaks for isn't told."""


def held_back(found: ClaimCheck) -> ClaimCheck:
    """A check as it is published while one sample alone speaks for a failure: without a verdict and without its gap."""
    return not_checkable(found.claim, found.title, found.value, found.tolerance, HELD_BACK)


def check(claim: Claim, title: str, value: float, tolerance: float, measured: Measured) -> ClaimCheck:
    """Judge a claim by what was measured under its condition.

    Parameters
    ----------
    claim, title : the claim, and its quantity in words. value : as printed, in SI. tolerance : relative [1], of a
    level in dB. measured : of the fan.

    Raises
    ------
    BadInput : numbers that can't be judged (see `score_claim`).
    """
    half = measured.high - measured.value if value > measured.value else measured.value - measured.low
    found = ClaimCheck(claim, title, value, tolerance, ClaimVerdict.NOT_CHECKABLE, measured=measured)
    within = tolerance if found.is_level else abs(value) * tolerance
    score = score_claim(measured.value, value, measured.uncertainty, within, max(0.0, half))
    return replace(found, verdict=score.verdict, z=score.z)
