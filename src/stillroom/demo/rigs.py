"""The description of the rigs: `rigs.toml`, with roles, gauges, calibrations and the nozzle bank."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from stillroom.demo.bench import BORE_U, CERTIFICATES, GAUGES, Gauge
from stillroom.demo.calendar import Calendar
from stillroom.demo.truth import NozzleChange
from stillroom.vocabulary import unit

CALIBRATED, DUE = 105, 365
"""Days from the calibrations to the round, and from a calibration to the next."""

NOZZLE_CHANGE = NozzleChange(
    nozzle="N40",
    before=CERTIFICATES["N40"] / 1000,
    after=40.102e-3,
    reason="a second issue of the certificate says 40.102 mm: two digits had been interchanged",
)
"""For the story only: in this laboratory the first certificate is the right one."""


def write_rigs(folder: Path, calendar: Calendar) -> None:
    """Write `rigs.toml`."""
    year = calendar.first.year - 1
    done, due = calendar.before(CALIBRATED), calendar.before(CALIBRATED - DUE)
    gauges = (line for gauge in GAUGES for line in _gauge(gauge, done, due, f"K-{year}"))
    lines = [*_rigs(), *gauges, *_nozzles(year - 1)]
    (folder / "rigs.toml").write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


LATER = "later/certificate.toml"
"""Beside the bench: a certificate that comes after publication, for those who try a correction."""
LATER_BORE = 40.412e-3
"""What it says of the nozzle [m]: the certificate published with was 0.4 mm off."""


def write_later(lab: Path) -> None:
    """Write the certificate that comes later, outside the bench so that nothing brings it in by itself."""
    place = lab / LATER
    place.parent.mkdir(parents=True, exist_ok=True)
    lines = [
        "# A second certificate of a nozzle, as it may come in after publication. To try a correction, bring it in:",
        f"#   stillroom add {LATER}",
        *_nozzle(NOZZLE_CHANGE.nozzle, LATER_BORE, "second issue: the first was read 0.4 mm too small"),
    ]
    place.write_text("\n".join(lines), encoding="utf-8", newline="\n")


def bore_text(bore: float) -> str:
    """A bore [m] as a certificate prints it."""
    return f"{bore * 1000:.3f} mm"


def _rigs() -> Iterator[str]:
    yield "[rig.chamber]"
    yield 'kind = "airflow"'
    yield 'arrangement = "outlet chamber"'
    yield "nozzles = [" + ", ".join(f'"{name}"' for name in CERTIFICATES) + "]"
    yield ""
    yield "[rig.chamber.roles]"
    for gauge in GAUGES:
        yield f'{gauge.quantity} = "{gauge.name}"'
    yield 'resistance_pressure = "gauge-static"'
    yield ""
    yield "[rig.duct]"
    yield 'kind = "airflow"'
    yield 'arrangement = "flow and pressure only"'
    yield 'accuracy = "± 3 % of reading"'
    yield ""


def _gauge(gauge: Gauge, done: str, due: str, series: str) -> Iterator[str]:
    yield f"[instrument.{gauge.name}]"
    yield f'quantity = "{gauge.quantity}"'
    yield f'resolution = "{10.0**-gauge.digits:.{gauge.digits}f} {gauge.unit}"'
    yield f'noise = "{_noise(gauge)}"'
    yield ""
    yield f"[instrument.{gauge.name}.calibration]"
    yield f'date = "{done}"'
    yield f'due = "{due}"'
    yield f'certificate = "{series}-{100 + GAUGES.index(gauge)}"'
    yield f'offset = "{_spread(gauge.offset, gauge.unit)}"'
    yield f'offset_u = "{_spread(gauge.offset_u, gauge.unit)}"'
    yield f"gain = {gauge.gain}"
    yield f"gain_u = {gauge.gain_u}"
    if gauge.ranges:
        yield "linearity = ["
        for low, high, u in gauge.ranges:
            span = f'from = "{_spread(low, gauge.unit)}", to = "{_spread(high, gauge.unit)}"'
            yield f'  {{ {span}, u = "{_spread(u, gauge.unit)}" }},'
        yield "]"
    yield ""


def _noise(gauge: Gauge) -> str:
    """Standard deviation of one reading in one line: "0.5 % of reading + 0.05 Pa"."""
    parts = []
    if gauge.noise_share:
        parts.append(f"{100 * gauge.noise_share:.2g} % of reading")
    if gauge.noise:
        parts.append(_spread(gauge.noise, gauge.unit))
    return " + ".join(parts)


def _nozzles(year: int) -> Iterator[str]:
    for i, (name, bore) in enumerate(CERTIFICATES.items()):
        yield from _nozzle(name, bore / 1000, f"N-{year}-{31 + i}")


def _nozzle(name: str, bore: float, certificate: str) -> Iterator[str]:
    yield f"[nozzle.{name}]"
    yield f'bore = "{bore_text(bore)}"'
    yield f'bore_u = "{BORE_U[name]:.3f} mm"'
    yield "length_ratio = 0.6"
    yield f'certificate = "{certificate}"'
    yield ""


def _spread(value: float, symbol: str) -> str:
    """A difference (an offset, a standard deviation) in SI, in a unit: °C becomes K."""
    known = unit("K" if symbol == "°C" else symbol)
    return f"{value / known.factor:.6g} {known.symbol}"
