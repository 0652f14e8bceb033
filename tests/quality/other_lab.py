"""The files of the second invented laboratory: other kinds, other headers and languages than the demo's."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from other_lab_world import BORES, FITTINGS, GAUGES, SETTINGS, Fitting, OtherFan, fans, sample_of, sweep

from stillroom.demo.containers import Sheet, write_xlsx
from stillroom.vocabulary import from_si

Rows = Sequence[dict[str, float | str]]
Columns = tuple[tuple[str, str, str, int], ...]
"""(header's words, quantity, unit, decimals)."""

GERMAN: Columns = (
    ("Druck", "static_pressure", "Pa", 2), ("Wirkdruck", "nozzle_pressure", "Pa", 1), ("Düsen", "nozzles", "", 0),
    ("Drehzahl", "speed", "1/min", 0), ("Luftdruck", "barometric_pressure", "mbar", 1),
    ("Lufttemperatur", "temperature", "°C", 1), ("Feuchte", "relative_humidity", "%rF", 0),
)  # fmt: skip
FRENCH: Columns = (
    ("pression statique", "static_pressure", "Pa", 2), ("dp nozzle", "nozzle_pressure", "Pa", 1),
    ("nozzles", "nozzles", "", 0), ("n", "speed", "rpm", 0), ("pb", "barometric_pressure", "kPa", 3),
    ("td", "temperature", "K", 1), ("rh", "relative_humidity", "%", 0),
)  # fmt: skip
WATER: Columns = (
    ("Fan static pressure", "static_pressure", "mmH2O", 3), ("Nozzle dp", "nozzle_pressure", "Pa", 1),
    ("Open nozzles", "nozzles", "", 0), ("Tach", "speed", "rpm", 0), ("Barometer", "barometric_pressure", "mmHg", 1),
    ("Dry bulb", "temperature", "°F", 1), ("Humidity", "relative_humidity", "%RH", 0),
)  # fmt: skip
TUNNEL: Columns = (
    ("Q", "flow", "CFM", 2), ("ps", "static_pressure", "inH2O", 5), ("rpm", "speed", "rpm", 0),
)  # fmt: skip


@dataclass(frozen=True)
class Written:
    """One sweep as it was written: the mounting, the setting, the file and which sweep of it (None: the only)."""

    fitting: Fitting
    setting: float
    file: str
    part: int | None


def write_other_lab(folder: Path, seed: int, *, faults: bool = True) -> tuple[Written, ...]:
    """Write the laboratory's files; returns what was written."""
    written: list[Written] = []
    fittings = [e if faults else e.sound() for e in (_on_day(e, i) for i, e in enumerate(FITTINGS))]
    for fitting in fittings:
        written += _write(folder, seed, fitting)
    _tables(folder, seed, fittings, written)
    (folder / "rigs.toml").write_text(_rigs(), encoding="utf-8")
    return tuple(written)


def _on_day(fitting: Fitting, number: int) -> Fitting:
    from dataclasses import replace

    return replace(fitting, day=1 + number // 3)


def _write(folder: Path, seed: int, fitting: Fitting) -> list[Written]:
    control = fans()[fitting.fan].control
    runs = [(setting, sweep(seed, fitting, setting)) for setting in SETTINGS[control]]
    here = f"{fitting.rig}/{fitting.fan} {fitting.sample} no{fitting.number}"
    if fitting.fan in _ALL_IN_ONE and fitting.rig == "hall":
        suffix, write_all = _ALL_IN_ONE[fitting.fan]
        write_all(folder / f"{here}{suffix}", fitting, runs)
        return [Written(fitting, s, f"{here}{suffix}", i) for i, (s, _) in enumerate(runs, start=1)]
    written = []
    suffix, write_one = (".csv", _tunnel) if fitting.rig == "tunnel" else _ALONE[fitting.fan]
    unit = {"duty": "pct", "volts": "V", "speed": "rpm"}[control]
    for setting, rows in runs:
        file = f"{here}/{setting:g}{unit}{suffix}"
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        write_one(folder / file, fitting, rows)
        written.append(Written(fitting, setting, file, None))
    return written


def _cells(row: dict[str, float | str], columns: Columns) -> list[str]:
    found = []
    for _, quantity, unit, digits in columns:
        value = row[quantity]
        found.append(value if isinstance(value, str) else f"{from_si(value, unit):.{digits}f}")
    return found


def _headed(columns: Columns) -> list[str]:
    return [f"{words} ({unit})" if unit else words for words, _, unit, _ in columns]


def _german(path: Path, fitting: Fitting, rows: Rows) -> None:
    lines = [f"Prüfling;{fitting.sample}", f"Lüfter;{fitting.fan}", "", ";".join(_headed(GERMAN))]
    lines += [";".join(cell.replace(".", ",") for cell in _cells(row, GERMAN)) for row in rows]
    path.write_bytes("\r\n".join(lines).encode("cp1252"))


def _french(path: Path, _fitting: Fitting, rows: Rows) -> None:
    lines = ["\t".join(words for words, *_ in FRENCH), "\t".join(f"[{unit}]" for _, _, unit, _ in FRENCH)]
    lines += ["\t".join(_cells(row, FRENCH)) for row in rows]
    path.write_bytes("\n".join(lines).encode("utf-8-sig"))


def _water(path: Path, fitting: Fitting, rows: Rows) -> None:
    lines = [f"# {fitting.name}", "|".join(_headed(WATER)), *("|".join(_cells(row, WATER)) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _tunnel(path: Path, _fitting: Fitting, rows: Rows) -> None:
    lines = [",".join(_headed(TUNNEL)), *(",".join(_cells(row, TUNNEL)) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _blanks(path: Path, _fitting: Fitting, rows: Rows) -> None:
    lines = [
        [words.replace(" ", "_") for words, *_ in FRENCH],
        [f"[{unit or '-'}]" for _, _, unit, _ in FRENCH],
    ]
    lines += [_cells(row, FRENCH) for row in rows]
    path.write_text("\n".join("   ".join(line) for line in lines) + "\n", encoding="utf-16")


All = Sequence[tuple[float, Rows]]


def _one_sheet(path: Path, fitting: Fitting, runs: All) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    table: list[list[str | float]] = [["PWM (%)", *_headed(GERMAN)]]
    for setting, rows in runs:
        for row in rows:
            values = _cells(row, GERMAN)
            table.append(
                [
                    setting,
                    *(v if c[1] == "nozzles" else float(v) for v, c in zip(values, GERMAN, strict=True)),
                ]
            )
    write_xlsx(path, [Sheet("Messung", table), Sheet("Bemerkung", [["Einbau", fitting.name]])])


def _blocks(path: Path, _fitting: Fitting, runs: All) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = []
    for setting, rows in runs:
        lines += [",".join(["No", "duty (%)", *_headed(FRENCH)])]
        for i, row in enumerate(rows, start=1):
            lines.append(",".join([str(i), f"{setting:g}", *_cells(row, FRENCH)]))
        lines += [",".join(["Mean", f"{setting:g}", *_means(rows)]), ""]
    path.write_text("\n".join(lines), encoding="utf-8")


def _means(rows: Rows) -> list[str]:
    found = []
    for _, quantity, unit, digits in FRENCH:
        values = [row[quantity] for row in rows]
        numbers = [from_si(each, unit) for each in values if not isinstance(each, str)]
        found.append(f"{sum(numbers) / len(numbers):.{digits}f}" if numbers else "")
    return found


One = Callable[[Path, Fitting, Rows], None]
_ALONE: dict[str, tuple[str, One]] = {
    "Thrift": (".csv", _german), "Samphire": (".csv", _german), "Dulse": (".tsv", _french),
    "Marram": (".dat", _water), "Glasswort": (".csv", _french), "Squill": (".txt", _blanks),
}  # fmt: skip
_ALL_IN_ONE: dict[str, tuple[str, Callable[[Path, Fitting, All], None]]] = {
    "Sandwort": (".xlsx", _one_sheet), "Campion": (".csv", _blocks), "Tamarisk": (".csv", _blocks),
}  # fmt: skip


def _tables(folder: Path, seed: int, fittings: Iterable[Fitting], written: Sequence[Written]) -> None:
    known = fans()
    _table(folder / "fans.csv", ["fan", "maker", "size [mm]", "wires", "full speed [rpm]"], [
        [f.name, f.maker, round(f.size * 1000), 4 if f.control == "duty" else 3, round(f.full * 60)]
        for f in known.values()
    ])  # fmt: skip
    samples = sorted({(e.fan, e.sample) for e in fittings})
    _table(
        folder / "samples.csv",
        ["fan", "sample", "bought", "shop"],
        [[*s, "2027-01-11", "Quayside"] for s in samples],
    )
    _table(folder / "mountings.csv", ["mounting", "fan", "sample", "rig", "date"], [
        [e.name, e.fan, e.sample, e.rig, f"2027-02-{e.day:02d}"] for e in fittings
    ])  # fmt: skip
    header = [
        "file",
        "rig",
        "mounting",
        "fan",
        "sample",
        "duty [%]",
        "volts [V]",
        "speed [rpm]",
        "PWM frequency [kHz]",
    ]
    rows = []
    for each in written:
        if each.part in (None, 1):
            fitting, control = each.fitting, known[each.fitting.fan].control
            told = [f"{each.setting:g}" if each.part is None and control == way else "" for way in SETTINGS]
            khz = "" if fitting.khz > 20 else f"{fitting.khz:g}"
            rows.append([each.file, fitting.rig, fitting.name, fitting.fan, fitting.sample, *told, khz])
    _table(folder / "runs.csv", header, rows)


def _table(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out, delimiter=";", lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def _rigs() -> str:
    lines = ["[rig.hall]", 'arrangement = "outlet chamber"', f"nozzles = {list(BORES)}".replace("'", '"')]
    lines += ["[rig.hall.roles]", *(f'{quantity} = "own {quantity}"' for quantity in GAUGES), "[rig.tunnel]"]
    lines += ['arrangement = "flow and pressure only"', 'accuracy = "± 2 % of reading"']
    units = {
        "static_pressure": "Pa",
        "nozzle_pressure": "Pa",
        "barometric_pressure": "Pa",
        "temperature": "K",
    }
    for quantity, (share, fixed, sd, sd_share) in GAUGES.items():
        unit = units.get(quantity, "")
        accuracy = [f"± {100 * share:g} % of reading"] if share else []
        if fixed:
            accuracy.append(f"± {fixed:g} {unit}" if unit else f"± {100 * fixed:g} %")
        noise = [f"{100 * sd_share:g} % of reading"] if sd_share else []
        noise += [f"{sd:g} {unit}" if unit else f"{100 * sd:g} %"] if sd else []
        lines += [f'[instrument."own {quantity}"]', f'quantity = "{quantity}"']
        lines += [f'accuracy = "{" ".join(accuracy)}"', f'noise = "{" + ".join(noise)}"']
    for name, bore in BORES.items():
        lines += [f"[nozzle.{name}]", f'bore = "{bore:.2f} mm"', 'bore_u = "0.01 mm"', "length_ratio = 0.5"]
    return "\n".join(lines) + "\n"


def sample_speed(seed: int, fan: OtherFan, sample: str) -> float:
    """Full speed of one sample [1/s]."""
    return sample_of(seed, fan, sample).full
