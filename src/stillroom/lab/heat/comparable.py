"""Whose heat can be compared: one rig, its loop as it stands in one era, one radiator, nominal power and fan count."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.eras.eras import Era, Eras, era_number
from stillroom.lab.eras.kept_bridges import BRIDGED
from stillroom.lab.eras.reference import reference_name
from stillroom.lab.eras.shift_bridges import NO_SHIFTS, Shifts, bring_shifted
from stillroom.lab.heat.nodes import HeatNode, rig_words
from stillroom.lab.recipes import Graph
from stillroom.lab.system_words import Plain
from stillroom.methods.heat.told import RigTold
from stillroom.store.lab import Lab


@dataclass(frozen=True)
class HeatField:
    """The heat runs of one rig that go together.

    Parameters
    ----------
    rig : as it stood at its latest run; its radiator, nominal power and fan count are those of the comparison.
    nodes : {fan: its mountings}. why : {fan: why it has none}. left_out : {mounting: why it takes no part}.
    era : to which values belong; None where nothing was run. shifts : how those of other eras come into it.
    marks : {fan: what must be said beside its numbers}. method : with its version.
    """

    rig: RigTold
    nodes: Mapping[str, tuple[HeatNode, ...]]
    why: Mapping[str, str]
    left_out: Mapping[str, str]
    era: Era | None
    marks: Mapping[str, tuple[str, ...]]
    method: str
    shifts: Shifts = NO_SHIFTS

    def reason(self, fan: str) -> str:
        """Why a fan has no heat that can be compared."""
        return self.why.get(fan, f"no heat run on {rig_words(self.rig.name)}")

    @property
    def conditions(self) -> dict[str, Plain]:
        """As they stand among the conditions of an answer."""
        told: dict[str, Plain] = {
            "rig": self.rig.name,
            "nominal power": f"{self.rig.nominal:g} W",
            "fans on the radiator": self.rig.fans,
            "coolant": self.rig.coolant or None,
            "era": self.era.words if self.era and self.era.number > 1 else None,
            "heat method": self.method,
        }
        return {name: value for name, value in told.items() if value is not None}


def heat_rigs(graph: Graph) -> list[str]:
    """The rigs on which heat was run, by name."""
    return sorted({each.rig for each in graph.heating()})


def rig_asked(graph: Graph, rig: str) -> str:
    """The heat rig that is meant: the one named, else the only one.

    Raises
    ------
    UnknownThing : no such heat rig. NotPossible : no heat was run, or several rigs and none named.
    """
    rigs = heat_rigs(graph)
    if not rigs:
        raise NotPossible("heat", found="no heat run", expected="logs of a heat rig; see docs/logging.md")
    if rig and rig not in rigs:
        raise UnknownThing("heat rig", found=repr(rig), expected=named_rigs(rigs))
    if not rig and len(rigs) > 1:
        raise NotPossible(
            "heat",
            found=f"several heat rigs: {named_rigs(rigs)}",
            expected=f"one of them, such as --rig {next(filter(None, rigs))}",
        )
    return rig or rigs[0]


def named_rigs(rigs: Iterable[str]) -> str:
    """Heat rigs in a list; one of runs that name none comes last."""
    return ", ".join(each or "one without a name" for each in sorted(rigs, key=lambda each: (not each, each)))


def usual_loop(graph: Graph, rig: str) -> RigTold:
    """A heat rig as it stood for the most fans."""
    return _usual([each for each in graph.heating() if each.rig == rig])


def heat_field(lab: Lab, book: Book, graph: Graph, rig: str, blocked: Mapping[str, str]) -> HeatField:
    """The heat runs of a rig that can be compared.

    The loop is the one of the most fans: radiator, nominal power, number of fans and coolant as the rig's record told
    them on the day. Mountings of another take no part, with what differs; what nobody told contradicts nothing.

    Parameters
    ----------
    blocked : {mounting: rule}; a mounting that an open finding blocks chooses no era.
    """
    nodes = [each for each in graph.heating() if each.rig == rig]
    loop = _usual(nodes)
    left_out = {each.subject: f"heat run {said}" for each in nodes if (said := _unlike(each.rig_told, loop))}
    alike = [each for each in nodes if each.subject not in left_out]
    eras = Eras(book)
    reference = reference_name(book, graph) if book.settings.reference_fan else ""
    era = _latest(eras, alike, blocked, reference)
    shifts = bring_shifted(lab, book, graph, alike, era, blocked) if era else NO_SHIFTS
    left_out |= shifts.unbridged
    doubts = {each.subject: doubt for each in alike if (doubt := eras.placing(each).doubt)}
    taking: dict[str, list[HeatNode]] = defaultdict(list)
    for each in alike:
        if each.subject not in shifts.unbridged:
            taking[each.fan].append(each)
    why = {each.fan: left_out[each.subject] for each in nodes if each.subject in left_out}
    return HeatField(
        rig=loop,
        nodes={fan: tuple(own) for fan, own in taking.items()},
        why={fan: said for fan, said in why.items() if fan not in taking},
        left_out=left_out,
        era=era,
        marks={fan: _marks(own, nodes, left_out, doubts, shifts) for fan, own in taking.items()},
        method=nodes[0].method if nodes else "",
        shifts=shifts,
    )


def _latest(eras: Eras, nodes: Sequence[HeatNode], blocked: Mapping[str, str], reference: str) -> Era | None:
    """The latest era with a run that nothing blocks; where all are blocked, the latest of these. The reference fan
    chooses none where others were run.
    """
    others = [each for each in nodes if f"{each.fan}/{each.sample}" != reference] or nodes
    sound = [each for each in others if each.blocked_as not in blocked] or others
    return max((eras.of(each) for each in sound), key=era_number, default=None)


def _usual(nodes: Sequence[HeatNode]) -> RigTold:
    """The loop of the most fans; of equals, that of the latest run."""
    ordered = sorted(nodes, key=lambda each: (each.date, each.subject), reverse=True)
    fans = Counter(loop for loop, _ in {(_loop(each.rig_told), each.fan) for each in ordered})
    most = max(fans.values())
    return next(each.rig_told for each in ordered if fans[_loop(each.rig_told)] == most)


def _loop(told: RigTold) -> tuple[object, ...]:
    return told.radiator, told.nominal, told.fans, told.coolant


def _unlike(own: RigTold, usual: RigTold) -> str:
    """How a rig stood otherwise, in words; "" where nothing told differs."""
    if own.radiator and usual.radiator and own.radiator != usual.radiator:
        return f"on {own.radiator}, not on {usual.radiator}"
    if own.nominal != usual.nominal:
        return f"brought to {own.nominal:g} W, not to {usual.nominal:g} W"
    if own.fans != usual.fans:
        return f"with {own.fans} on the radiator, not with {usual.fans}"
    if own.coolant and usual.coolant and own.coolant != usual.coolant:
        return f"with {own.coolant}, not with {usual.coolant}"
    return ""


def _marks(
    own: Sequence[HeatNode],
    nodes: Sequence[HeatNode],
    left_out: Mapping[str, str],
    doubts: Mapping[str, str],
    shifts: Shifts,
) -> tuple[str, ...]:
    """What must be said beside a fan's numbers."""
    fan = own[0].fan
    told = dict.fromkeys(
        f"same day as {doubts[each.subject]}: counted as after it" for each in own if each.subject in doubts
    )
    if any(each.fan == fan and each.subject in left_out for each in nodes):
        told["a heat run of another era or loop left out"] = None
    if any(each.subject in shifts.over for each in own):
        told[BRIDGED] = None
    if any(each.left_out for each in own):
        told["a log was excluded"] = None
    return tuple(told)
