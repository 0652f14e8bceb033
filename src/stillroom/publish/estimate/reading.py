"""What a page finds of one fan, read from the packed data by the same arithmetic as its script `lookup.js`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.row_speeds import SHORT_OF_FULL
from stillroom.errors import BadInput
from stillroom.measures.found import SLACK
from stillroom.publish.estimate.columns import unpacked
from stillroom.publish.estimate.packing import FORMAT
from stillroom.publish.estimate.reading_flow import AirflowReading, Point, Used
from stillroom.publish.estimate.reading_speed import SpeedReading, SpeedThere
from stillroom.publish.estimate.speeds import At

SLIGHTLY, SAME, TURNS = 0.0052, 1e-6, 8  # the lab takes 0.5 %; what is packed is rounded
STEP, WIDER, STEEPEST = 1.01, 1.02, 2.2

ONE_SIDED = 0.9
"""Of an error that most trials don't have, as at full setting, so much adds to a normal one in quadrature [1]: 0.86 to
0.96 where a tenth to a third of the trials have it, by simulation.
"""


@dataclass(frozen=True)
class Settings:
    """What a reader asks. `resistance` is (a, b) in SI, `limit` in dB(A) or None for full setting, `size` in mm."""

    obstacle: str = ""
    resistance: tuple[float, float] | None = None
    limit: float | None = None
    fans: int = 1
    tiles: float = 1.0
    size: float | None = None
    ceiling: float | None = None
    only: tuple[int, ...] | None = None


@dataclass(frozen=True)
class Question:
    """The settings, made ready for every fan."""

    settings: Settings
    named: Mapping[str, Any] | None
    load: Mapping[str, Any] | None

    @property
    def mounted(self) -> int:
        """Place of the obstacle that fans were measured with, 0 for none."""
        return int(self.named["mounted"]) if self.named else 0

    @property
    def through(self) -> bool:
        """Whether the air goes through something."""
        return self.named is not None or self.settings.resistance is not None

    @property
    def scale(self) -> float:
        """Flow through one piece of the obstacle over that of one fan [1]."""
        return self.settings.fans / self.settings.tiles

    @property
    def limit(self) -> float | None:
        """What one of the fans may have [dB]."""
        told = self.settings.limit
        return None if told is None else told - 10.0 * math.log10(self.settings.fans)

    @property
    def kind(self) -> int:
        """Which spreads hold."""
        return (0 if self.through else 2) + (0 if self.settings.limit is None else 1)


@dataclass(frozen=True)
class Spread:
    """Relative variance of what is a fan's own, its squared half-widths, and what it is made of."""

    variance: float
    down: float
    up: float
    sample: float = 0.0
    mounting: float = 0.0
    counts: tuple[int, ...] = ()


@dataclass(frozen=True)
class Heard:
    """What the sound makes of a flow: relative half-widths, standard deviation, and the fan's own share of it."""

    down: float = 0.0
    up: float = 0.0
    sd: float = 0.0
    own: float = 1.0

    @property
    def rest(self) -> float:
        """The share that other fans may have too."""
        return max(0.0, 1.0 - self.own)


@dataclass(frozen=True)
class Value:
    """Everything about one fan; flows of all fans together [m³/s], errors relative to them [1].

    Parameters
    ----------
    low_value, high_value : ends of a range, else the value; ∞ where it is a lower bound.
    deeper, higher : how far beyond those ends the other points lie. shared : by component.
    by_sound : standard deviation by sources of the sound, by_source : {source: its part of that direction}.
    """

    fan: int
    value: float
    speed: float
    how: str
    marks: tuple[str, ...]
    bound: str
    low_value: float
    high_value: float
    deeper: float
    higher: float
    shared: Array
    by_sound: float
    by_source: Mapping[int, float]
    own: Spread
    heard: Heard = field(default_factory=Heard)

    @property
    def variance(self) -> float:
        """Relative variance of all that is the fan's own."""
        return self.own.variance + self.heard.sd**2 * self.heard.own

    @property
    def down(self) -> float:
        """Relative half-width downwards of all that is the fan's own, a range's other points among it."""
        return math.sqrt(self.own.down + self.heard.down**2 * self.heard.own + self.deeper**2)

    @property
    def up(self) -> float:
        """The same upwards."""
        return math.sqrt(self.own.up + self.heard.up**2 * self.heard.own + self.higher**2)


class Reading:
    """The packed data, opened.

    Parameters
    ----------
    data : as `Estimate.data`, or read from `data.js`.

    Raises
    ------
    BadInput : data of another form.
    """

    def __init__(self, data: Mapping[str, Any]) -> None:
        if data["format"] != FORMAT:
            raise BadInput("data of the page", found=repr(data["format"]), expected=FORMAT)
        self.data, self.words = data, data["words"]
        columns = {name: unpacked(each) for name, each in data["airflow"]["columns"].items()}
        self.flows = AirflowReading(data, columns)
        self.speeds = SpeedReading(
            data, {name: unpacked(each) for name, each in data["sound"]["columns"].items()}
        )

    def question(self, settings: Settings) -> Question:
        """Settings made ready; KeyError for an obstacle that isn't there."""
        named = None
        if settings.resistance is None and settings.obstacle:
            named = {each["name"]: each for each in self.data["obstacles"]}[settings.obstacle]
        own = settings.resistance and {"a": settings.resistance[0], "b": settings.resistance[1]}
        return Question(settings, named, own or (None if named and named["mounted"] else named))

    def fan_at(self, fan: int, asked: Question) -> Value | str:
        """One fan under a question, or why it has no value."""
        record = self.flows.record(fan, asked.mounted)
        if isinstance(record, str):
            return record
        said = [self.words[at] for at in self.data["airflow"]["marks"][record]]
        speed, there = math.inf, None
        if asked.limit is not None:
            heard = self.speeds.record(fan, str(asked.named["words"]) if asked.named else "")
            if isinstance(heard, str):
                return heard
            found = self.speeds.at(heard, asked.limit)
            if isinstance(found, str):
                return found
            there = found.judged(self.flows.full_at(record, 1.0, 0.7) > found.top * (1.0 + SHORT_OF_FULL))
            speed = math.inf if there.full else there.speed
            said += self.speeds.said(heard, there, through=asked.through)
        if speed == math.inf and not self.flows.has_full(record):
            return "no sweep at full setting that can be used"
        used = self.flows.used_at(record, speed)
        if not used:
            low, high = self.flows.reach(record)
            return f"speed {speed * 60:,.0f} rpm: {_tested(low, high)}"
        if len(used) < self.flows.mountings(record):
            said.append("a mounting could not be used")
        if speed < math.inf:
            said += [f"modelled: {_tested(each.low, each.high)}" for each in used
                     if not each.low * (1.0 - SLIGHTLY) <= speed <= each.high * (1.0 + SLIGHTLY)]  # fmt: skip
        return self._valued(fan, record, there, speed, asked, said, used)

    def _valued(
        self, fan: int, record: int, there: SpeedThere | None, speed: float, asked: Question, said: list[str],
        used: list[Used],
    ) -> Value | str:  # fmt: skip
        flows, scale = self.flows, asked.scale
        a, b = resistance_of(asked.load, scale, 0.01)
        found = flows.mean_at(record, a, b, speed, used)
        if asked.load and asked.load.get("power"):
            for _ in range(TURNS):
                a, b = resistance_of(asked.load, scale, found.flow)
                found = flows.mean_at(record, a, b, speed, used)
        flow, n = found.flow, found.speed
        point = flows.flow_at(record, a, b, n)
        if flows.is_missing(record, point):
            return "no operating point within what was tested"

        def ratio(by_load: float, by_speed: float) -> float:
            up = flows.flow_at(record, a * by_load, b * by_load, n * by_speed).flow
            return math.log(up / flows.flow_at(record, a / by_load, b / by_load, n / by_speed).flow)

        by_speed = min(max(ratio(1.0, STEP) / (2.0 * math.log(STEP)), 0.0), STEEPEST)
        by_load = (
            min(max(ratio(WIDER, 1.0) / (2.0 * math.log(WIDER)), -STEEPEST), 0.0) if a + b > 0.0 else 0.0
        )
        changes = changes_of(None if asked.settings.resistance else asked.load, flow * scale, flows.dims)
        shared = flows.shared_of(record, point.u, n, found.at_full, by_speed) + by_load * changes
        of_obstacle = float(np.sum((by_load * changes[flows.components :]) ** 2))
        own = Spread(*flows.own_of(record, point.u, of_obstacle, found.at_full * by_speed, asked.kind))
        heard = Heard() if there is None else self._heard(record, a, b, there, found.flow, by_speed, used)
        return self._told(
            fan, record, there, speed, asked, said, point, (flow, n), shared, own, heard, (a, b)
        )

    def _told(
        self, fan: int, record: int, there: SpeedThere | None, speed: float, asked: Question, said: list[str],
        point: Point, found: tuple[float, float], shared: Array, own: Spread, heard: Heard, load: tuple[float, float],
    ) -> Value:  # fmt: skip
        (flow, n), settings = found, asked.settings
        reach = None if there is None else (there.slow, there.fast)
        span = self.flows.range_of(record, point, load, reach)
        value = flow * settings.fans
        told = asked.load if asked.load and not settings.resistance else None
        extrapolated = point.t > self.flows.read_to(record) * (1.0 + SLACK) or bool(
            told and flow * asked.scale > told["reach"] * (1.0 + SLACK)
        )
        said += ["not unique"] if span else []
        said += ["extrapolated"] if extrapolated else []
        if there is not None and not there.full and n < speed * (1.0 - SAME):
            said.append("at full setting: its speed behind the obstacle lies under the limit’s")
        said += [f"modelled for {settings.fans} fans side by side"] if settings.fans > 1 else []
        said += [f"modelled for {settings.tiles:g} tiles of the obstacle"] if settings.tiles != 1.0 else []
        size, tile = self.data["fans"]["size"][fan], asked.named and asked.named["tile"]
        if asked.named and tile and size and abs(tile - size) > 0.5:
            said.append(f"{asked.named['words']} measured on a piece of {tile:.0f} mm")
        marks = tuple(dict.fromkeys(said))
        modelled = (
            bool(settings.resistance) or settings.fans > 1 or settings.tiles != 1.0 or extrapolated
            or any(each.startswith("modelled") for each in marks)
        )  # fmt: skip
        how = (
            "modelled"
            if modelled
            else "interpolated"
            if asked.load or asked.limit is not None
            else "measured"
        )
        is_open = there is not None and (there.short or bool(there.flags & At.AT_LEAST))
        bound = "range" if span else "at least" if is_open else ""
        low, high, deeper, higher = 1.0, 1.0, 0.0, 0.0
        if span is not None:
            if (
                there is not None
            ):  # the range holds the flows beyond a jump: the speed doesn't bring them in again
                heard = replace(
                    heard,
                    down=min(heard.down, STEEPEST * (1.0 - math.exp(-there.down))),
                    up=min(heard.up, STEEPEST * (math.exp(there.up) - 1.0)),
                )
            low, high, deeper, higher = span.low, span.high, span.deeper(heard.down), span.higher(heard.up)
        return Value(
            fan, value, n, how, marks, bound, value * low, math.inf if bound == "at least" else value * high,
            deeper, higher, shared, heard.sd * math.sqrt(heard.rest),
            {} if there is None else self.speeds.direction(there.record), own, heard,
        )  # fmt: skip

    def _heard(
        self,
        record: int,
        a: float,
        b: float,
        there: SpeedThere,
        flow: float,
        by_speed: float,
        used: list[Used],
    ) -> Heard:
        slow = math.inf if there.full and there.flags & At.LOW_FULL else there.slow
        fast = math.inf if there.flags & At.HIGH_FULL and not there.short else there.fast
        down = max(0.0, 1.0 - self.flows.mean_at(record, a, b, slow, used).flow / flow)
        down *= ONE_SIDED if there.full else 1.0
        up = max(0.0, self.flows.mean_at(record, a, b, fast, used).flow / flow - 1.0)
        plain = (there.fast - there.slow) / there.speed * by_speed
        share = min(max((down + up) / plain, 0.0), 1.5) if plain > 0.0 else 0.0
        return Heard(down, up, there.sd * by_speed * share, there.own)


def resistance_of(load: Mapping[str, Any] | None, scale: float, flow: float) -> tuple[float, float]:
    """a and b that one fan meets; of a power law those that have its drop at a flow."""
    if load is None:
        return 0.0, 0.0
    if not load.get("power"):
        return float(load["a"]) * scale, float(load["b"]) * scale * scale
    (c, n), each = load["power"], flow * scale
    drop, bend = c * each**n, min(max(n, 1.0), 2.0)
    return drop / each * (2.0 - bend) * scale, drop / each / each * (bend - 1.0) * scale * scale


def changes_of(load: Mapping[str, Any] | None, flow: float, dims: int) -> Array:
    """Relative changes of an obstacle's drop at a flow through one piece, by component."""
    if load is None or "effects" not in load:
        return np.zeros(dims)
    drop = load["a"] * flow + load["b"] * flow * flow
    weights = [1.0 / load["power"][0], math.log(flow)] if load["power"] else [flow / drop, flow * flow / drop]
    return np.asarray(weights @ np.array(load["effects"]))


def _tested(low: float, high: float) -> str:
    return f"airflow tested from {low * 60:,.0f} to {high * 60:,.0f} rpm"
