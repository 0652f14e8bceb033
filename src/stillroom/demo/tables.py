"""The laboratory's tables as it would keep them, from the list of fans to the log of the rigs."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import StringIO
from pathlib import Path

from stillroom.demo.calendar import Calendar
from stillroom.demo.catalogue import (
    FIRST_VERSION,
    INITIALS,
    REFERENCE_FAN,
    REFERENCE_OBSTACLE,
    SHOPS,
    retired,
)
from stillroom.demo.draws import Draws
from stillroom.demo.fan import PWM_FREQUENCY, Control, Fan, Obstacle, Setting
from stillroom.demo.plan import Mounting
from stillroom.demo.round import Round
from stillroom.demo.truth import FalseClaim
from stillroom.vocabulary import from_si

CLAIMED_TOO_HIGH = "Bilberry"
"""The fan whose box claims too much airflow."""
EXCESS = 1.15
CLAIMED_TOO_STRONG = "Crowberry"
"""In the whole round: the fan whose box claims too much pressure."""
TOO_STRONG = 1.24
SMALL_PRINT = ("Cottongrass", "Spearwort")
"""In the whole round: fans whose boxes don't say under what condition their airflow was measured."""
Bought = Iterable[tuple[str, str]]


@dataclass(frozen=True)
class RunLine:
    """One line of the table of runs; empty strings and None where a thing doesn't apply or wasn't told."""

    file: str
    rig: str
    mounting: str = ""
    fan: str = ""
    sample: str = ""
    obstacle: str = ""
    setting: Setting | None = None
    zeros: tuple[float, float] | None = None
    frequency: float = PWM_FREQUENCY


def write_tables(
    folder: Path,
    plan: Round,
    calendar: Calendar,
    models: tuple[Fan, ...],
    bought: Bought,
    obstructions: tuple[Obstacle, ...],
    seed: int,
    *,
    faults: bool,
) -> tuple[FalseClaim, ...]:
    """Write all tables but that of the runs; returns the claims that a fan doesn't keep."""
    old = retired(seed) if plan.full else ()
    sold = tuple(each for each in models if each.name != REFERENCE_FAN)
    write_fans(folder, (*models, *old))
    write_samples(folder, bought, seed, calendar)
    write_obstacles(folder, obstructions, plan, calendar)
    write_mountings(folder, plan.mountings, calendar)
    write_prices(folder, sold, seed, calendar)
    write_events(folder, plan, calendar)
    write_rounds(folder, plan)
    if plan.full:
        write_legacy(folder, old, calendar)
    return write_claims(folder, sold, seed, faults=faults, full=plan.full)


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


def write_samples(folder: Path, samples: Bought, seed: int, calendar: Calendar) -> None:
    """The table of samples: (fan, sample)."""
    rows = []
    for fan, sample in samples:
        draws = Draws(seed, f"bought {fan} {sample}")
        shop = SHOPS[int(draws.between(0, len(SHOPS)))]
        days, lot = int(draws.between(3, 25)), int(draws.between(2410, 2552))
        rows.append([fan, sample, calendar.before(days), shop, f"L{lot}", "new", 2])
    header = ["fan", "sample", "bought", "shop", "lot", "condition", "hours [h]"]
    write_table(folder / "samples.csv", header, rows)


def write_obstacles(folder: Path, obstacles: tuple[Obstacle, ...], plan: Round, calendar: Calendar) -> None:
    """The table of obstacles."""
    header = ["obstacle", "version", "date", "kind", "tile size [mm]", "description"]
    days = {o: calendar.day(0 if o.version == FIRST_VERSION else plan.swap_day) for o in obstacles}
    rows = [[o.name, o.version, days[o], o.kind, _mm(o.tile), o.description] for o in obstacles]
    write_table(folder / "obstacles.csv", header, rows)


def write_mountings(folder: Path, planned: tuple[Mounting, ...], calendar: Calendar) -> None:
    """The table of mountings."""
    rows = [
        [each.name, each.fan, each.sample, each.rig, calendar.day(each.day), INITIALS[i % len(INITIALS)]]
        for i, each in enumerate(planned)
    ]
    write_table(folder / "mountings.csv", ["mounting", "fan", "sample", "rig", "date", "by"], rows)


def write_runs(folder: Path, lines: Iterable[RunLine], *, zeros: bool) -> None:
    """The table of runs: which file is what; with `zeros` also what else the operator wrote down."""
    header = ["file", "rig", "mounting", "fan", "sample", "obstacle", "duty [%]"]
    if not zeros:
        rows = [[*_place(each), _by(each, Control.DUTY)] for each in lines]
    else:
        header += [
            "volts [V]",
            "pressure zero before [Pa]",
            "pressure zero after [Pa]",
            "PWM frequency [kHz]",
        ]
        rows = [[*_place(e), *(_by(e, way) for way in Control), *_noted(e)] for e in lines]
    write_table(folder / "runs.csv", header, rows)


def _place(line: RunLine) -> list[str]:
    return [line.file, line.rig, line.mounting, line.fan, line.sample, line.obstacle]


def _by(line: RunLine, way: Control) -> str:
    told = line.setting is not None and line.setting.control is way
    return f"{line.setting.value:g}" if told and line.setting else ""


def _noted(line: RunLine) -> list[str]:
    zeros = [f"{each:.2f}" for each in line.zeros] if line.zeros else ["", ""]
    return [*zeros, "" if line.frequency == PWM_FREQUENCY else f"{line.frequency / 1000:g}"]


def write_claims(
    folder: Path, fans: tuple[Fan, ...], seed: int, *, faults: bool, full: bool
) -> tuple[FalseClaim, ...]:
    """The table of claims as printed on the boxes; returns those that the fan doesn't keep."""
    rows: list[list[object]] = []
    false = []
    for fan in fans:
        draws = Draws(seed, f"box {fan.name}")
        airflow, pressure = (
            fan.flow(1.0, fan.full_speed),
            fan.pressure(0.0, fan.loaded_speed(fan.full_speed, 0.0)),
        )
        optimism = boast = draws.between(1.0, 1.03)
        if faults and fan.name == CLAIMED_TOO_HIGH:
            optimism = EXCESS
            false.append(FalseClaim(fan.name, "flow", airflow * EXCESS, airflow))
        if faults and full and fan.name == CLAIMED_TOO_STRONG:
            boast = TOO_STRONG
            false.append(FalseClaim(fan.name, "static pressure", pressure * boast, pressure))
        unit, places = (("CFM", 1), ("m³/h", 0))[int(draws.between(0, 2))]
        condition = "" if full and fan.name in SMALL_PRINT else "free delivery, 12 V, ± 10 %"
        speed = _rounded(fan.full_speed * 60, 50)
        water = from_si(pressure, "mmH₂O")
        rows += [
            [fan.name, "airflow", f"{from_si(airflow * optimism, unit):.{places}f}", unit, condition],
            [fan.name, "static pressure", f"{water * boast:.2f}", "mmH₂O", "shut-off, 12 V, ± 10 %"],
            [fan.name, "speed", speed, "rpm", "free delivery, 12 V, ± 10 %"],
        ]
    write_table(folder / "claims.csv", ["fan", "quantity", "value", "unit", "condition"], rows)
    return tuple(false)


def write_prices(folder: Path, fans: tuple[Fan, ...], seed: int, calendar: Calendar) -> None:
    """The table of prices."""
    rows = []
    for fan in fans:
        draws = Draws(seed, f"price {fan.name}")
        price = int(draws.between(9, 30)) + 0.9
        shop = SHOPS[int(draws.between(0, len(SHOPS)))]
        rows.append([fan.name, f"{price:.2f}", "EUR", calendar.day(0), "EU", shop])
    write_table(folder / "prices.csv", ["fan", "price", "currency", "date", "region", "shop"], rows)


def write_events(folder: Path, plan: Round, calendar: Calendar) -> None:
    """The log of the rigs."""
    rows = [
        [
            each.moment(calendar),
            each.rig,
            each.text,
            "yes" if each.changes else "no",
            "" if each.leak is None else f"{from_si(each.leak, 'm³/h'):.2f}",
        ]
        for each in sorted(plan.log, key=lambda each: each.moment(calendar))
    ]
    write_table(folder / "events.csv", ["time", "rig", "text", "changes results", "leak [m³/h]"], rows)


ROUNDS = "rounds.csv"
QUESTION = "Which 120 mm fan moves most air through a 27 mm radiator at 35 dBA, and is a dearer one worth it?"
REGISTERED = (
    (f"airflow through {REFERENCE_OBSTACLE} at 35 dBA", "5 %"),
    (f"airflow through {REFERENCE_OBSTACLE} at 30 dBA", "5 %"),
    ("heat at 35 dBA", "0.4 K"),
    ("maximum-pressure", "5 %"),
)
"""What the round set out to publish, with the smallest gap that a buyer would notice."""
ALSO = ("free-airflow",)
"""What is published besides, though nobody registered it."""


def write_rounds(folder: Path, plan: Round) -> None:
    """What the round set out to publish, written down before its data."""
    name = "autumn round" if plan.full else "short round"
    rows = [[name, QUESTION, measure, margin] for measure, margin in REGISTERED]
    write_table(folder / ROUNDS, ["round", "question", "measure", "margin"], rows)


def write_legacy(folder: Path, fans: tuple[Fan, ...], calendar: Calendar) -> None:
    """Finished numbers of earlier rounds, of which no readings are left."""
    rows: list[list[object]] = []
    for fan in fans:
        free = from_si(fan.flow(1.0, fan.full_speed), "m³/h")
        source = "report of the round before the last"
        rows.append([fan.name, "free-airflow", f"{free:.0f}", "m³/h", f"{0.97 * free:.0f}",
                     f"{1.03 * free:.0f}", "", calendar.before(420), source])  # fmt: skip
        rows.append([fan.name, "airflow", f"{0.54 * free:.0f}", "m³/h", "", "", REFERENCE_OBSTACLE,
                     calendar.before(420), source])  # fmt: skip
    header = ["fan", "measure", "value", "unit", "low", "high", "obstacle", "date", "source"]
    write_table(folder / "legacy.csv", header, rows)


def _mm(length: float) -> int:
    return round(length * 1000)


def _rounded(value: float, step: int) -> int:
    return round(value / step) * step
