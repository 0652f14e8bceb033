"""Whether a measured value agrees with a printed one, given the uncertainty of the one and the tolerance of
the other.

The score is the ζ score of ISO 13528:2015, 9.6 (as transcribed by NIST's Dataplot, "ISO 13528 zeta score"), with
half of the printed tolerance as the claim's standard uncertainty: a tolerance is read as an interval of 95 %,
as an expanded uncertainty with k = 2 (JCGM 100:2008, 6.3.3). With k = 2, |ζ| ≤ 2 is the same as |E_n| ≤ 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from stillroom.errors import BadInput

LIMIT = 2.0
"""|z| up to which a difference is put down to tolerance and uncertainty together: the warning limit of
ISO 13528 [1]."""


class ClaimVerdict(StrEnum):
    """What may be said of a printed value."""

    WITHIN_TOLERANCE = "within tolerance"
    WITHIN_UNCERTAINTY = "within uncertainty"
    OUTSIDE = "outside"
    NOT_CHECKABLE = "not checkable"


@dataclass(frozen=True)
class ClaimScore:
    """How far a measured value lies from a printed one.

    Parameters
    ----------
    difference : measured less printed, in the unit of both.
    z : the difference over √(u² + (tol/2)²) [1].
    verdict : what may be said.
    """

    difference: float
    z: float
    verdict: ClaimVerdict


def score_claim(mean: float, claim: float, uncertainty: float, tolerance: float = 0.0) -> ClaimScore:
    """Judge a printed value by a measured one.

    z = (mean − claim) / √(u² + (tol/2)²)

    - within tolerance: |mean − claim| ≤ tol;
    - within uncertainty: farther away, but |z| ≤ 2;
    - outside: |z| > 2.

    With u = 0 the last two limits fall together, so that nothing is both within tolerance and outside.

    Parameters
    ----------
    mean : measured value.
    claim : printed value, in the same unit.
    uncertainty : standard uncertainty u of the mean, above 0, same unit.
    tolerance : printed tolerance ± tol, 0 where none is printed, same unit.

    Raises
    ------
    BadInput : a number that isn't finite, an uncertainty that isn't positive, or a negative tolerance.
    """
    for name, value in (("measured", mean), ("claimed", claim), ("tolerance", tolerance)):
        if not math.isfinite(value):
            raise BadInput(f"{name} value of a claim", found=repr(value), expected="a finite number")
    if not (math.isfinite(uncertainty) and uncertainty > 0.0):
        raise BadInput("uncertainty of a measured value", found=repr(uncertainty), expected="above 0")
    if tolerance < 0.0:
        raise BadInput("tolerance of a claim", found=repr(tolerance), expected="0 or more")
    difference = mean - claim
    z = difference / math.hypot(uncertainty, tolerance / 2.0)
    return ClaimScore(difference, z, _verdict(difference, z, tolerance))


def _verdict(difference: float, z: float, tolerance: float) -> ClaimVerdict:
    if abs(difference) <= tolerance:
        return ClaimVerdict.WITHIN_TOLERANCE
    return ClaimVerdict.WITHIN_UNCERTAINTY if abs(z) <= LIMIT else ClaimVerdict.OUTSIDE
