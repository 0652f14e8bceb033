"""A speed of its own in each row of a curve: what a noise limit allows, or an airflow needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stillroom.core.arrays import Array
from stillroom.errors import UnknownThing

Flags = NDArray[np.bool_]

BEYOND = 0.03
"""How far beyond the speeds tested a speed may lie and still be modelled [1]; further out it is refused (our
choice: ψ(φ) changes with the Reynolds number by some thousandths there)."""

VERSION = 2
"""Raised when the same speeds would give another curve."""

HEARD_UP_TO = "its sound was measured only up to"
"""The mark of a fan that keeps to the limit at the greatest speed heard, which is not its full speed."""

SHORT_OF_FULL = 0.10
"""A greatest speed heard from which full speed in the airflow sweeps is further up is not full speed [1]: behind an
obstacle and in free air a fan's full speed differs by less (common practice)."""


@dataclass(frozen=True)
class RowSpeeds:
    """A speed in each row, with sources of its own.

    Parameters
    ----------
    sources : identities of the k sources that move it; what belongs to the speed alone is one of them, so that
        several mountings at that speed have it in common.
    speeds : central, moved by +1 standard deviation of each source, then the trials, (1 + k + M,) [1/s].
    full : rows in which the fan runs at full setting, because it can't reach the speed, (1 + k + M,).
    greatest_is_full : whether the greatest setting of the sweeps is the fan's full setting, so that no row can be
        faster than that.
    """

    sources: tuple[str, ...]
    speeds: Array
    full: Flags
    greatest_is_full: bool = True

    @property
    def central(self) -> float:
        """The central speed [1/s]."""
        return float(self.speeds[0])

    @property
    def heard(self) -> float | None:
        """The greatest speed heard, which rows at full setting have [1/s]; None where no row is."""
        return float(self.speeds[self.full].max()) if self.full.any() else None

    def rows(self, sources: tuple[str, ...]) -> tuple[Array, Flags]:
        """Speeds and full rows in another order of sources, (1 + k' + M,); a source that doesn't move the speed
        leaves the central row.

        Raises
        ------
        UnknownThing : `sources` leaves out one of these.
        """
        place = {name: at for at, name in enumerate(self.sources, start=1)}
        if missing := set(self.sources) - set(sources):
            raise UnknownThing("shared source", found=f"no place for {min(missing)}", expected="all sources")
        k = len(self.sources)
        order = [0, *(place.get(name, 0) for name in sources), *range(1 + k, len(self.speeds))]
        return self.speeds[order], self.full[order]
