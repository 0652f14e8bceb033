"""The speed that a limit allows, as a page reads it from the packed data."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.publish.estimate.speeds import At


@dataclass(frozen=True)
class SpeedThere:
    """A speed at a limit.

    Parameters
    ----------
    record : of the table. speed : [1/s]. down, up : to the ends of its 95 % interval, of its logarithm. sd : relative.
    own : share of its variance that is the fan's own. flags : `At` there. top : greatest speed heard [1/s].
    full : whether the fan turns at full setting. short : whether it was heard only up to a lesser speed, and
    unseen : that only its airflow tells that.
    """

    record: int
    speed: float
    down: float
    up: float
    sd: float
    own: float
    flags: int
    top: float
    full: bool = False
    short: bool = False
    unseen: bool = False

    @property
    def slow(self) -> float:
        """Low end of the interval [1/s]."""
        return self.speed * math.exp(-self.down)

    @property
    def fast(self) -> float:
        """High end of the interval [1/s]."""
        return self.speed * math.exp(self.up)

    def judged(self, is_faster: bool) -> SpeedThere:
        """With what the airflow says: whether full setting lies well above the greatest speed heard."""
        unseen = bool(self.flags & At.FULL) and is_faster
        short = unseen or bool(self.flags & At.HEARD_SHORT)
        return replace(self, unseen=unseen, short=short, full=bool(self.flags & At.FULL) and not unseen)


class SpeedReading:
    """The tables of speeds."""

    def __init__(self, data: Mapping[str, Any], columns: Mapping[str, Array]) -> None:
        self._told, self._words, self._columns = data["sound"], data["words"], columns
        self._heard = data["heard"]
        self._of: dict[int, dict[str, int]] = {}
        for record, fan in enumerate(self._told["fan"]):
            self._of.setdefault(fan, {})[self._heard[self._told["heard"][record]]] = record
        self._first = np.concatenate([[0], np.cumsum(self._told["knots"])]).astype(int)
        self._effects = np.concatenate(
            [[0], np.cumsum([len(each) for each in self._told["sources"]])]
        ).astype(int)

    def record(self, fan: int, obstacle: str) -> int | str:
        """The table that serves behind an obstacle, or why there is none."""
        own = self._of.get(fan, {})
        found = own.get(obstacle, own.get(""))
        if found is not None:
            return found
        if own:
            return f"sound measured only with {', '.join(sorted(own))}"
        gone = self._told["gone"].get(str(fan))
        return str(self._words[gone]) if gone is not None else "no sound measured"

    def at(self, record: int, limit: float) -> SpeedThere | str:
        """The speed at a limit [dB], or why there is none."""
        first, last = self._first[record], self._first[record + 1] - 1
        limits = self._columns["limits"]
        if limit < limits[first]:
            return str(self._words[self._told["loud"][record]])
        low = int(min(np.searchsorted(limits[first : last + 1], limit, side="right") - 1 + first, last))
        following = min(low + 1, last)
        width = float(limits[following] - limits[low])
        share = min(max((limit - float(limits[low])) / width, 0.0), 1.0) if width > 0.0 else 0.0

        def joined(name: str) -> float:
            column = self._columns[name]
            return float(column[low] * (1.0 - share) + column[following] * share)

        speeds, flags = self._columns["speed"], self._columns["flags"]
        here, there = int(flags[low]), int(flags[following])
        speed = math.exp(math.log(speeds[low]) * (1.0 - share) + math.log(speeds[following]) * share)
        return SpeedThere(record, speed, joined("down"), joined("up"), joined("sd"), joined("own"),
                          here | ((here | there) & At.HIGH_FULL), float(speeds[last]))  # fmt: skip

    def said(self, record: int, there: SpeedThere, *, through: bool) -> list[str]:
        """What must be said beside anything that leans on a speed."""
        said = [self._words[at] for at in self._told["marks"][record]]
        said += ["free-air noise"] if through and self._told["heard"][record] == 0 else []
        flags = there.flags
        if there.full or flags & At.HEARD_SHORT:
            said.append(self._words[self._told["topping"][record]])
        elif there.unseen:
            said.append(f"its sound was measured only up to {there.top * 60:,.0f} rpm")
        elif flags & At.AT_LEAST:
            said.append("the limit lies in the noise floor")
        said += ["two speeds possible"] if flags & At.TWO_SPEEDS else []
        said += ["may not run this quiet"] if flags & At.MAY_BE_LOUD else []
        return said

    def direction(self, record: int) -> dict[int, float]:
        """{source: its part of the direction of all shared errors of the level}."""
        first = self._effects[record]
        parts = self._columns["effects"]
        return {
            source: float(parts[first + at]) / 127.0
            for at, source in enumerate(self._told["sources"][record])
        }
