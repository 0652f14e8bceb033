"""A small invented heat rig whose logs are written as plain files: one node, its truth in closed form.

The hot probe stands P/G above the air at the end of time, and comes there with τ = C/G. Nothing of the package is used.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

Array = NDArray[np.float64]

CAPACITY = 5000.0
"""Heat capacity of the loop [J/K]."""

POWER = 297.0
NOMINAL = 300.0
ROOM = 22.0
STEP = 4

RIG = """
[rig.heat-1]
kind = "heat"
nominal_power = "300 W"
fans = 2
radiator = "rad27"
coolant = "water"
coolant_flow = "1.5 l/min"

[rig.heat-1.roles]
hot_temperature = "t-hot"
air_in_temperature = "t-air"

[instrument.t-hot]
quantity = "hot_temperature"

[instrument.t-air]
quantity = "air_in_temperature"
"""


@dataclass(frozen=True)
class Held:
    """A setting: duty [%], speed [rpm], conductance [W/K], for some seconds."""

    duty: float
    speed: float
    conductance: float
    seconds: int = 1600

    @property
    def rise(self) -> float:
        """At nominal power, at the end of time [K]."""
        return NOMINAL / self.conductance


TWO: Sequence[Held] = (Held(100.0, 1800.0, 36.0), Held(60.0, 1200.0, 27.0))


def channels(settings: Sequence[Held], *, seed: int = 1, hot_off: float = 0.0) -> dict[str, Array]:
    """What the loggers read, in the units in which they write: times in s, °C, V, A, rpm, %."""
    generator = np.random.default_rng(seed)
    parts: list[Array] = []
    start = 0.0
    for each in settings:
        end, tau = POWER / each.conductance, CAPACITY / each.conductance
        times = np.arange(0.0, each.seconds, STEP)
        parts.append(end + (start - end) * np.exp(-times / tau))
        start = float(end + (start - end) * np.exp(-each.seconds / tau))
    rise = np.concatenate(parts)
    counts = [len(each) for each in parts]

    def held(name: str) -> Array:
        return np.repeat([float(getattr(each, name)) for each in settings], counts)

    def noise(sd: float) -> Array:
        return np.asarray(generator.normal(0.0, sd, len(rise)))

    return {
        "time": np.arange(len(rise)) * float(STEP),
        "t hot [°C]": ROOM + rise + noise(0.03) + hot_off,
        "air in [°C]": ROOM + noise(0.03),
        "heater volts [V]": 60.0 + noise(0.01),
        "heater amps [A]": POWER / 60.0 + noise(0.001),
        "fan speed [rpm]": held("speed") + noise(2.0),
        "duty [%]": held("duty"),
    }


def begun_cold(columns: Mapping[str, Array], seconds: float) -> dict[str, Array]:
    """The same log begun some seconds before the heater is switched on: air and liquid at the room's temperature."""
    count = int(seconds / STEP)
    found = {"time": np.arange(count + len(columns["time"])) * float(STEP)}
    for name, values in columns.items():
        if name != "time":
            before = ROOM if "°C" in name else 0.0 if name.startswith("heater") else float(values[0])
            found[name] = np.concatenate([np.full(count, before), values])
    return found


RUNS = ("file", "rig", "session", "mounting", "fan", "sample", "logger", "clock offset [s]", "what")


@dataclass
class HeatBench:
    """Writes logs and their run table."""

    base: Path
    rows: list[str] = field(default_factory=list)

    def log(
        self, name: str, columns: Mapping[str, Array], start: str, names: Sequence[str] = (), **told: object
    ) -> Path:
        """Write one log with its row of the run table, from a start on; of some columns or of all."""
        path = self.base / "bench" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        kept = {
            each: columns[each] for each in ("time", *(names or [one for one in columns if one != "time"]))
        }
        begin = dt.datetime.fromisoformat(start)
        stamps = [(begin + dt.timedelta(seconds=float(at))).isoformat(sep=" ") for at in kept.pop("time")]
        lines = [",".join(("time", *kept))]
        lines += [",".join((stamp, *(f"{each:.4f}" for each in row)))
                  for stamp, row in zip(stamps, zip(*kept.values(), strict=True), strict=True)]  # fmt: skip
        path.write_text("\n".join(lines) + "\n", encoding="utf-8")
        cells = {"file": name, "rig": "heat-1"} | {key.replace("_", " "): each for key, each in told.items()}
        self.rows.append(",".join(str(cells.get(each.partition(" [")[0], "")) for each in RUNS))
        return path

    def finish(self, rig: str = RIG, tables: Mapping[str, str] | None = None) -> None:
        """Write the tables and the rig's file."""
        files = {
            "rig.toml": rig,
            "runs.csv": "\n".join([",".join(RUNS), *self.rows]) + "\n",
            **(tables or {}),
        }
        for name, text in files.items():
            (self.base / "bench" / name).write_text(text, encoding="utf-8")

    @contextmanager
    def lab(self, name: str = "lab") -> Iterator[Lab]:
        """A lab into which everything was brought."""
        folder.make(self.base / name, template("Heat"))
        with Lab(self.base / name) as lab:
            added = bring_in(lab, [self.base / "bench"], {})
            assert not added.bad, added.bad
            yield lab


def graph_of(lab: Lab) -> Graph:
    """The graph of keys as the lab stands."""
    return build_graph(open_book(lab))


def reduced(lab: Lab) -> Graph:
    """The graph, all of it worked out."""
    graph = graph_of(lab)
    reduce_lab(lab, graph, workers=1)
    return graph
