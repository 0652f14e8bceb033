"""The airflow of a fan on a load at a speed, as a page reads it from the packed data."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.operating import NOT_UNIQUE
from stillroom.core.row_speeds import BEYOND

TURNS = 8
NO_RUN = "no run that can be used"
_NORMAL = NormalDist()
NORMAL_95 = 1.959963984540054


@dataclass(frozen=True)
class Cell:
    """A cell of the grid of openings and shares, and where in it a load lies."""

    i: int
    j: int
    x: float
    y: float


@dataclass(frozen=True)
class Band:
    """Where a record has several operating points, at a share of linear resistance and a speed."""

    at: int
    j: int
    part: float
    low: float
    high: float
    jump: float
    sides: Array


@dataclass(frozen=True)
class Point:
    """An operating point: flow of one fan [m³/s], t, u, its cell, and the band of several points."""

    flow: float
    t: float
    u: float
    cell: Cell
    band: Band | None


@dataclass(frozen=True)
class Used:
    """A mounting that was tested near a speed, between which speeds [1/s], and its share in the mean."""

    at: int
    low: float
    high: float
    weight: float


@dataclass(frozen=True)
class Mean:
    """Flow of one fan [m³/s] and speed [1/s], means over mountings, and the share of these at full setting."""

    flow: float
    speed: float
    at_full: float


@dataclass(frozen=True)
class Range:
    """What stands for a value that isn't unique, as shares of it.

    Parameters
    ----------
    low, high : its ends. deep, rise : how far their trials go. alone : the central value itself is unique.
    """

    low: float
    high: float
    deep: float
    rise: float
    alone: bool = False

    def deeper(self, down: float) -> float:
        """How far below the low end the other points lie, beyond what an uncertain speed brings already."""
        return math.sqrt(max(0.0, (self.low - self.deep) ** 2 - (down**2 if self.alone else 0.0)))

    def higher(self, up: float) -> float:
        """The same above the high end."""
        return math.sqrt(max(0.0, (self.rise - self.high) ** 2 - (up**2 if self.alone else 0.0)))


class AirflowReading:
    """The tables of airflow."""

    def __init__(self, data: Mapping[str, Any], columns: Mapping[str, Array]) -> None:
        told, grid = data["airflow"], data["grid"]
        self._told, self._words, self._kinds, self._columns = told, data["words"], data["kinds"], columns
        self._openings, self._shares, self._rough = grid["openings"], grid["shares"], np.array(grid["rough"])
        self._knots, self.components = grid["bandKnots"], grid["components"]
        self.dims = self.components + 2
        count = len(told["fan"])
        self._numbers = columns["numbers"].reshape(6, count)
        self._full = columns["full"].reshape(3, count)
        shape = (count, self._shares, self._openings)
        self._factor, self._exponent = columns["factor"].reshape(shape), columns["exponent"].reshape(shape)
        self._loadings = columns["loadings"].reshape(self.components, count, 2, len(self._rough))
        self._full_loadings = columns["fullLoadings"].reshape(self.components, count)
        self._readings = columns["readings"].reshape(3, count, len(self._rough))
        self._samples = columns["samples"].reshape(count, len(self._kinds))
        self._of = {
            (fan, way): at for at, (fan, way) in enumerate(zip(told["fan"], told["mounted"], strict=True))
        }
        self._gone = {(fan, way): word for fan, way, word in told["gone"]}
        self._several = {record: at for at, record in enumerate(told["several"])}
        self._missing = {record: set(cells) for record, *cells in told["missing"]}
        self._first = np.concatenate([[0], np.cumsum([sum(each) for each in told["counts"]])]).astype(int)

    def record(self, fan: int, way: int) -> int | str:
        """The table of a fan measured in one way, or why there is none."""
        found = self._of.get((fan, way))
        if found is not None:
            return found
        word = self._gone.get((fan, way))
        return NO_RUN if word is None else str(self._words[word])

    def has_full(self, record: int) -> bool:
        """Whether the speed at full setting is known."""
        return bool(self._full[0, record] > 0.0)

    def reach(self, record: int) -> tuple[float, float]:
        """Least and greatest speed tested [1/s]."""
        return float(self._numbers[3, record]), float(self._numbers[4, record])

    def read_to(self, record: int) -> float:
        """Greatest t read [1]."""
        return float(self._numbers[5, record])

    def mountings(self, record: int) -> int:
        """How many there are."""
        return int(self._first[record + 1] - self._first[record])

    def used_at(self, record: int, speed: float) -> list[Used]:
        """The mountings that were tested near a speed; all at full setting (∞)."""
        low, high = self.reach(record)
        groups: list[list[tuple[int, float, float]]] = []
        at = int(self._first[record])
        for count in self._told["counts"][record]:
            own = []
            for mounting in range(at, at + count):
                least, most = (
                    low * self._columns["each"][2 * mounting],
                    high * self._columns["each"][2 * mounting + 1],
                )
                if speed == math.inf or least * (1.0 - BEYOND) <= speed <= most * (1.0 + BEYOND):
                    own.append((mounting, float(least), float(most)))
            groups += [own] if own else []
            at += count
        return [Used(*each, 1.0 / len(own) / len(groups)) for own in groups for each in own]

    def flow_at(self, record: int, a: float, b: float, speed: float) -> Point:
        """The operating point on a load at a speed."""
        volume, head, reference = (float(each) for each in self._numbers[:3, record])
        linear, square = a * volume / (speed * head), b * volume * volume / head
        u = 2.0 / (linear + math.sqrt(linear * linear + 4.0 * (1.0 + square)))
        f = linear / (linear + square) if linear + square > 0.0 else 0.0
        cell, band = self._cell(u, f), self._band(record, f, speed)
        factor = self._read(self._factor[record], cell)
        if band is not None and band.sides[cell.j] > 0 and band.sides[cell.j + 1] > 0:
            factor = self._beside(self._factor[record], cell, band, right=u >= band.jump)
        t = u * factor * (speed / reference) ** self._read(self._exponent[record], cell)
        return Point(t * volume * speed, t, u, cell, band)

    def _cell(self, u: float, f: float) -> Cell:
        x, y = u * (self._openings - 1), f * (self._shares - 1)
        i, j = min(int(x), self._openings - 2), min(int(y), self._shares - 2)
        return Cell(i, j, x - i, y - j)

    @staticmethod
    def _read(table: Array, p: Cell) -> float:
        rows = table[p.j : p.j + 2, p.i] * (1.0 - p.x) + table[p.j : p.j + 2, p.i + 1] * p.x
        return float(rows[0] * (1.0 - p.y) + rows[1] * p.y)

    def _beside(self, table: Array, p: Cell, band: Band, *, right: bool) -> float:
        """The same on one side of a jump: read from the knots of that side alone."""
        found = []
        for j in (p.j, p.j + 1):
            side = round(float(band.sides[j]))
            at = min(max(max(p.i, side) if right else min(p.i, side - 2), 0), self._openings - 2)
            x = min(max(p.i + p.x - at, -2.0), 3.0)
            found.append(float(table[j, at] + (table[j, at + 1] - table[j, at]) * x))
        return found[0] * (1.0 - p.y) + found[1] * p.y

    def _between(self, record: int, speed: float) -> float:
        low, high = self.reach(record)
        return min(max(math.log(speed / low) / math.log(high / low), 0.0), 1.0) if high > low else 0.0

    def _band(self, record: int, f: float, speed: float) -> Band | None:
        at = self._several.get(record)
        if at is None:
            return None
        share, y = self._between(record, speed), f * (self._shares - 1)
        j = min(int(y), self._shares - 2)
        part = y - j
        edges = self._columns["edges"].reshape(-1, 2, self._shares, 2)[at]
        jump = self._columns["jump"].reshape(-1, 2, self._shares)[at]

        def read(table: Array) -> float:
            rows = table[0, j : j + 2] * (1.0 - share) + table[1, j : j + 2] * share
            return float(rows[0] * (1.0 - part) + rows[1] * part)

        sides = self._columns["sides"].reshape(-1, self._shares)[at]
        return Band(at, j, part, read(edges[..., 0]), read(edges[..., 1]), read(jump), sides)

    def full_at(self, record: int, ratio: float, t: float) -> float:
        """Speed at full setting of one mounting where its curve has t [1/s]."""
        zero, half, one = (float(each) for each in self._full[:, record])
        bend = 2.0 * (zero - 2.0 * half + one)
        return ratio * (zero + (one - zero - bend) * t + bend * t * t)

    def mean_at(self, record: int, a: float, b: float, speed: float, used: Sequence[Used]) -> Mean:
        """The mean over mountings at a speed, none faster than at full setting; ∞: at full setting."""
        held = self.has_full(record) and (bool(self._told["topIsFull"][record]) or speed == math.inf)
        flow = turning = at_full = 0.0
        for each in used:
            capped = speed if held else min(speed, each.high * (1.0 + BEYOND))
            n, found = capped, None if capped == math.inf else self.flow_at(record, a, b, capped)
            ratio = float(self._columns["ratios"][each.at])
            if held and (found is None or self.full_at(record, ratio, found.t) < capped):
                n = self.full_at(record, ratio, 0.7 if found is None else found.t)
                for _ in range(TURNS):
                    n = self.full_at(record, ratio, self.flow_at(record, a, b, n).t)
                found = self.flow_at(record, a, b, n)
                at_full += each.weight
            assert found is not None  # a speed that isn't held is finite
            flow += found.flow * each.weight
            turning += n * each.weight
        return Mean(flow, turning, at_full)

    def is_missing(self, record: int, point: Point) -> bool:
        """Whether a load has no operating point within what was tested."""
        row = point.cell.j + (1 if point.cell.y > 0.5 else 0)
        return row * self._openings + point.cell.i + 1 in self._missing.get(record, ())

    def shared_of(self, record: int, u: float, speed: float, at_full: float, by_speed: float) -> Array:
        """Relative loadings on the components, (dims,)."""
        share, out = self._between(record, speed), np.zeros(self.dims)
        for k, scale in enumerate(self._told["scales"]):
            low, high = (np.interp(u, self._rough, self._loadings[k, record, end]) for end in (0, 1))
            full = at_full * by_speed * self._full_loadings[k, record]
            out[k] = scale * (low * (1.0 - share) + high * share + full)
        return out

    def own_of(
        self, record: int, u: float, of_obstacle: float, by_full: float, kind: int
    ) -> tuple[float, float, float, float, float, tuple[int, ...]]:
        """Relative variance and squared half-widths of what is a fan's own, and what that is made of."""
        told, counts = self._kinds[kind], tuple(self._told["counts"][record])
        sd, down, up = (float(np.interp(u, self._rough, each)) for each in self._readings[:, record])
        samples = len(counts)
        weight = sum(1.0 / each for each in counts) / samples**2
        full = (by_full * float(self._columns["fullSd"][record])) ** 2 + float(
            self._columns["bridged"][record]
        ) ** 2
        sample, readings = float(self._samples[record, kind]) ** 2, sd * sd + full
        factor, times = told["mountingFactor"], told["mountingT"] ** 2
        lacking = max(0.0, weight * told["mounting"] ** 2 * factor - readings - weight * of_obstacle)
        spread = sample / samples * told["sampleT"] ** 2 + lacking / factor * times
        beside = spread + NORMAL_95**2 * full
        mounting = max(told["mounting"] ** 2, readings / weight + of_obstacle)
        variance = sample / samples * told["sampleFactor"] + lacking + readings
        return variance, beside + down * down, beside + up * up, sample, mounting, counts

    def range_of(
        self, record: int, point: Point, load: tuple[float, float], reach: tuple[float, float] | None
    ) -> Range | None:
        """Ends of the range that stands for a value and how far its trials go, as shares of it; None outside the band.

        Parameters
        ----------
        load : a and b of one fan. reach : between which speeds the fan may turn [1/s]; None at full setting.
        """
        band = point.band
        if band is None:
            return None
        tables = [self._columns[name].reshape(-1, self._shares, self._knots)[band.at, band.j : band.j + 2]
                  for name in ("low", "high", "deep", "rise")]  # fmt: skip
        across = [rows[0] * (1.0 - band.part) + rows[1] * band.part for rows in tables]
        most = float(across[2].max())

        def place(u: float) -> float:
            return min(max((u - band.low) / (band.high - band.low), 0.0), 1.0) * float(self._knots - 1)

        if band.low <= point.u <= band.high:
            if band.jump > 0.0 and point.u < band.jump:
                return Range(1.0, 1.0, 1.0, math.exp(most), alone=True)
            w = max(place(point.u), math.ceil(place(band.jump))) if band.jump > 0.0 else place(point.u)
            low, high, deep, rise = (float(np.interp(w, np.arange(self._knots), each)) for each in across)
            return Range(math.exp(-low), math.exp(high), math.exp(-deep), math.exp(rise))
        if reach is None:
            return None
        slow, fast = (self.flow_at(record, *load, speed).u for speed in reach)
        sd = abs(fast - slow) / 2.0 / NORMAL_95
        if not sd > 0.0:
            return None
        share = _NORMAL.cdf((band.high - point.u) / sd) - _NORMAL.cdf((band.low - point.u) / sd)
        if share <= NOT_UNIQUE:
            return None
        deep = math.exp(-most) if point.u > band.high else 1.0
        return Range(1.0, 1.0, deep, math.exp(most) if point.u < band.low else 1.0, alone=True)
