"""What a decibel is worth at a noise limit, in the unit of what is ranked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from statistics import median

Json = str | int | float | bool | None | list["Json"] | dict[str, "Json"]


@dataclass(frozen=True)
class Worth:
    """By how much the measure gets better for each decibel that a fan may be louder, about the limit.

    Parameters
    ----------
    limit : in words. per_decibel : {fan: change for the better for 1 dB more}, in the ranking's unit; fans whose
    level hardly changes there are left out. flat : these, each with why.
    """

    limit: str
    per_decibel: Mapping[str, float]
    flat: Mapping[str, str]

    @property
    def usual(self) -> float:
        """The median over the fans; there is at least one."""
        return median(self.per_decibel.values())

    def in_decibels(self, fan: str, gap: float) -> float:
        """What a gap, in the ranking's unit, is worth in decibels to a fan, or to the usual one [dB]."""
        return abs(gap) / self.per_decibel.get(fan, self.usual)

    def as_dict(self) -> dict[str, Json]:
        """The documented JSON of it."""
        return {
            "limit": self.limit,
            "per_decibel": dict(self.per_decibel),
            "median": self.usual,
            "flat": [{"fan": fan, "why": why} for fan, why in self.flat.items()],
        }

    def times(self, factor: float) -> Worth:
        """The same in another unit."""
        return Worth(
            self.limit, {fan: each * factor for fan, each in self.per_decibel.items()}, dict(self.flat)
        )
