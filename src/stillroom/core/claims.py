"""Whether a measured value agrees with a printed one, given the uncertainty of the one and the tolerance of
the other.

The score is the ζ score of ISO 13528:2015, 9.6 (as transcribed by NIST's Dataplot, "ISO 13528 zeta score"), with
half of the printed tolerance as the claim's standard uncertainty: a tolerance is read as an interval of 95 %,
as an expanded uncertainty with k = 2 (JCGM 100:2008, 6.3.3).

The score alone is no proof: of fans that lie exactly on the limit of their tolerance it puts two in five beyond 2.
"Outside" therefore stands where the whole 95 % interval of what was measured lies beyond the tolerance, as
nonconformity is proven by ISO 14253-1 and by the guarded rejection of JCGM 106:2012, 8.3.3 (both from memory);
then |z| > 2 as well. Without a printed tolerance the two are the same.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from stillroom.errors import BadInput

COVERAGE = 2.0
"""Expanded over standard uncertainty where no 95 % interval is given [1]."""


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


def score_claim(
    mean: float, claim: float, uncertainty: float, tolerance: float = 0.0, expanded: float | None = None
) -> ClaimScore:
    """Judge a printed value by a measured one.

    z = (mean − claim) / √(u² + (tol/2)²)

    - within tolerance: |mean − claim| ≤ tol;
    - within uncertainty: farther away, but by no more than the expanded uncertainty U beyond the tolerance;
    - outside: |mean − claim| > tol + U.

    Parameters
    ----------
    mean : measured value.
    claim : printed value, in the same unit.
    uncertainty : standard uncertainty u of the mean, above 0, same unit.
    tolerance : printed tolerance ± tol, 0 where none is printed, same unit.
    expanded : U, half of the 95 % interval on the claim's side, same unit; 2 u where None.

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
    reach = COVERAGE * uncertainty if expanded is None else expanded
    if not (math.isfinite(reach) and reach >= 0.0):
        raise BadInput("expanded uncertainty of a measured value", found=repr(reach), expected="0 or more")
    difference = mean - claim
    z = difference / math.hypot(uncertainty, tolerance / 2.0)
    return ClaimScore(difference, z, _verdict(abs(difference), tolerance, reach))


def _verdict(away: float, tolerance: float, reach: float) -> ClaimVerdict:
    if away <= tolerance:
        return ClaimVerdict.WITHIN_TOLERANCE
    return ClaimVerdict.WITHIN_UNCERTAINTY if away <= tolerance + reach else ClaimVerdict.OUTSIDE
