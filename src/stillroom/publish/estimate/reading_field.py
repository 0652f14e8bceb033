"""All fans ranked and two compared, read from the packed data by the same arithmetic as the page's `estimate.js`."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.publish.estimate.reading import Reading, Settings, Value
from stillroom.publish.estimate.reading_flow import NORMAL_95

TIE = 1.6448536269514722

BESIDE = 16
"""How many fans on either side in the order tell a fan's correlation."""


@dataclass(frozen=True)
class Row:
    """A line of the page's ranking; flows in m³/s, `high` None where that end is open."""

    fan: int
    value: float
    low: float
    high: float | None
    bound: str
    speed: float
    how: str
    marks: tuple[str, ...]
    verdict: str
    rank: tuple[int, int]


@dataclass(frozen=True)
class Ranked:
    """A page's ranking: lines in order, {fan: why it is left out}, and the fans that may be the best."""

    rows: tuple[Row, ...]
    left: Mapping[int, str]
    best: tuple[int, ...]


@dataclass(frozen=True)
class Judged:
    """A difference with its extremes, its 95 % interval, its margin, and the lab's word for it."""

    difference: float
    least: float
    most: float
    low: float
    high: float
    margin: float
    word: str


def ranked(reading: Reading, settings: Settings) -> Ranked:
    """The fans in order, as the page shows them."""
    there, left = _field(reading, settings)
    shared = covariances(there)
    places = _places(reading.data, there, shared)
    rows, best = [], []
    for at, each in enumerate(there):
        verdict = "leader"
        if at > 0:
            found = judged(there[0], each, _apart(shared, 0, at), reading.data["margin"])
            verdict = "behind" if found.word == "ahead" and not places[at][0] else "too close"
        if verdict != "behind":
            best.append(each.fan)
        low, high = _interval(each, float(shared[at, at]))
        rows.append(Row(each.fan, each.value, low, high, each.bound, each.speed, each.how, each.marks, verdict,
                        places[at][1]))  # fmt: skip
    return Ranked(tuple(rows), left, tuple(best))


def _interval(each: Value, shared: float) -> tuple[float, float | None]:
    sound = each.value * each.by_sound * NORMAL_95
    rest = max(0.0, NORMAL_95**2 * shared - sound * sound) / each.value**2
    down = math.sqrt(each.down**2 + each.heard.down**2 * each.heard.rest + rest)
    up = math.sqrt(each.up**2 + each.heard.up**2 * each.heard.rest + rest)
    return (
        each.low_value - down * each.value,
        None if each.bound == "at least" else each.high_value + up * each.value,
    )


def _field(reading: Reading, settings: Settings) -> tuple[list[Value], dict[int, str]]:
    asked, told = reading.question(settings), reading.data["fans"]
    size = reading.data["usualSize"] if settings.size is None else settings.size
    there, left = [], {}
    for fan in range(len(told["name"])):
        if settings.only is not None and fan not in settings.only:
            continue
        found = _why_not(told, fan, size, settings.ceiling) or reading.fan_at(fan, asked)
        if isinstance(found, str):
            left[fan] = found
        else:
            there.append(found)
    return sorted(there, key=lambda each: (-each.value, told["name"][each.fan])), left


def _why_not(told: Mapping[str, Any], fan: int, size: float | None, ceiling: float | None) -> str:
    own, price = told["size"][fan], told["price"][fan]
    if own and size and abs(own - size) > 0.5:
        return f"{own:.0f} mm, not {size:.0f} mm"
    if ceiling is None:
        return ""
    if price is None:
        return "price unknown"
    told_ceiling = f"{ceiling:.{0 if float(ceiling).is_integer() else 2}f}"
    return f"price above {told_ceiling}: {price[0]:.2f} {price[1]}" if price[0] > ceiling else ""


def covariances(there: Sequence[Value]) -> Array:
    """Covariances of the fans' shared parts, (n, n) in squared flow."""
    if not there:
        return np.zeros((0, 0))
    parts = np.array([each.shared * each.value for each in there])
    found = parts @ parts.T
    by_source: dict[int, Array] = defaultdict(lambda: np.zeros(len(there)))
    for at, each in enumerate(there):
        for source, part in each.by_source.items():
            by_source[source][at] = each.value * each.by_sound * part
    for own in by_source.values():
        found += np.multiply.outer(own, own)
    return np.asarray(found)


def _apart(shared: Array, i: int, j: int) -> float:
    """Squared shared part of the difference of two fans: Σ(cᵢ − cⱼ)²."""
    return max(0.0, float(shared[i, i] + shared[j, j] - 2.0 * shared[i, j]))


def judged(x: Value, y: Value, shared: float, margin_share: float) -> Judged:
    """The difference of two fans and what may be said of it.

    Parameters
    ----------
    shared : squared shared part of their difference. margin_share : practical margin of the mean of both [1].
    """
    margin = margin_share * (x.value + y.value) / 2.0
    least, most = x.low_value - y.high_value, x.high_value - y.low_value
    common = NORMAL_95**2 * shared
    below = math.sqrt((x.value * x.down) ** 2 + (y.value * y.up) ** 2 + common)
    above = math.sqrt((x.value * x.up) ** 2 + (y.value * y.down) ** 2 + common)
    low, high, tie = least - below, most + above, TIE / NORMAL_95
    word = "not resolved"
    if low > 0.0 and least > margin:
        word = "ahead"
    elif high < 0.0 and most < -margin:
        word = "behind"
    elif least - tie * below > -margin and most + tie * above < margin:
        word = "tied"
    return Judged(x.value - y.value, least, most, low, high, margin, word)


def _places(
    data: Mapping[str, Any], there: Sequence[Value], shared: Array
) -> list[tuple[bool, tuple[int, int]]]:
    """Whether each fan may be the best, and between which ranks it lies."""
    n = len(there)
    if n < 2:
        return [(True, (1, 1))] * n
    own = np.array([each.variance * each.value**2 for each in there])
    low, high = np.array([each.low_value for each in there]), np.array([each.high_value for each in there])
    diagonal = np.diag(shared)
    apart = np.maximum(0.0, diagonal[:, None] + diagonal - 2.0 * shared)
    squares = own[:, None] + own + apart
    clear = (low - high[:, None]) / np.sqrt(squares)
    clear[np.isinf(high)] = -np.inf
    np.fill_diagonal(clear, -np.inf)
    shares = own[:, None] / squares
    overall = _ranks(data["critical"], n)
    found = []
    for at in range(n):
        first, last = max(0, at - BESIDE), min(n - 1, at + BESIDE)
        beside = float(shares[at, first : last + 1].sum() - shares[at, at]) / (last - first)
        limit = _best(data["critical"], n, beside)
        better, worse = int((clear[at] > overall).sum()), int((clear[:, at] > overall).sum())
        found.append((not bool((clear[at] > limit).any()), (1 + better, n - worse)))
    return found


def _best(told: Mapping[str, Any], count: int, correlation: float) -> float:
    rows = [float(np.interp(correlation, told["correlations"], row)) for row in told["best"]]
    return float(np.interp(math.log(count), np.log(told["counts"]), rows))


def _ranks(told: Mapping[str, Any], count: int) -> float:
    return float(np.interp(math.log(count), np.log(told["counts"]), told["ranks"]))
