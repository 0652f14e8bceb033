"""What prices say beside a ranking: who is beaten on both price and merit, and what the next step buys."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from stillroom.core.multiple import Merit, Verdict
from stillroom.core.settling import Further

Json = str | int | float | bool | None | list["Json"] | dict[str, "Json"]


@dataclass(frozen=True)
class PricedFan:
    """A fan of the list with its price.

    Parameters
    ----------
    fan, price : its name, and what as many of it as one answer takes cost, in the list's currency.
    date, region, shop : of the price; "" where nobody told. beaten_by : a fan that costs no more and is ahead of it,
    "" where it stands on the front.
    """

    fan: str
    price: float
    date: str = ""
    region: str = ""
    shop: str = ""
    beaten_by: str = ""

    def as_dict(self) -> dict[str, Json]:
        """The documented JSON of it."""
        return {
            "fan": self.fan,
            "price": self.price,
            "date": self.date or None,
            "region": self.region or None,
            "shop": self.shop or None,
            "beaten_by": self.beaten_by or None,
        }


@dataclass(frozen=True)
class PriceStep:
    """What paying more buys, from one fan to another.

    Parameters
    ----------
    cheaper, dearer : the two. extra : that the dearer one costs more.
    gain, low, high : by how much it is better, with its 95 % interval; ∓∞ where a bound leaves an end open.
    verdict : of the dearer one against the cheaper. further : what would settle it. margin : the practical one.
    """

    cheaper: str
    dearer: str
    extra: float
    gain: float
    low: float
    high: float
    verdict: Verdict
    further: Further
    margin: float

    @property
    def is_noticed(self) -> bool:
        """Whether it is sure that a buyer gets something for it."""
        return self.verdict is Verdict.AHEAD

    def as_dict(self) -> dict[str, Json]:
        """The documented JSON of it; an open end is null."""
        return {
            "from": self.cheaper,
            "to": self.dearer,
            "extra": self.extra,
            "gain": self.gain,
            "low": self.low if math.isfinite(self.low) else None,
            "high": self.high if math.isfinite(self.high) else None,
            "verdict": self.verdict.value,
        }

    def times(self, factor: float) -> PriceStep:
        """The same with its gain in another unit."""
        return replace(
            self,
            gain=self.gain * factor,
            low=self.low * factor,
            high=self.high * factor,
            margin=self.margin * factor,
        )


@dataclass(frozen=True)
class PriceList:
    """What prices say beside a ranking; there is no performance per money.

    Parameters
    ----------
    currency : of all prices, "" where nobody told. fans_each : how many of a fan one answer takes.
    fans : those with a price, cheapest first. best : the cheapest of those that may be the best, "" where none has a
    price. steps : along the front, from its cheapest fan on, each dearer and better than all before.
    noticed : from the cheapest of the front to the cheapest that is ahead of it, where no step goes there.
    without : {fan: why it has no price here}. merit : which way is better.
    """

    currency: str
    fans_each: int
    fans: tuple[PricedFan, ...]
    best: str
    steps: tuple[PriceStep, ...]
    noticed: PriceStep | None = None
    without: Mapping[str, str] = field(default_factory=dict)
    merit: Merit = Merit.MORE

    @property
    def front(self) -> tuple[PricedFan, ...]:
        """The fans that no other beats on both price and merit beyond the margin, cheapest first."""
        return tuple(each for each in self.fans if not each.beaten_by)

    def price_of(self, fan: str) -> PricedFan:
        """The price of a fan of the list."""
        return next(each for each in self.fans if each.fan == fan)

    @property
    def dates(self) -> tuple[str, str]:
        """Of the oldest and the newest price; "" where none is dated."""
        told = sorted(each.date for each in self.fans if each.date)
        return (told[0], told[-1]) if told else ("", "")

    def as_dict(self) -> dict[str, Json]:
        """The documented JSON of a price list."""
        return {
            "currency": self.currency or None,
            "fans_each": self.fans_each,
            "fans": [each.as_dict() for each in self.fans],
            "front": [each.fan for each in self.front],
            "cheapest_of_best": self.best or None,
            "steps": [each.as_dict() for each in self.steps],
            "next_noticed": self.noticed.as_dict() if self.noticed else None,
            "without": [{"fan": fan, "why": why} for fan, why in self.without.items()],
        }

    def times(self, factor: float) -> PriceList:
        """The same with all gains in another unit."""
        return replace(
            self,
            steps=tuple(each.times(factor) for each in self.steps),
            noticed=self.noticed.times(factor) if self.noticed else None,
        )
