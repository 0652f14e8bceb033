"""Bringing values of an earlier era of a rig to the latest one, by samples that were measured in both.

A bridge is worked out from the records, kept by a key that hangs on the values of its runs, and can be traced.
Without one, a mounting of another era takes no part, and what would bridge it is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from stillroom.compare.standing import BridgeNote
from stillroom.core.bridging import VERSION, Bridge, BridgeRun, bridges_to
from stillroom.core.spread import FIRST_YEAR_MOUNTING_SD
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.eras.bridge_advice import advice
from stillroom.lab.eras.eras import Era, Eras, era_number
from stillroom.lab.eras.kept_bridges import BRIDGED, bridge_body, bridge_note, bridge_subject
from stillroom.lab.eras.linking import linking
from stillroom.lab.eras.reference import reference_name
from stillroom.lab.question import Question
from stillroom.lab.recipes import Graph
from stillroom.lab.valuing import Carried, mounting_result, mounting_values
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result

ERA_LEFT_OUT = "mountings of another era left out"
"""What is said beside a number that leaves some out."""


@dataclass(frozen=True)
class Bridging:
    """How the mountings of a ranking come into one era.

    Parameters
    ----------
    targets : {rig: the era that its values are brought to}; only rigs with several eras.
    carried : the bridges that carry mountings over.
    unbridged : {mounting: why it takes no part}. doubts : {mounting: event of the same day}.
    notes : the bridges used, as a ranking tells of them. made : the same as results to be kept.
    unchecked : {mounting: mark} of those that lean on no check of the rig.
    """

    targets: Mapping[str, Era] = field(default_factory=dict)
    carried: Carried = Carried()
    unbridged: Mapping[str, str] = field(default_factory=dict)
    doubts: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[BridgeNote, ...] = ()
    made: tuple[Result, ...] = ()
    unchecked: Mapping[str, str] = field(default_factory=dict)

    @property
    def conditions(self) -> dict[str, str | int | float | bool | None]:
        """The era that values are brought to, of each rig that has several, as a ranking tells it."""
        said = "; ".join(each.words.removeprefix("era ") for each in self.targets.values())
        return {"era": said} if said else {}

    def said_of(self, nodes: Sequence[CurveNode]) -> Iterable[str]:
        """What must be said beside a number that rests on a fan's mountings."""
        if any(node.subject in self.unbridged for node in nodes):
            yield ERA_LEFT_OUT
        for name in (node.subject for node in nodes if node.subject not in self.unbridged):
            if name in self.carried.over:
                yield BRIDGED
            if name in self.doubts:
                yield f"same day as {self.doubts[name]}: counted as after it"
            if name in self.unchecked:
                yield self.unchecked[name]


NO_BRIDGES = Bridging()
"""Where all values lie in one era."""


@dataclass(frozen=True)
class _OfRig:
    """The bridges of one rig to its target era, by era, and what is kept of each."""

    target: Era
    bridges: Mapping[int, Bridge]
    kept: Mapping[int, Result]


def bring_over(
    lab: Lab,
    book: Book,
    graph: Graph,
    question: Question,
    nodes: Sequence[CurveNode],
    values: Mapping[str, Result],
    *,
    blocked: Mapping[str, str],
) -> Bridging:
    """Bring the mountings of a ranking to the latest era of their rigs.

    The latest era is that of all fans that were measured in the same way, whichever of them are asked for: so
    a fan has one number. Where nothing leads to it, it is the latest of the mountings given. The reference fan,
    and mountings that an open finding blocks, choose no era; the blocked ones serve no bridge either, and where
    none leads from their era they stay as they are, since they are marked already.

    Parameters
    ----------
    nodes, values : the mountings that take part, and their values. blocked : {mounting: rule}.
    """
    question = question.for_bridges
    eras, sd = Eras(book), mounting_sd(book, question)
    rigs = sorted({each.rig for each in nodes if len(eras.of_rig(each.rig)) > 1})
    if not rigs:
        return NO_BRIDGES
    latest = eras.latest(_choosing(book, graph, nodes, blocked))
    found: dict[str, _OfRig] = {}
    for rig in rigs:
        own = [each for each in nodes if each.rig == rig]
        sound = {eras.of(each) for each in own
                 if each.subject not in blocked and not values[each.subject].failed}  # fmt: skip
        for target in filter(None, (latest.get(rig), max(sound, key=era_number, default=None))):
            found[rig] = _of_rig(lab, graph, question, own, target, eras, blocked, sd)
            if any(each == target or each.number in found[rig].bridges for each in sound):
                break
    over: dict[str, Bridge] = {}
    keys: dict[str, str] = {}
    unbridged: dict[str, str] = {}
    for each in nodes:
        era = eras.of(each)
        of_rig = found.get(era.rig)
        if of_rig is None or era == of_rig.target:
            continue
        if era.number in of_rig.bridges:
            over[each.subject], keys[each.subject] = of_rig.bridges[era.number], of_rig.kept[era.number].key
        elif each.subject not in blocked:
            unbridged[each.subject] = _why(book, graph, era, of_rig.target, eras, sd)
    doubts = {each.subject: doubt for each in nodes if (doubt := eras.placing(each).doubt)}
    used = set(keys.values())
    made = tuple(kept for of_rig in found.values() for kept in of_rig.kept.values() if kept.key in used)
    targets = {rig: of_rig.target for rig, of_rig in found.items()}
    return Bridging(targets, Carried(over, keys), unbridged, doubts, tuple(map(bridge_note, made)), made)


def _choosing(
    book: Book, graph: Graph, nodes: Sequence[CurveNode], blocked: Mapping[str, str]
) -> list[CurveNode]:
    """The mountings that say which era is the latest."""
    reference = reference_name(book, graph) if book.settings.reference_fan else ""
    obstacles = {each.obstacle for each in nodes}
    return [
        each
        for each in graph.mountings()
        if each.obstacle in obstacles
        and each.subject not in blocked
        and f"{each.fan}/{each.sample}" != reference
    ]


def _linking(graph: Graph, eras: Eras, rig: str, obstacles: set[str]) -> list[CurveNode]:
    """The mountings of samples that were measured in several eras of a rig, behind one of some obstacles."""
    return linking(
        [each for each in graph.mountings() if each.rig == rig and each.obstacle in obstacles], eras
    )


def _of_rig(
    lab: Lab,
    graph: Graph,
    question: Question,
    nodes: Sequence[CurveNode],
    target: Era,
    eras: Eras,
    blocked: Mapping[str, str],
    sd: float,
) -> _OfRig:
    """The bridges of a rig to its target era, where a mounting lies in another one."""
    if all(eras.of(each) == target for each in nodes):
        return _OfRig(target, {}, {})
    own = [each for each in _linking(graph, eras, target.rig, {node.obstacle for node in nodes})
           if each.subject not in blocked]  # fmt: skip
    values = mounting_values(lab, question, own, workers=1)
    own = [
        each for each in own if not values[each.subject].failed and values[each.subject].body["value"] > 0.0
    ]
    arrays = {each.subject: results.load_arrays(lab.path, values[each.subject].key) for each in own}
    name = f"{target.rig}, {_words(question)}"
    runs = [
        BridgeRun(f"{each.fan}/{each.sample}/{each.obstacle}", eras.of(each).number,
                  mounting_result(each, values[each.subject], arrays[each.subject]))
        for each in own
    ]  # fmt: skip
    found = bridges_to(target.number, runs, sd, name)
    keys = {each.subject: values[each.subject].key for each in own}
    dates = {each.subject: each.runs[0].placed.date for each in own}
    kept = {
        number: _kept(name, eras.of_rig(target.rig)[number - 1], target, bridge, keys, dates, sd)
        for number, bridge in found.items()
    }
    return _OfRig(target, found, kept)


def bridge_notes(
    lab: Lab, book: Book, graph: Graph, question: Question, rig: str, blocked: Mapping[str, str]
) -> tuple[BridgeNote, ...]:
    """The bridges of a rig to its latest era in which a sample in common lies, by the bare fans; kept by key."""
    eras = Eras(book)
    links = [each for each in _linking(graph, eras, rig, {""}) if each.subject not in blocked]
    if not links:
        return ()
    target = max(map(eras.of, links), key=era_number)
    sd = mounting_sd(book, question)
    told = [(each.subject, eras.of(each).number, eras.of(each).began, question.key(each)) for each in links]
    key = key_of("bridges", VERSION, rig, target.number, sorted(told), sd)
    kept = results.get(lab.database, key)
    if kept is None:
        of_rig = _of_rig(lab, graph, question, links, target, eras, blocked, sd)
        bridges = [each.key for each in of_rig.kept.values()]
        kept = Result(key, "bridges", rig, {}, f"bridge {VERSION}", False, {"bridges": bridges})
        lab.put_results([*of_rig.kept.values(), kept])
    found = (results.get(lab.database, each) for each in kept.body["bridges"])
    return tuple(bridge_note(each) for each in found if each is not None)


def mounting_sd(book: Book, question: Question) -> float:
    """The relative spread between mountings that bridges start from: agreed, or that of the first year [1]."""
    agreed = book.spreads.get(question.spread_name)
    return agreed.mounting if agreed else FIRST_YEAR_MOUNTING_SD


def _words(question: Question) -> str:
    condition = question.condition
    through = f" through {condition.obstacle}" if condition.obstacle else ""
    return f"{question.spread_name}{through}"


def _kept(
    name: str,
    era: Era,
    target: Era,
    bridge: Bridge,
    keys: Mapping[str, str],
    dates: Mapping[str, str],
    sd: float,
) -> Result:
    """A bridge as it is kept: its key hangs on the values of all its runs, on the eras and on the spread."""
    key = key_of("bridge", VERSION, name, (era.number, era.began), (target.number, target.began),
                 sorted(keys.items()), sd)  # fmt: skip
    body = bridge_body(era, target, bridge, dates)
    subject = bridge_subject(name, era, target)
    return Result(key, "bridge", subject, {"values": dict(keys)}, f"bridge {VERSION}", False, body)


def _why(book: Book, graph: Graph, era: Era, target: Era, eras: Eras, sd: float) -> str:
    wanted = advice(book, graph, era, target, eras, sd)
    return f"measured in {era.words}, not in {target.words}; no bridge: {wanted}"
