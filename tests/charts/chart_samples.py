"""Charts of an invented lab for the tests, and a reader of the SVG that they become."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass

from stillroom.charts.fonts import width
from stillroom.charts.series import (
    Bar,
    Bound,
    CollapseChart,
    Curve,
    CurveChart,
    LoadLine,
    OperatingMark,
    RankedBars,
    Sweep,
)

SVG = "{http://www.w3.org/2000/svg}"
NAMES = (
    "Tormentil 120", "Bracken 120 Pro", "Sedge R12", "Bilberry 12-25", "Heather Static", "Cloudberry",
    "Moor Grass Quiet Edition 120 × 25 mm", "Crowberry", "Asphodel S", "Juniper Low",
)  # fmt: skip
HOSTILE = (
    "<script>alert(1)</script>", "\"&' ]]> </svg><!--", "{{datum.value}} %s \\n ${x}", "W" * 90,
    "ventilateur " * 12, "🌀🌬️ Föhn 👩‍🔬", "مروحة هادئة", "line\nbreak\tand\x00nul",
    "\u202egnirts desrever", " ",
)  # fmt: skip


def ranking(count: int = 10, names: tuple[str, ...] = NAMES) -> RankedBars:
    """A ranking with a tied set, a fan under review, a bound, notes and fans that can't be ranked."""
    bars = []
    for index in range(count):
        name = names[index % len(names)] + ("" if index < len(names) else f" mark {index // len(names) + 1}")
        value = 52.3 - 1.13 * index - 0.02 * index**2
        bars.append(
            Bar(
                name,
                value,
                value - 1.3,
                value + 1.4,
                "tied for best" if index < 4 else "",
                index < 4,
                "one sample" if index in (2, 7) else "",
                accent=index == 5,
                bound=Bound.AT_LEAST if index == 8 else Bound.NONE,
            )
        )
    return RankedBars(
        "Through the 27 mm radiator four fans can’t be told apart",
        "Airflow at full speed, m³/h, brought to 1.2 kg/m³",
        "longer is better",
        "Nozzle chamber, ISO 5801 · 12 fans, 41 mountings · 95 % intervals · 25 November 2026",
        "m³/h",
        tuple(bars),
        (("Cottongrass 140", "no run through this radiator"), ("Deergrass", "no run through this radiator")),
        "Bar chart of airflow through the 27 mm radiator.",
        "Airflow through the 27 mm radiator",
    )


def shape(share: float, dip: float = 0.1) -> float:
    """A fan curve of invented form, 1 at shut-off and 0 at free delivery."""
    saddle = dip * 4 * share * (1 - share) * math.exp(-(((share - 0.4) / 0.1) ** 2) / 2)
    return 1 - 0.35 * share - 0.65 * share**2.7 - saddle


def curve(label: str, most: float, shut: float, dip: float, accent: bool = False) -> Curve:
    """A fan curve with band and points."""
    shares = [index / 80 for index in range(81)]
    pressure = tuple(shut * shape(share, dip) for share in shares)
    return Curve(
        label,
        tuple(share * most for share in shares),
        pressure,
        tuple(each - 0.012 * shut for each in pressure),
        tuple(each + 0.012 * shut for each in pressure),
        tuple((k / 11 * most, shut * shape(k / 11, dip) * (1 + 0.004 * (-1) ** k)) for k in range(12)),
        accent,
    )


def pq() -> CurveChart:
    """Three fans, three obstacles, nine operating points, one of them not unique."""
    fans = (
        curve("Bracken 120 Pro", 118, 31, 0.14, True),
        curve("Tormentil 120", 111, 34, 0.08),
        curve("Sedge R12", 125, 26, 0.1),
    )
    loads = {
        "mesh filter": (0.035, 6e-4),
        "radiator 27 mm": (0.085, 2.2e-3),
        "dense radiator + filter": (0.16, 4.6e-3),
    }
    flows = tuple(140 * index / 60 for index in range(61))
    marks = []
    for fan in fans:
        for name, (a, b) in loads.items():
            flow, pressure = min(
                zip(fan.flow, fan.pressure, strict=True),
                key=lambda at: abs(at[1] - a * at[0] - b * at[0] ** 2),
            )
            odd = fan.accent and name.startswith("dense")
            half = 8.0 if odd else 1.0
            marks.append(
                OperatingMark(
                    f"{flow:.0f}" if fan.accent else "",
                    flow,
                    pressure,
                    flow - half,
                    flow + half,
                    True,
                    not odd,
                    "not unique" if odd else "",
                    fan.label,
                    name,
                    fan.accent,
                )
            )
    return CurveChart(
        "On the dense radiator Bracken has no single operating point",
        "Static pressure against airflow at full speed, 1.2 kg/m³",
        "Nozzle chamber, ISO 5801 · bands: 95 % intervals · points as measured",
        "airflow", "m³/h", "static pressure", "Pa",
        fans,
        tuple(LoadLine(k, flows, tuple(a * q + b * q * q for q in flows)) for k, (a, b) in loads.items()),
        tuple(marks),
        alt="PQ curves of three fans.",
    )  # fmt: skip


def speeds() -> CurveChart:
    """One fan at six speeds: nested curves whose labels have little room."""
    return CurveChart(
        "Bracken 120 Pro from 500 to 2000 rpm", "Static pressure against airflow", "Nozzle chamber",
        "airflow", "m³/h", "static pressure", "Pa",
        tuple(
            curve(f"{rpm} rpm", 118 * rpm / 2000, 31 * (rpm / 2000) ** 2, 0.1, rpm == 2000)
            for rpm in (2000, 1700, 1400, 1100, 800, 500)
        ),
        (LoadLine("radiator 27 mm", (0, 30, 60, 90, 140), (0, 4.53, 13.0, 25.5, 55.0)),),
        alt="PQ curves of one fan.",
    )  # fmt: skip


def collapse() -> CollapseChart:
    """Six speeds, two mountings, one sweep held."""
    sweeps = []
    for mounting in (1, 2):
        for step, rpm in enumerate((2000, 1700, 1400, 1100, 800, 500)):
            held = rpm == 500 and mounting == 2
            phi = tuple(0.23 * k / 13 + 0.002 * mounting for k in range(14))
            residual = tuple(
                (9.0 if held else 0.0) + (0.3 + 0.2 * step) * math.sin(7 * k + 3 * step + mounting)
                for k in range(14)
            )
            psi = tuple(
                0.34 * shape(x / 0.24, 0.12) * (1 + e / 100) for x, e in zip(phi, residual, strict=True)
            )
            word = "held, pressure zero drifted" if held else ""
            sweeps.append(
                Sweep(
                    f"{rpm} rpm, mounting {mounting}",
                    phi,
                    psi,
                    residual,
                    f"{rpm} rpm",
                    f"mounting {mounting}",
                    held,
                    word,
                )
            )
    phi = tuple(0.24 * k / 100 for k in range(101))
    psi = tuple(0.34 * shape(x / 0.24, 0.12) for x in phi)
    return CollapseChart(
        "Eleven of twelve sweeps of Bracken 120 Pro fall on one curve",
        "Pressure coefficient against flow coefficient, two mountings, six speeds",
        "Nozzle chamber, ISO 5801 · band: 95 % interval of the curve",
        tuple(sweeps), phi, psi, tuple(0.99 * y for y in psi), tuple(1.01 * y for y in psi),
        alt="Collapse of twelve sweeps.",
    )  # fmt: skip


@dataclass(frozen=True)
class Words:
    """Words as they stand on a page, in page units, with the rectangle of their letters."""

    words: str
    left: float
    right: float
    base: float
    size: float
    weight: int

    @property
    def top(self) -> float:
        return self.base - 0.72 * self.size

    @property
    def bottom(self) -> float:
        return self.base + 0.2 * self.size

    def overlaps(self, other: Words) -> bool:
        slack = 0.5
        return (
            self.left + slack < other.right
            and other.left + slack < self.right
            and self.top + slack < other.bottom
            and other.top + slack < self.bottom
        )


def walk(svg: str) -> Iterator[tuple[ET.Element, float, float, float]]:
    """Each element with where its own origin lies and how it is scaled."""

    def down(
        element: ET.Element, x: float, y: float, scale: float
    ) -> Iterator[tuple[ET.Element, float, float, float]]:
        for name, inner in re.findall(r"(\w+)\(([^)]*)\)", element.get("transform", "")):
            numbers = [float(each) for each in inner.replace(",", " ").split()]
            if name == "translate":
                x, y = x + scale * numbers[0], y + scale * numbers[1]
            elif name == "scale":
                scale *= numbers[0]
        yield element, x, y, scale
        for child in element:
            yield from down(child, x, y, scale)

    yield from down(ET.fromstring(svg), 0.0, 0.0, 1.0)


def words_of(svg: str) -> list[Words]:
    """All words on a page."""
    found = []
    for element, x0, y0, _ in walk(svg):
        if element.tag != f"{SVG}text" or not element.text or not element.text.strip():
            continue
        size = float(element.get("font-size", "0").removesuffix("px"))
        weight = int(element.get("font-weight") or 400)
        x, y = x0 + float(element.get("x", "0")), y0 + float(element.get("y", "0"))
        wide = width(element.text, size, weight)
        left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[element.get("text-anchor", "start")]
        found.append(Words(element.text, left, left + wide, y, size, weight))
    return found


@dataclass(frozen=True)
class Drawn:
    """A bar as drawn: its words for those who hear it, and its rectangle."""

    words: str
    left: float
    right: float
    middle: float


def bars_of(svg: str) -> list[Drawn]:
    """The bars of a ranking, in the order of the file."""
    found = []
    for element, x0, y0, _ in walk(svg):
        if element.get("aria-roledescription") == "bar":
            x, y, wide, high = (
                float(each)
                for each in re.fullmatch(
                    r"M([-\d.]+),([-\d.]+)h([-\d.]+)v([-\d.]+)h[-\d.]+Z", element.get("d", "")
                ).groups()  # type: ignore[union-attr]
            )
            found.append(Drawn(element.get("aria-label", ""), x0 + x, x0 + x + wide, y0 + y + high / 2))
    return found
