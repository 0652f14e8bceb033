"""What goes into a characteristic: the reduced points of one mounting, with their errors by kind."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.errors import BadInput

LEAST_POINTS = 6


@dataclass(frozen=True)
class Readings:
    """All points of one mounting of a sample, reduced to dimensionless form.

    Several sweeps (one speed each) may lie in one `Readings`; within a sweep the points stand in the order
    in which they were read, since drift is looked for along that order.

    Errors come in two kinds. A *shared* source moves many points (and other fans) together; it is given
    as the effect of one standard deviation on each point, with the source's identity. An *own* error belongs
    to one point. All shared sources are drawn as normal, rectangular ones too: a fitted coefficient is a
    weighted sum of many of them, and the sum of many rectangular errors is normal within what a 95 % interval
    can show (JCGM 101:2008, 5.11 and G.2 of JCGM 100:2008).

    Parameters
    ----------
    flow_coefficient : φ = Q/(A u) [1], shape (n,).
    pressure_coefficient : ψ = p/(½ ρ u²) [1], shape (n,).
    reynolds : Reynolds number of each point [1], shape (n,).
    sweep : number of the sweep that a point belongs to, 0 … s−1, shape (n,).
    shared_flow : effect on φ of +1 standard deviation of each shared source [1], shape (k, n).
    shared_pressure : the same on ψ [1], shape (k, n).
    own_flow : standard deviation of the own error of φ [1], shape (n,).
    own_pressure : standard deviation of the own error of ψ [1], shape (n,).
    own_covariance : covariance of these two (the speed sits in both) [1], shape (n,).
    sources : identities of the shared sources, k of them.
    identity : identity of the mounting; the draws of its own errors are seeded from it.

    Raises
    ------
    BadInput : a shape doesn't fit, a value isn't finite, a standard deviation is negative, or there are fewer
        than six points.
    """

    flow_coefficient: Array
    pressure_coefficient: Array
    reynolds: Array
    sweep: NDArray[np.intp]
    shared_flow: Array
    shared_pressure: Array
    own_flow: Array
    own_pressure: Array
    own_covariance: Array
    sources: tuple[str, ...]
    identity: str

    def __post_init__(self) -> None:
        n, k = len(self.flow_coefficient), len(self.sources)
        thing = f"readings of {self.identity}"
        if n < LEAST_POINTS:
            raise BadInput(thing, found=f"{n} points", expected=f"at least {LEAST_POINTS}")
        for field in fields(self):
            value = getattr(self, field.name)
            if not isinstance(value, np.ndarray):
                continue
            shape = (k, n) if field.name.startswith("shared") else (n,)
            if value.shape != shape:
                raise BadInput(
                    thing, place=field.name, found=f"shape {value.shape}", expected=f"shape {shape}"
                )
            if not np.all(np.isfinite(value)):
                bad = np.argwhere(~np.isfinite(value))[0]
                raise BadInput(
                    thing,
                    place=f"{field.name}, point {bad[-1]}",
                    found="not a number",
                    expected="a finite value",
                )
        if np.any(self.own_flow < 0) or np.any(self.own_pressure < 0):
            raise BadInput(thing, found="a negative standard deviation", expected="zero or more")
        if np.max(self.flow_coefficient) <= 0.0:
            raise BadInput(thing, found="no point with flow", expected="a sweep towards free delivery")
        if np.any(self.reynolds <= 0):
            raise BadInput(thing, found="a Reynolds number of zero or less", expected="more than zero")
        if len(set(self.sources)) != k:
            raise BadInput(thing, found="one shared source twice", expected="each identity once")

    @property
    def points(self) -> int:
        """Number of points."""
        return len(self.flow_coefficient)

    @property
    def sweeps(self) -> tuple[int, ...]:
        """The numbers of the sweeps that occur."""
        return tuple(int(i) for i in np.unique(self.sweep))
