"""The speed that a noise limit allows a fan: from all its sound, with an obstacle mounted or in free air."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.core.sound.fan_levels import FanLevels
from stillroom.core.sound.limit import LimitSpeed
from stillroom.core.sound.orders import NamedTone
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.lab.book import Book
from stillroom.lab.recipes import Graph
from stillroom.measures import Condition
from stillroom.store.lab import Lab

FREE_AIR = "free-air noise"
"""The mark of a level that was measured in free air and stands beside something behind an obstacle."""


@dataclass(frozen=True)
class FanLimit:
    """The speed at which a fan meets a noise limit.

    Parameters
    ----------
    fan : its name. limit : the speeds allowed, (1 + k + M,), and how the limit is met. levels : of the fan.
    sources : identities of the k shared sources of the rows.
    geometry : of the microphone. obstacle_used : with which the sound was measured, "" in free air.
    samples, mountings : what the levels rest on. key : of the kept result.
    duty : at that speed [1]; None where no sweep and no dwell tells it. volts : likewise [V].
    loudness : there, with its 95 % interval [sone]; None where no bands were read.
    tones : the prominent ones of the dwells nearest to that speed. marks : what must be said beside.
    """

    fan: str
    limit: LimitSpeed
    levels: FanLevels
    sources: tuple[str, ...]
    geometry: Geometry
    obstacle_used: str
    samples: int
    mountings: int
    key: str
    duty: float | None = None
    volts: float | None = None
    loudness: tuple[float, float, float] | None = None
    tones: tuple[NamedTone, ...] = ()
    marks: tuple[str, ...] = ()


def fan_limit(lab: Lab, book: Book, graph: Graph, fan: str, obstacle: str, condition: Condition) -> FanLimit:
    """The speed that the noise limit of a condition allows a fan.

    Parameters
    ----------
    obstacle : with which the fan stands, "" in free air; where no sound was measured with it, the sound in free air
        stands in and is marked so.

    Raises
    ------
    NotPossible : no sound of the fan that can be compared, with why.
    """
    raise NotImplementedError
