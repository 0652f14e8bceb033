"""An invented laboratory of many fans, each measured cheaply in every room: what a release is timed with.

Every fan is one sample with its curves in the chamber, a sheet of levels, one heat run of three settings and a response
to its control; what a real bench would add (recordings, calibrators, second samples) costs files and reduction, and
nothing of a release. Nothing of it describes a real fan.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
from reduce import HEADER, sweep

from stillroom.demo.calendar import Calendar
from stillroom.demo.heat.probes import rig_lines
from stillroom.demo.rigs import write_rigs
from stillroom.records.settings import template
from stillroom.store import folder

DUTIES = (30, 50, 70, 100)
LEVEL_SPEEDS = (600, 800, 1000, 1200, 1400, 1600, 1800)
HEAT_DUTIES = (50, 70, 100)
CONTROL_DUTIES = (100, 80, 60, 40, 30, 20, 10)
MAKERS = ("Fennock", "Ulverhag", "Tarnbeck", "Skelrigg", "Quillmoor")
OBSTACLES = {"rad27": (0.085, 0.00115), "mesh": (0.02, 0.0003)}
"""Δp = a Q + b Q² [Pa, m³/h]."""
FULL, STEP, TAU, EVERY = 1800.0, 1500.0, 240.0, 5.0
"""Full speed [rpm]; length of a heat setting, its time constant and how often it is logged [s]."""


@dataclass(frozen=True)
class Invented:
    """A fan: shares by which speed, flow and pressure differ from the usual ones, its level and its way with heat."""

    name: str
    shares: np.ndarray
    louder: float
    warmer: float


def write_lab(place: Path, fans: int, mountings: int) -> Path:
    """Write the exports and tables of an invented laboratory below a folder; the empty lab's folder.

    Parameters
    ----------
    mountings : how often each fan is mounted in the chamber.
    """
    raw, rng = place / "raw", np.random.default_rng(2026)
    raw.mkdir(parents=True)
    write_rigs(raw, Calendar(date(2026, 3, 2)))
    (raw / "heat.toml").write_text(
        "\n".join(rig_lines(Calendar(date(2026, 3, 2)), "rad27", 30, 365)), encoding="utf-8"
    )
    invented = [
        Invented(
            f"F{i:03d}",
            1.0 + 0.05 * rng.standard_normal(3),
            float(rng.normal(0, 2)),
            float(rng.normal(1, 0.04)),
        )
        for i in range(fans)
    ]
    runs = [
        *_obstacles(raw, rng),
        *(row for each in invented for row in _chamber(raw, rng, each, mountings)),
    ]
    _table(raw / "runs.csv", "file,rig,mounting,fan,sample,obstacle,duty [%]", runs)
    _table(
        raw / "heat-runs.csv",
        "file,rig,session,mounting,fan,sample",
        [_heat(raw, rng, each) for each in invented],
    )
    _table(
        raw / "control-runs.csv",
        "file,mounting,fan,sample",
        [_control(raw, rng, each) for each in invented],
    )
    _levels(raw, rng, invented)
    _products(raw, rng, invented, mountings)
    lab = place / "lab"
    folder.make(
        lab, template("Benchmark").replace('# references = ["rad27"]', 'references = ["rad27", "mesh"]')
    )
    return lab


def _table(path: Path, header: str, rows: list[str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")


def _obstacles(raw: Path, rng: np.random.Generator) -> list[str]:
    """Flow and drop as a bench exports them, that has no nozzles to read."""
    told = []
    for name, (a, b) in OBSTACLES.items():
        flow = np.linspace(8.0, 130.0, 14)
        drop = (a * flow + b * flow**2) * (1.0 + 0.005 * rng.standard_normal(14))
        rows = [f"{q:.2f},{p:.3f},995.0,21.5,45.0" for q, p in zip(flow, drop, strict=True)]
        _table(raw / f"{name}.csv", "Q [m³/h],pressure drop [Pa],p_baro [hPa],t_air [°C],rh [%]", rows)
        told.append(f"{name}.csv,chamber,,,,{name},")
    _table(
        raw / "obstacles.csv",
        "obstacle,version,date,kind",
        [f"{each},1,2026-03-01,radiator" for each in OBSTACLES],
    )
    return told


def _chamber(raw: Path, rng: np.random.Generator, fan: Invented, mountings: int) -> list[str]:
    rows = []
    for number in range(1, mountings + 1):
        for duty in DUTIES:
            file = f"{fan.name}/m{number}/{duty}pct.csv"
            text = sweep(rng, fan.shares * (1.0 + 0.004 * rng.standard_normal(3)), duty / 100)
            _table(raw / file, HEADER, text.splitlines()[1:])
            rows.append(f"{file},chamber,{fan.name}-m{number},{fan.name},s1,,{duty}")
    return rows


def _levels(raw: Path, rng: np.random.Generator, fans: list[Invented]) -> None:
    """One sheet of a simple meter: fan, speed, level, background, distance."""
    rows = []
    for each in fans:
        for speed in LEVEL_SPEEDS:
            level = 37.0 + each.louder + 53.0 * np.log10(speed / FULL) + rng.normal(0, 0.2)
            both = 10.0 * np.log10(10.0 ** (level / 10) + 10.0**1.4)
            rows.append(f"{each.name},{speed * each.shares[0]:.0f},{both:.1f},14.0,0.5")
    _table(raw / "levels.csv", "fan,speed [rpm],level [dBA],background [dBA],distance [m]", rows)


def _heat(raw: Path, rng: np.random.Generator, fan: Invented) -> str:
    """A log of three settings, each held for six time constants."""
    times = np.arange(0.0, STEP * len(HEAT_DUTIES), EVERY)
    duty = np.repeat(HEAT_DUTIES, round(STEP / EVERY))
    ends = {each: 12.0 * fan.warmer * (each / 100) ** -0.45 for each in HEAT_DUTIES}
    rise, now = np.empty_like(times), 0.0
    for at, each in enumerate(duty):
        now += (ends[int(each)] - now) * (1.0 - np.exp(-EVERY / TAU))
        rise[at] = now
    air = 22.0 + 0.05 * np.sin(times / 2500.0)
    read = [air + rise, air, np.full_like(times, 230.0), np.full_like(times, 300.0 / 230.0)]
    read = [
        values + sd * rng.standard_normal(len(times))
        for values, sd in zip(read, (0.02, 0.02, 0.02, 2e-4), strict=True)
    ]
    start = datetime(2026, 3, 20, 8) + timedelta(hours=2 * int(fan.name[1:]))
    rows = [
        f"{start + timedelta(seconds=float(t)):%Y-%m-%dT%H:%M:%S},{hot:.3f},{cool:.3f},{volts:.2f},{amps:.4f},"
        f"{FULL * fan.shares[0] * d / 100:.0f},{d}"
        for t, hot, cool, volts, amps, d in zip(times, *read, duty, strict=True)
    ]
    file = f"heat/{fan.name} all.csv"
    header = "time,t_hot [°C],air in 1 [°C],heater volts [V],heater amps [A],fan speed [rpm],duty [%]"
    _table(raw / file, header, rows)
    return f"{file},heat-1,{fan.name}-h1,{fan.name}-h1,{fan.name},s1"


def _control(raw: Path, rng: np.random.Generator, fan: Invented) -> str:
    """One row a step, down and up again."""
    steps = [(each, "down") for each in CONTROL_DUTIES] + [(each, "up") for each in reversed(CONTROL_DUTIES)]
    rows = [
        f"{duty},{0 if duty < 20 else FULL * fan.shares[0] * duty / 100 + rng.normal(0, 1):.0f},{way}"
        for duty, way in steps
    ]
    _table(raw / f"control/{fan.name}.csv", "duty [%],speed [rpm],direction", rows)
    return f"control/{fan.name}.csv,{fan.name}-c1,{fan.name},s1"


def _products(raw: Path, rng: np.random.Generator, fans: list[Invented], mountings: int) -> None:
    """Fans with prices, claims and samples, and when each was mounted."""
    names = [each.name for each in fans]
    makers = dict(zip(names, MAKERS * (len(names) // len(MAKERS) + 1), strict=False))
    header = "fan,maker,size [mm],thickness [mm],blades,pulses per revolution,full speed [rpm]"
    _table(raw / "fans.csv", header, [f"{each},{makers[each]},120,25,7,2,1800" for each in names])
    _table(
        raw / "samples.csv", "fan,sample,bought,shop", [f"{each},s1,2026-02-01,Peatlane" for each in names]
    )
    prices = [f"{each},{rng.uniform(8, 35):.2f},EUR,2026-02-01,EU,Peatlane" for each in names]
    _table(raw / "prices.csv", "fan,price,currency,date,region,shop", prices)
    claims = [
        f'{each},airflow,{118 * rng.normal(1, 0.05):.0f},m³/h,"free delivery, full speed, ± 10 %"'
        for each in names
    ]
    _table(raw / "claims.csv", "fan,quantity,value,unit,condition", claims)
    dated = [
        f"{each}-m{number},{each},s1,chamber,2026-03-{2 + (at + 11 * number) % 16:02d},"
        for at, each in enumerate(names)
        for number in range(1, mountings + 1)
    ]
    _table(raw / "mountings.csv", "mounting,fan,sample,rig,date,by", dated)
