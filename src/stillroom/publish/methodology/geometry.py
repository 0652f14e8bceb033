"""Geometry: nozzles with bores, the microphone's place, the loop with its radiator, obstacles with resistance."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Mapping

from stillroom import wording
from stillroom.core.resistance import Law
from stillroom.lab import versions
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.curves import load_obstacle
from stillroom.lab.purposes import Purpose
from stillroom.lab.sound.nodes import SoundNode
from stillroom.methods.airflow.bench import BORE_U
from stillroom.publish.document import Block, Grid, Heading, Paragraph
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.words import (
    NOT_TOLD,
    as_told,
    coefficient,
    days,
    from_si_told,
    told,
    with_u,
)
from stillroom.records.bench import ALWAYS, Rig

TITLE = "Geometry"

HOUR = 3600.0
FLOW = "m³/h"


def geometry(facts: Facts) -> Iterator[Block]:
    """A part for each kind of thing that was used; none where nothing of it was."""
    parts = [*_nozzles(facts), *_microphone(facts), *_loop(facts), *_obstacles(facts)]
    if parts:
        yield Heading(1, TITLE)
        yield from parts


# --- nozzles -------------------------------------------------------------------------------------------------


def _nozzles(facts: Facts) -> Iterator[Block]:
    if not facts.nozzles:
        return
    assumed = with_u(BORE_U * 1000.0, None, "mm")
    yield Heading(2, "Nozzles")
    yield Grid(
        ("Nozzle", "Bore and standard uncertainty", "Length over bore", "Certificate"),
        tuple(_nozzle(facts, each) for each in facts.nozzles),
        right=(1, 2),
        caption="Nozzles through which air was led",
        notes=(f"Where the uncertainty of a bore is not told, {assumed} is assumed.",),
    )


def _nozzle(facts: Facts, name: str) -> tuple[str, ...]:
    record = facts.book.nozzles.get(name)
    if record is None:
        return name, NOT_TOLD, NOT_TOLD, NOT_TOLD
    u = None if record.bore_u is None else 1000.0 * record.bore_u
    bore = with_u(1000.0 * record.bore, u, "mm") + (" ± not told" if u is None else "")
    ratio = NOT_TOLD if record.length_ratio is None else as_told(record.length_ratio)
    return name, bore, ratio, told(record.certificate)


# --- microphone ----------------------------------------------------------------------------------------------


def _microphone(facts: Facts) -> Iterator[Block]:
    nodes = [each for each in facts.by_purpose.get(Purpose.SOUND, ()) if isinstance(each, SoundNode)]
    if not nodes:
        return
    yield Heading(2, "Microphone")
    places = Counter(_place(each) for each in nodes)
    yield Grid(
        ("Rig", "Distance", "Angle", "Height", "Side", "Holder", "Room from", "Mountings"),
        tuple((*place, wording.number(count)) for place, count in sorted(places.items())),
        right=(1, 2, 3, 6, 7),
        caption="Places of the microphone",
        notes=(
            "Distance and angle are taken from the middle of the fan’s hub and its axis, the height from the hub up."
            " Levels are compared only where all of this is alike.",
        ),
    )


def _place(node: SoundNode) -> tuple[str, ...]:
    at = node.geometry
    return (
        node.rig or NOT_TOLD,
        from_si_told(at.distance, "m"),
        NOT_TOLD if at.angle is None else as_told(round(math.degrees(at.angle), 3), "°"),
        from_si_told(at.height, "m"),
        told(at.side),
        told(at.holder),
        from_si_told(at.room_from, "Hz"),
    )


# --- the loop of a heat rig ----------------------------------------------------------------------------------


def _loop(facts: Facts) -> Iterator[Block]:
    if not facts.did(Purpose.HEAT):
        return
    yield Heading(2, "Heat load, loop and radiator")
    for rig in sorted(name for name, purpose in facts.rigs.items() if purpose is Purpose.HEAT):
        for record in facts.records_of(rig) or [Rig(rig=rig)]:
            since = "" if record.since in (None, ALWAYS) else f", from {record.since} on"
            yield Grid(
                ("What", "As told"),
                _told_of_loop(record),
                caption=f"{wording.isolate(rig) or 'The heat rig'}{since}",
            )
    nominal = {body["nominal"] for _, body in facts.good(facts.by_purpose[Purpose.HEAT])}
    if nominal:
        powers = wording.listed([as_told(each, "W") for each in sorted(nominal)])
        yield Paragraph(f"Temperature rises are brought to {powers}.")


def _told_of_loop(record: Rig) -> tuple[tuple[str, str], ...]:
    return (
        ("Radiator", told(record.radiator)),
        ("Fans on the radiator", NOT_TOLD if record.fans is None else wording.number(record.fans)),
        ("Nominal power", from_si_told(record.nominal_power, "W")),
        ("Coolant", told(record.coolant)),
        ("Coolant flow", from_si_told(record.coolant_flow, "l/min")),
        ("Heat of the pump", from_si_told(record.pump_power, "W")),
        ("Time constant", from_si_told(record.tau, "min")),
    )


# --- obstacles -----------------------------------------------------------------------------------------------


def _obstacles(facts: Facts) -> Iterator[Block]:
    mounted = {
        each.obstacle for each in facts.nodes if isinstance(each, CurveNode | SoundNode) and each.obstacle
    }
    if not facts.obstacles and not mounted:
        return
    yield Heading(2, "Obstacles")
    measured = {each.subject for each in facts.obstacles}
    names = sorted(measured | mounted)
    yield Grid(
        ("Obstacle", "Version", "Kind", "Version since", "Side", "Piece", "Measured on"),
        tuple(_obstacle(facts, each) for each in names),
        right=(5,),
        caption="Obstacles and their versions",
        notes=("A version is a state of an obstacle: cleaned, or another piece. Versions are never mixed.",),
    )
    if facts.obstacles:
        resistances = [_resistance(facts, each) for each in facts.obstacles]
        yield Grid(
            ("Obstacle", "Law", "First parameter", "Second parameter", "From", "To"),
            tuple(resistances),
            right=(2, 3, 4, 5),
            caption="Resistance of each obstacle, measured by itself, with standard uncertainties",
            notes=(
                "In the air of the measurement. The two parameters lean on each other: their errors are carried"
                " together.",
            ),
        )


def _obstacle(facts: Facts, name: str) -> tuple[str, ...]:
    record = versions.record_of(facts.book.obstacles, name)
    node = next((each for each in facts.obstacles if each.subject == name), None)
    on = days([each.placed.told_date for each in node.runs]) if node else "only mounted with fans"
    if record is None:
        return versions.bare(name), name.partition(versions.AT)[2] or NOT_TOLD, *(NOT_TOLD,) * 4, on
    return (
        record.obstacle,
        told(record.version),
        told(record.description or record.type),
        told(record.date),
        told(record.side),
        from_si_told(record.tile_size, "mm"),
        on,
    )


def _resistance(facts: Facts, node: CurveNode) -> tuple[str, ...]:
    result = facts.results.get(node.key)
    if result is None or result.failed:
        return node.subject, "could not be had", *(NOT_TOLD,) * 4
    found = load_obstacle(facts.contents.lab.path, result).resistance
    first, second = (float(each) for each in found.central)
    u_first, u_second = (math.sqrt(float(found.covariance[i, i])) for i in (0, 1))
    return (node.subject, f"Δp = {found.law.value}", *_PARAMETERS[found.law](first, u_first, second, u_second),
            *(wording.with_unit(wording.bare(each * HOUR), FLOW) for each in found.reach))  # fmt: skip


def _linear_quadratic(a: float, u_a: float, b: float, u_b: float) -> tuple[str, str]:
    return (
        f"a = {coefficient(a / HOUR, u_a / HOUR, f'Pa/({FLOW})')}",
        f"b = {coefficient(b / HOUR**2, u_b / HOUR**2, f'Pa/({FLOW})²')}",
    )


def _power_law(c: float, u_c: float, n: float, u_n: float) -> tuple[str, str]:
    return f"c = {coefficient(c, u_c, 'Pa/(m³/s)ⁿ')}", f"n = {coefficient(n, u_n, '')}"


_PARAMETERS: Mapping[Law, Callable[[float, float, float, float], tuple[str, str]]] = {
    Law.LINEAR_QUADRATIC: _linear_quadratic,
    Law.POWER: _power_law,
}
