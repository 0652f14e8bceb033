"""Facts of what watches a rig, as rules 3, 4 and 45 are told them; and which runs lean on no check."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from stillroom import wording
from stillroom.core.bridging import BridgeRun, bridges_to
from stillroom.core.combine import MountingResult
from stillroom.core.control_chart import Check, Signal
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.eras.along import CurveOfSpeed
from stillroom.lab.eras.bridge_advice import advice
from stillroom.lab.eras.bridges import bridge_notes, mounting_sd
from stillroom.lab.eras.check_ways import LINES
from stillroom.lab.eras.eras import Era, Eras, era_number
from stillroom.lab.eras.linking import linking
from stillroom.lab.eras.reference import ReferenceCheck, judged, reference_checks, reference_name
from stillroom.lab.eras.rig_nodes import RigNode, before_it, rig_nodes
from stillroom.lab.eras.rigs_by_date import moved_roles, record_changes
from stillroom.lab.eras.shift_bridges import measure_of, shift_bridges
from stillroom.lab.question import Question
from stillroom.lab.recipes import Graph
from stillroom.measures import Condition, measure_named
from stillroom.measures.heat import HEAT
from stillroom.measures.sound import LEVEL
from stillroom.quality.rigs import BridgeFacts, CheckFacts, DayFacts, EraFacts, WatchFacts
from stillroom.records.keys import key_of
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME, from_si, shown_unit

BY_RATIO = ("free-airflow", "maximum-pressure")
"""Measures by which a bridge is looked at, at full setting."""

LEADING = {"mounting": "free-airflow", "sound": LEVEL, "heat": HEAT}
"""The line without which a mounting of the reference fan is no valid check, by kind of result."""

UNCHECKED = "no valid reference check that day"
"""The mark of numbers that lean on no check."""


def watch_facts(lab: Lab, book: Book, graph: Graph, blocked: Mapping[str, str]) -> list[WatchFacts]:
    """What the rules ask of each rig that was used.

    Parameters
    ----------
    blocked : {mounting: rule} of open findings of the fans.
    """
    eras = Eras(book)
    of_rig: dict[str, list[RigNode]] = {}
    for each in rig_nodes(graph):
        of_rig.setdefault(each.rig, []).append(each)
    return [_watch(lab, book, graph, rig, of_rig[rig], eras, blocked) for rig in sorted(of_rig)]


def _day(node: RigNode) -> str:
    return node.date[:10]


def _watch(
    lab: Lab,
    book: Book,
    graph: Graph,
    rig: str,
    nodes: list[RigNode],
    eras: Eras,
    blocked: Mapping[str, str],
) -> WatchFacts:
    reference = reference_name(book, graph) if book.settings.reference_fan else ""
    return WatchFacts(
        rig=rig,
        reference=reference,
        checks=check_facts(lab, book, graph, rig, blocked),
        days=_days(nodes, reference),
        eras=_eras(book, graph, rig, eras, [each for each in nodes if each.blocked_as not in blocked]),
        bridges=_bridges(lab, book, graph, rig, nodes, blocked),
        swaps=_swaps(lab, book, rig),
    )


def _days(nodes: list[RigNode], reference: str) -> tuple[DayFacts, ...]:
    days: dict[str, dict[str, str]] = {}
    for each in nodes:
        if f"{each.fan}/{each.sample}" != reference:
            days.setdefault(_day(each), {})[each.blocked_as] = each.fan
    return tuple(DayFacts(day, days[day]) for day in sorted(days))


# --- checks ------------------------------------------------------------------------------------------------


def check_facts(
    lab: Lab, book: Book, graph: Graph, rig: str, blocked: Mapping[str, str]
) -> tuple[CheckFacts, ...]:
    """The checks of a rig with what their charts say."""
    checks = reference_checks(lab, book, graph, rig)
    charts = {line.measure: judged(checks, line.measure) for line in LINES}
    return tuple(_check(book, each, charts, blocked) for each in checks)


def _check(
    book: Book, check: ReferenceCheck, charts: Mapping[str, Mapping[str, Check]], blocked: Mapping[str, str]
) -> CheckFacts:
    said = {name: chart[check.mounting] for name, chart in charts.items() if check.mounting in chart}
    first = LEADING[check.node.kind]
    why = check.failed.get(first, "")
    if not why and check.node.blocked_as in blocked:
        why = f"open finding: {blocked[check.node.blocked_as]}"
    return CheckFacts(
        mounting=check.mounting,
        day=check.date[:10],
        judged=check.node.judged,
        why_not=why,
        signals={name: each.signals for name, each in said.items()},
        said={name: line_words(book, name, each) for name, each in said.items()},
        event=_last_event(book, check),
    )


def line_words(book: Book, measure: str, check: Check) -> str:
    """A value of the chart with its limits, in the unit that the lab shows."""
    quantity = BY_NAME[measure_named(measure).quantity]
    symbol = shown_unit(quantity, book.settings.units)
    value = from_si(check.value, symbol)
    if check.limits is None:
        return f"{wording.bare(value)} {symbol}, limits not established"
    low, high = from_si(check.limits.low, symbol), from_si(check.limits.high, symbol)
    places = wording.places_for((high - low) / 2)
    limits = f"{wording.number(low, places)} to {wording.number(high, places)}"
    words = f"{wording.number(value, places)} {symbol}, limits {limits}"
    if Signal.EWMA in check.signals:
        words += f", average {wording.number(from_si(check.limits.ewma, symbol), places + 1)}"
    return words


def _last_event(book: Book, check: ReferenceCheck) -> str:
    rig = check.node.rig
    own = [
        each
        for each in book.events.values()
        if each.rig in (None, "", rig) and each.time[:10] <= check.date[:10]
    ]
    last = max(own, key=lambda each: each.time, default=None)
    return f"{last.text!r} ({last.time[:10]})" if last else ""


def unchecked(lab: Lab, book: Book, graph: Graph, blocked: Mapping[str, str]) -> dict[str, str]:
    """{name under which it is blocked: mark} of mountings on days without a valid check of their rig, where the lab has
    a reference fan.
    """
    reference = reference_name(book, graph)
    if not book.settings.reference_fan:
        return {}
    marks: dict[str, str] = {}
    good: dict[str, set[str]] = {}
    for each in rig_nodes(graph):
        if each.rig not in good:
            checks = check_facts(lab, book, graph, each.rig, blocked)
            good[each.rig] = {check.day for check in checks if check.good}
        if _day(each) not in good[each.rig] and f"{each.fan}/{each.sample}" != reference:
            marks[each.blocked_as] = UNCHECKED
    return marks


# --- eras --------------------------------------------------------------------------------------------------


def _eras(book: Book, graph: Graph, rig: str, eras: Eras, nodes: list[RigNode]) -> tuple[EraFacts, ...]:
    """The eras of a rig; one is bridged where a sample in common leads from any earlier era to it."""
    all_of = eras.of_rig(rig)
    seen: dict[tuple[str, str, str], set[int]] = {}
    for each in linking(nodes, eras):
        seen.setdefault((each.fan, each.sample, before_it(each)), set()).add(eras.of(each).number)
    found = []
    for era in all_of:
        bridged = any(era.number in numbers and min(numbers) < era.number for numbers in seen.values())
        own = {each.blocked_as: each.fan for each in nodes if eras.of(each) == era}
        found.append(EraFacts(era.number, era.began, era.why, own, bridged,
                              _advice(book, graph, era, all_of, eras, nodes)))  # fmt: skip
    return tuple(found)


def _advice(
    book: Book, graph: Graph, era: Era, all_of: tuple[Era, ...], eras: Eras, nodes: list[RigNode]
) -> str:
    """What would bridge the last earlier era that was used with this one."""
    used = {eras.of(each).number for each in nodes}
    earlier = [each for each in all_of if each.number < era.number and each.number in used]
    return advice(book, graph, earlier[-1], era, eras) if earlier else ""


def _bridges(
    lab: Lab, book: Book, graph: Graph, rig: str, nodes: Sequence[RigNode], blocked: Mapping[str, str]
) -> tuple[BridgeFacts, ...]:
    """The bridges of a rig by the measures that tell most of it: by the reference fan's checks where it was run in
    several eras, else by the samples in common at full setting; in a quiet room and on a heat rig by a difference.
    """
    along = [each for each in nodes if not isinstance(each, CurveNode)]
    if along:
        return tuple(_by_difference(lab, book, along, blocked))
    checks = [each for each in reference_checks(lab, book, graph, rig) if each.mounting not in blocked]
    if len({each.era.number for each in checks}) > 1:
        return tuple(fact for name in BY_RATIO for fact in _by_checks(book, rig, name, checks))
    return tuple(
        BridgeFacts(name, each.era, each.event, each.change, each.low, each.high, each.agree, each.key)
        for name in BY_RATIO
        for each in bridge_notes(lab, book, graph, Question(measure_named(name), Condition()), rig, blocked)
    )


def _by_difference(
    lab: Lab, book: Book, nodes: Sequence[CurveOfSpeed], blocked: Mapping[str, str]
) -> Iterator[BridgeFacts]:
    """The bridges of levels or temperature differences to the latest era of a rig in which it was used."""
    eras = Eras(book)
    target = max((eras.of(each) for each in nodes), key=era_number)
    measure = measure_of(nodes[0])
    unit = measure_named(measure).spread_unit
    for number, (shift, kept) in shift_bridges(lab, book, nodes, target, blocked).items():
        yield BridgeFacts(measure, (number, target.number), f"{target.why!r} ({target.began[:10]})", shift.change,
                          *shift.interval, shift.agree, kept.key, unit)  # fmt: skip


def _by_checks(book: Book, rig: str, measure: str, checks: Sequence[ReferenceCheck]) -> Iterator[BridgeFacts]:
    """The bridges to the latest era that the reference fan's checks make, at the checks' speed."""
    own = [each for each in checks if each.values.get(measure, 0.0) > 0.0]
    if not own:
        return
    target = max((each.era for each in own), key=era_number)
    runs = [
        BridgeRun(rig, each.era.number, MountingResult(rig, each.mounting, each.values[measure],
                                                       np.full(1, each.values[measure]), np.zeros(1)))
        for each in own
    ]  # fmt: skip
    sd = mounting_sd(book, Question(measure_named(measure), Condition()))
    for number, bridge in bridges_to(target.number, runs, sd, rig).items():
        key = key_of(
            "bridge by checks", rig, measure, number, [(each.mounting, each.values[measure]) for each in own]
        )
        yield BridgeFacts(measure, (number, target.number), f"{target.why!r} ({target.began[:10]})", bridge.ratio,
                          *bridge.interval, bridge.agree, key)  # fmt: skip


def _swaps(lab: Lab, book: Book, rig: str) -> tuple[tuple[str, str], ...]:
    """Changes of the rig's instruments in its record, on days without an event that changes results."""
    noted = {
        each.time[:10]
        for each in book.events.values()
        if each.changes_results and each.rig in (None, "", rig)
    }
    return tuple(
        (date, moved)
        for date, before, after in record_changes(lab, book, rig)
        if date not in noted and (moved := moved_roles(before, after))
    )
