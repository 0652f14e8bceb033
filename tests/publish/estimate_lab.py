"""The lab, the estimate and the settings that the tests of the reader's lookup share."""

from __future__ import annotations

import json
import random
import shutil
import subprocess
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stillroom.compare.standing import Ranking
from stillroom.core.systems import System
from stillroom.lab.blocking import blocked_in
from stillroom.lab.field import Asked
from stillroom.lab.ranking import rank_fans
from stillroom.lab.whole import Whole, worked_out
from stillroom.measures import Condition, measure_named
from stillroom.publish.contents import Contents
from stillroom.publish.estimate.reading import Reading, Settings
from stillroom.publish.estimate.writing import Estimate, estimate_of
from stillroom.store.lab import Lab

FILES = Path(__file__).resolve().parents[2] / "src" / "stillroom" / "publish" / "page" / "files"


@dataclass(frozen=True)
class Made:
    """A lab with its estimate, and the same opened for reading."""

    whole: Whole
    estimate: Estimate
    reading: Reading

    @property
    def names(self) -> list[str]:
        """Of the fans, by their numbers."""
        names: list[str] = self.reading.data["fans"]["name"]
        return names

    def ranked(self, asked: Settings) -> Ranking:
        """What the lab's own ranking says."""
        return _ranked(self.whole, asked)


def _ranked(whole: Whole, asked: Settings) -> Ranking:
    text = asked.obstacle
    if asked.resistance is not None:
        a, b = asked.resistance[0] / 3600.0, asked.resistance[1] / 3600.0**2
        text = f"{a:.15f} Q + {b:.15f} Q²" if a else f"{b:.15f} Q²"
    system = System(beside=asked.fans, tiles=asked.tiles)
    measure = measure_named("airflow" if text else "free-airflow")
    question = Asked(measure, Condition(obstacle=text, noise=asked.limit, system=system))
    lab, book, graph, found = whole
    return rank_fans(lab, book, graph, question, blocked=blocked_in(found, book, graph, text))


def made(lab: Lab, *, heard_free: bool = False) -> Made:
    """The estimate of a lab; `heard_free`: as if all sound had been recorded in free air."""
    whole = worked_out(lab)
    if heard_free:
        sounds = tuple(replace(each, obstacle="") for each in whole.graph.sounds)
        whole = whole._replace(graph=replace(whole.graph, sounds=sounds))
        _ranked(whole, Settings(limit=30.0))  # agrees on the spread, as a published ranking does
        whole = whole.again()
    contents = Contents(whole, "spring", "2026-03-04", "", "", (), (), (), ())
    estimate = estimate_of(contents)
    return Made(whole, estimate, Reading(json.loads(json.dumps(estimate.data))))


def settings_drawn(seed: int, count: int, *, heard_free: bool) -> list[Settings]:
    """Settings between all knots: limits, obstacles and resistances, numbers of fans, sizes of the obstacle."""
    draw = random.Random(seed)
    found = []
    for _ in range(count):
        own = heard_free and draw.random() < 0.4
        obstacle = "" if own else draw.choice(["rad27", "rad27", "mesh", "dense", ""])
        limited = (heard_free or obstacle == "rad27") and draw.random() < 0.85
        found.append(
            Settings(
                obstacle=obstacle,
                resistance=(draw.choice([0.0, 300.0]), 10.0 ** draw.uniform(3.0, 4.8)) if own else None,
                limit=round(draw.uniform(22.5, 39.0), 2) if limited else None,
                fans=draw.choice([1, 1, 1, 2, 3]),
                tiles=draw.choice([1.0, 1.0, 2.0]) if own or obstacle else 1.0,
            )
        )
    return found


def by_script(folder: Path, estimate: Estimate, expression: str) -> Any:
    """What the page's own scripts say: the value of an expression of `est`, through node."""
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is missing")
    scripts = [
        (FILES / f"{name}.js").read_text(encoding="utf-8") for name in ("columns", "lookup", "estimate")
    ]
    lines = [
        "globalThis.window = {};",
        estimate.script,
        *scripts,
        "const est = StillroomEstimate.open(window.stillroomData);",
        f"console.log(JSON.stringify({expression}));",
    ]
    program = folder / "asked.js"
    program.write_text("\n".join(lines), encoding="utf-8")
    done = subprocess.run([node, program], check=True, capture_output=True, text=True)
    return json.loads(done.stdout)


def as_told(asked: Settings) -> dict[str, Any]:
    """Settings as the page tells them to its script."""
    own = asked.resistance
    return {
        "obstacle": asked.obstacle, "resistance": {"a": own[0], "b": own[1]} if own else None, "limit": asked.limit,
        "fans": asked.fans, "tiles": asked.tiles, "size": asked.size, "ceiling": asked.ceiling,
        "only": list(asked.only) if asked.only is not None else None,
    }  # fmt: skip


def nearest_border(ranking: Ranking, fan: str) -> float:
    """How near one of the ranking's own statistics on a fan lies to its border, as a share of the border.

    Three decide whether a fan is behind the leader: the end of the difference's interval against 0 (in half-widths),
    the difference against the margin, and how clearly it is out of the possible bests against the critical value.
    """
    names = [each.fan for each in ranking.standings]
    values = np.array([each.value for each in ranking.standings])
    at, leader = names.index(fan), names[0]
    pair = next(each for each in ranking.pairs if {each.a, each.b} == {fan, leader})
    low = pair.low if pair.a == leader else -pair.high
    gap = float(values[0] - values[at])
    margin = ranking.margin.size * (values[0] + values[at]) / 2.0
    clear, critical = _exclusion(ranking.trials, names, values, at)
    return float(min(abs(low) / (gap - low), abs(gap / margin - 1.0), abs(clear / critical - 1.0)))


def _exclusion(trials: Mapping[str, Any], names: Sequence[str], values: Any, at: int) -> tuple[float, float]:
    """How clearly the best of the others is better than a fan, and the 95 % quantile of that by the trials."""
    rows = np.stack([trials[name] for name in names])
    gaps = rows - rows[at]
    gaps = np.delete(gaps - gaps.mean(axis=1, keepdims=True), at, axis=0)
    spread = np.sqrt((gaps**2).mean(axis=1))
    clear = float((np.delete(values - values[at], at) / spread).max())
    return clear, float(np.quantile((gaps / spread[:, None]).max(axis=0), 0.95))
