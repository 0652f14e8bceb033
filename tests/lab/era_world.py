"""A small invented laboratory whose rig reads otherwise since a day: sweeps of one law, written as plain files."""

from __future__ import annotations

import math
import zlib
from dataclasses import dataclass
from pathlib import Path

from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

REFERENCE = "Heather"
RIGS = '[rig.chamber]\naccuracy = "± 1 % of reading"\n'
POINTS = 12


@dataclass(frozen=True)
class Visit:
    """One mounting: which sample when, and by what its readings of flow, pressure and speed are off."""

    mounting: str
    fan: str
    date: str
    flow: float = 1.0
    pressure: float = 1.0
    speed: float = 1.0
    sample: str = "s1"


FANS = {"Heather": (60.0, 30.0, 1500.0), "Moss": (66.0, 32.0, 1600.0), "Fern": (64.0, 31.0, 1580.0)}
"""{fan: free airflow [m³/h], shut-off pressure [Pa], speed [rpm]}."""


def sweep(visit: Visit) -> str:
    """A sweep as a file: a falling curve p = p₀ (1 − q²) against q = Q/Q₀, with a ripple that no seed needs."""
    free, shut, rpm = FANS[visit.fan]
    rpm *= visit.speed
    lines = ["Flow [m³/h],Static pressure [Pa],Speed [rpm],Temperature [°C],Pressure [hPa],Humidity [%]"]
    lines[0] = (
        "airflow [m3/h],static pressure [Pa],speed [rpm],temperature [degC],barometer [hPa],humidity [%]"
    )
    for i in range(POINTS):
        q = i / (POINTS - 1)
        ripple = 1.0 + 0.001 * math.sin(7.0 * i + zlib.crc32(visit.mounting.encode()))
        flow = free * q * visit.speed * visit.flow * ripple
        pressure = shut * (1.0 - q * q) * visit.speed**2 * visit.pressure * ripple
        lines.append(f"{flow:.4f},{pressure:.4f},{rpm:.2f},20.0,1013.25,50.0")
    return "\n".join(lines) + "\n"


def write_lab(
    base: Path, visits: list[Visit], events: str = "", tables: dict[str, str] | None = None
) -> Path:
    """The files of the laboratory, brought in and reduced; returns the lab's folder."""
    bench = base / "bench"
    (bench / "runs").mkdir(parents=True)
    (bench / "rigs.toml").write_text(RIGS, encoding="utf-8")
    fans = "fan,maker,size [mm],wires,full speed [rpm]\n"
    fans += "".join(f"{name},Invented,120,4,{rpm:g}\n" for name, (_, _, rpm) in FANS.items())
    mountings, runs = "mounting,fan,sample,rig,date\n", "file,rig,mounting,fan,sample,duty [%]\n"
    for each in visits:
        file = f"runs/{each.mounting}.csv"
        (bench / file).write_text(sweep(each), encoding="utf-8")
        mountings += f"{each.mounting},{each.fan},{each.sample},chamber,{each.date}\n"
        runs += f"{file},chamber,{each.mounting},{each.fan},{each.sample},100\n"
    written = {"fans": fans, "mountings": mountings, "runs": runs, **(tables or {})}
    if events:
        written["events"] = "time,rig,text,changes results\n" + events
    for name, text in written.items():
        (bench / f"{name}.csv").write_text(text, encoding="utf-8")
    path = base / "lab"
    text = template("Heather Lab").replace("# trials = 2000", f'trials = 500\nreference_fan = "{REFERENCE}"')
    folder.make(path, text)
    with Lab(path) as lab:
        bring_in(lab, [bench], {})
        reduce_lab(lab, build_graph(open_book(lab)), workers=1)
    return path
