"""Bringing levels and temperature differences of an earlier era of a rig to the latest one, by samples in common.

What a change of a quiet room or of a loop adds is the same for all fans, in dB or in K, so one bridge serves every
speed and every condition. It is worked out at a speed that the runs of a sample have in common, kept by a key that
hangs on those runs, and can be traced. Without one, a mounting of another era takes no part, and what would bridge it
is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from stillroom.compare.standing import BridgeNote
from stillroom.core.shift import VERSION, Shift, ShiftRun, shifts_to
from stillroom.core.spread import FIRST_YEAR_MOUNTING_HEAT, FIRST_YEAR_MOUNTING_LEVEL
from stillroom.errors import StillroomError
from stillroom.lab.book import Book
from stillroom.lab.eras.along import Along, CurveOfSpeed, along_of
from stillroom.lab.eras.bridge_advice import advice
from stillroom.lab.eras.eras import Era, Eras
from stillroom.lab.eras.kept_bridges import bridge_body, bridge_note, bridge_subject
from stillroom.lab.eras.linking import linking
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import Graph
from stillroom.measures import measure_named
from stillroom.measures.heat import HEAT
from stillroom.measures.sound import LEVEL
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


@dataclass(frozen=True)
class Shifts:
    """How the mountings of one rig come into one era.

    Parameters
    ----------
    over : {mounting: the bridge that carries it}. keys : {mounting: its key}.
    unbridged : {mounting: why it takes no part}. notes : the bridges used, as an answer tells of them.
    """

    over: Mapping[str, Shift] = field(default_factory=dict)
    keys: Mapping[str, str] = field(default_factory=dict)
    unbridged: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[BridgeNote, ...] = ()


NO_SHIFTS = Shifts()
"""Where all mountings lie in one era."""


def bring_shifted(
    lab: Lab,
    book: Book,
    graph: Graph,
    nodes: Sequence[CurveOfSpeed],
    target: Era,
    blocked: Mapping[str, str],
) -> Shifts:
    """Bring mountings of one rig to an era of it.

    Parameters
    ----------
    nodes : the mountings that may take part. blocked : {name: rule}; blocked mountings serve no bridge.
    """
    eras = Eras(book)
    others = [each for each in nodes if eras.of(each) != target]
    if not others:
        return NO_SHIFTS
    found = shift_bridges(lab, book, nodes, target, blocked)
    over = {each.subject: found[eras.of(each).number] for each in others if eras.of(each).number in found}
    unbridged = {
        each.subject: f"measured in {eras.of(each).words}, not in {target.words}; no bridge:"
        f" {advice(book, graph, eras.of(each), target, eras)}"
        for each in others
        if each.subject not in over
    }
    used = {kept.key: kept for _, kept in over.values()}
    return Shifts(
        {name: shift for name, (shift, _) in over.items()},
        {name: kept.key for name, (_, kept) in over.items()},
        unbridged,
        tuple(bridge_note(each) for each in used.values()),
    )


def shift_bridges(
    lab: Lab,
    book: Book,
    nodes: Sequence[CurveOfSpeed],
    target: Era,
    blocked: Mapping[str, str],
) -> dict[int, tuple[Shift, Result]]:
    """The bridges to an era of a rig that samples in common make, {era: bridge and what is kept of it}."""
    if not nodes:
        return {}
    eras = Eras(book)
    links = [each for each in linking(nodes, eras) if each.blocked_as not in blocked]
    runs, keys = _runs(lab, links, eras)
    name = f"{target.rig}, {measure_of(nodes[0])}"
    found = shifts_to(target.number, runs, spread_of(book, nodes[0]), name)
    dates = {each.subject: each.date for each in links}
    kept = {
        number: _kept(name, eras.of_rig(target.rig)[number - 1], target, shift, keys, dates,
                      measure_of(nodes[0]))
        for number, shift in found.items()
    }  # fmt: skip
    new = [each for each in kept.values() if results.get(lab.database, each.key) is None]
    if new:
        lab.put_results(new)
    return {number: (shift, kept[number]) for number, shift in found.items()}


def measure_of(node: CurveOfSpeed) -> str:
    """By which measure a rig's eras are bridged."""
    return HEAT if isinstance(node, HeatNode) else LEVEL


def spread_of(book: Book, node: CurveOfSpeed) -> float:
    """The spread between mountings that bridges start from: agreed, or that of the first year [K or dB]."""
    measure = measure_of(node)
    agreed = book.spreads.get(f"{measure}, given speed")
    if agreed:
        return agreed.mounting
    return FIRST_YEAR_MOUNTING_HEAT if measure == HEAT else FIRST_YEAR_MOUNTING_LEVEL


def _runs(lab: Lab, links: Sequence[CurveOfSpeed], eras: Eras) -> tuple[list[ShiftRun], dict[str, str]]:
    """The mountings that serve bridges, each at a speed that all of its sample have in common, and their keys."""
    of_sample: dict[str, list[tuple[CurveOfSpeed, Along]]] = {}
    for each in links:
        try:
            along = along_of(lab, each)
        except StillroomError:
            continue  # its own findings say why
        of_sample.setdefault(f"{each.fan}/{each.sample}", []).append((each, along))
    runs: list[ShiftRun] = []
    keys: dict[str, str] = {}
    for sample, own in of_sample.items():
        low = max(along.reach[0] for _, along in own)
        high = min(along.reach[1] for _, along in own)
        speed = math.sqrt(low * high)
        for node, along in own:
            try:
                value = along.at(speed)
            except StillroomError:
                continue  # its speeds lie too far from the others'
            keys[node.subject] = node.key
            runs.append(
                ShiftRun(
                    sample, eras.of(node).number, node.subject, value, along.reading_u, along.loadings(speed)
                )
            )
    return runs, keys


def _kept(
    name: str,
    era: Era,
    target: Era,
    shift: Shift,
    keys: Mapping[str, str],
    dates: Mapping[str, str],
    measure: str,
) -> Result:
    """A bridge as it is kept: its key hangs on all its runs, on the eras and on the spread."""
    key = key_of("bridge by difference", VERSION, name, (era.number, era.began), (target.number, target.began),
                 sorted(keys.items()), shift.u)  # fmt: skip
    body = bridge_body(era, target, shift, dates) | {"unit": measure_named(measure).spread_unit}
    method, subject = f"bridge by difference {VERSION}", bridge_subject(name, era, target)
    return Result(key, "bridge", subject, {"curves": dict(keys)}, method, False, body)
