"""The laboratory's tables as it would keep them, from the list of fans to the log of the rigs."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from stillroom.demo.catalogue import INITIALS, SHOPS
from stillroom.demo.draws import Draws
from stillroom.demo.fan import Fan, Obstacle
from stillroom.demo.plan import FIRST_DAY, Mounting, seal_day
from stillroom.demo.truth import FalseClaim
from stillroom.vocabulary import from_si

CLAIMED_TOO_HIGH = "Bilberry"
"""The fan whose box claims too much airflow."""
EXCESS = 1.15
Planned = tuple[tuple[Mounting, str], ...]


@dataclass(frozen=True)
class RunLine:
    """One line of the table of runs; `duty` in %, empty strings where a thing doesn't apply."""

    file: str
    rig: str
    mounting: str = ""
    fan: str = ""
    sample: str = ""
    obstacle: str = ""
    duty: str = ""


def write_table(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """Write a table as comma-separated text in UTF-8."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(header)
    writer.writerows(rows)
    path.write_text(text.getvalue(), encoding="utf-8", newline="\n")


def write_fans(folder: Path, fans: tuple[Fan, ...]) -> None:
    """The table of fans, with the full speed as the box has it."""
    header = ["fan", "maker", "model", "size [mm]", "thickness [mm]", "blades", "wires",
              "pulses per revolution", "full speed [rpm]"]  # fmt: skip
    rows = [
        [fan.name, fan.maker, f"{fan.name} {_mm(fan.size)}", _mm(fan.size), _mm(fan.thickness), fan.blades,
         fan.wires, fan.pulses, _rounded(fan.full_speed * 60, 50)]
        for fan in fans
    ]  # fmt: skip
    write_table(folder / "fans.csv", header, rows)


def write_samples(folder: Path, samples: Iterable[tuple[str, str]], seed: int) -> None:
    """The table of samples: (fan, sample)."""
    rows = []
    for fan, sample in samples:
        draws = Draws(seed, f"bought {fan} {sample}")
        shop = SHOPS[int(draws.between(0, len(SHOPS)))]
        day, lot = int(draws.between(3, 25)), int(draws.between(2410, 2552))
        rows.append([fan, sample, f"2026-02-{day:02d}", shop, f"L{lot}", "new", 2])
    header = ["fan", "sample", "bought", "shop", "lot", "condition", "hours [h]"]
    write_table(folder / "samples.csv", header, rows)


def write_obstacles(folder: Path, obstacles: tuple[Obstacle, ...]) -> None:
    """The table of obstacles."""
    header = ["obstacle", "version", "kind", "tile size [mm]", "description"]
    rows = [[o.name, o.version, o.kind, _mm(o.tile), o.description] for o in obstacles]
    write_table(folder / "obstacles.csv", header, rows)


def write_mountings(folder: Path, planned: Planned) -> None:
    """The table of mountings."""
    rows = [
        [each.name, each.fan, each.sample, each.rig, day, INITIALS[i % len(INITIALS)]]
        for i, (each, day) in enumerate(planned)
    ]
    write_table(folder / "mountings.csv", ["mounting", "fan", "sample", "rig", "date", "by"], rows)


def write_runs(folder: Path, lines: Iterable[RunLine]) -> None:
    """The table of runs: which file is what."""
    rows = [[r.file, r.rig, r.mounting, r.fan, r.sample, r.obstacle, r.duty] for r in lines]
    header = ["file", "rig", "mounting", "fan", "sample", "obstacle", "duty [%]"]
    write_table(folder / "runs.csv", header, rows)


def write_claims(folder: Path, fans: tuple[Fan, ...], seed: int, *, faults: bool) -> tuple[FalseClaim, ...]:
    """The table of claims as printed on the boxes; returns those that the fan doesn't keep."""
    rows: list[list[object]] = []
    false = []
    for fan in fans:
        draws = Draws(seed, f"box {fan.name}")
        airflow, pressure = fan.flow(1.0, fan.full_speed), fan.pressure(0.0, fan.full_speed)
        optimism = draws.between(1.0, 1.03)
        if faults and fan.name == CLAIMED_TOO_HIGH:
            optimism = EXCESS
            false.append(FalseClaim(fan.name, "flow", airflow * EXCESS, airflow))
        unit, places = (("CFM", 1), ("m³/h", 0))[int(draws.between(0, 2))]
        condition = "free delivery, 12 V"
        speed = _rounded(fan.full_speed * 60, 50)
        water = from_si(pressure, "mmH₂O")
        rows += [
            [fan.name, "airflow", f"{from_si(airflow * optimism, unit):.{places}f}", unit, condition],
            [fan.name, "static pressure", f"{water * optimism:.2f}", "mmH₂O", "shut-off, 12 V"],
            [fan.name, "speed", speed, "rpm", "± 10 %"],
        ]
    write_table(folder / "claims.csv", ["fan", "quantity", "value", "unit", "condition"], rows)
    return tuple(false)


def write_prices(folder: Path, fans: tuple[Fan, ...], seed: int) -> None:
    """The table of prices."""
    rows = []
    for fan in fans:
        draws = Draws(seed, f"price {fan.name}")
        price = int(draws.between(9, 30)) + 0.9
        shop = SHOPS[int(draws.between(0, len(SHOPS)))]
        rows.append([fan.name, f"{price:.2f}", "EUR", FIRST_DAY.isoformat(), "EU", shop])
    write_table(folder / "prices.csv", ["fan", "price", "currency", "date", "region", "shop"], rows)


def write_events(folder: Path, planned: Planned) -> None:
    """The log of the rigs."""
    first = FIRST_DAY.isoformat()
    rows = [
        [f"{first}T08:30", "chamber", "leak test passed, zeros taken", "no"],
        [f"{first}T16:45", "chamber", "obstacles measured, chamber swept out", "no"],
        [f"{seal_day(planned)}T07:50", "chamber", "seal of the fan plate changed", "yes"],
    ]
    write_table(folder / "events.csv", ["time", "rig", "text", "changes results"], rows)


def _mm(length: float) -> int:
    return round(length * 1000)


def _rounded(value: float, step: int) -> int:
    return round(value / step) * step
