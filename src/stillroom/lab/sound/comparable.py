"""Whose sound can be compared: one place of the microphone, one era of the room."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from stillroom.compare.standing import BridgeNote
from stillroom.core.shift import Shift
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.lab.book import Book
from stillroom.lab.eras.eras import Era, Eras, placing_of
from stillroom.lab.eras.kept_bridges import BRIDGED
from stillroom.lab.eras.reference import reference_name
from stillroom.lab.eras.shift_bridges import NO_SHIFTS, Shifts, bring_shifted
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.level_words import at_distance
from stillroom.lab.sound.nodes import SoundNode
from stillroom.lab.system_words import Plain
from stillroom.store.lab import Lab

DISTANCE, HEIGHT, ANGLE = 0.02, 0.02, math.radians(5.0)
"""How far two places of a microphone may differ [m, m, rad] (common practice: ± 2 cm, ± 5°)."""

NOT_TOLD = "distance not told"
NO_SOUND = "no sound measured"


@dataclass(frozen=True)
class Comparable:
    """The sound of a lab that goes together.

    Parameters
    ----------
    geometry : of the comparison. nodes : by fan, those that take part. why : of fans that have none, the reason.
    marks : {fan: what is said of its sound}. eras : {rig: the era of the room}. method : with its version.
    shifts : {rig: how the sound of earlier eras of the room comes into it}.
    """

    geometry: Geometry
    nodes: Mapping[str, tuple[SoundNode, ...]]
    why: Mapping[str, str]
    marks: Mapping[str, tuple[str, ...]]
    eras: Mapping[str, Era]
    method: str
    shifts: Mapping[str, Shifts] = field(default_factory=dict)

    def over(self, node: SoundNode) -> Shift | None:
        """The bridge that carries a mounting's levels over from an earlier era of the room, where one does."""
        return self.shifts.get(node.rig, NO_SHIFTS).over.get(node.subject)

    def key(self, node: SoundNode) -> str | tuple[str, str]:
        """What a value hangs on of a mounting's sound: its key, and that of the bridge which carries it."""
        bridge = self.shifts.get(node.rig, NO_SHIFTS).keys.get(node.subject)
        return (node.key, bridge) if bridge else node.key

    def bridges(self, nodes: Iterable[SoundNode]) -> dict[str, str]:
        """{mounting: key of the bridge that carries it} of those that one does."""
        keys = {each.subject: self.shifts.get(each.rig, NO_SHIFTS).keys.get(each.subject) for each in nodes}
        return {name: key for name, key in keys.items() if key}

    @property
    def notes(self) -> tuple[BridgeNote, ...]:
        """The bridges used, as an answer tells of them."""
        return tuple(note for each in self.shifts.values() for note in each.notes)

    def reason(self, fan: str) -> str:
        """Why a fan has no sound that can be compared."""
        return self.why.get(fan, NO_SOUND)

    @property
    def conditions(self) -> dict[str, Plain]:
        """As they stand among the conditions of an answer."""
        eras = [era.words for era in self.eras.values() if era.number > 1]
        told: dict[str, Plain] = {"microphone": self.geometry.words, "sound method": self.method}
        return told | ({"room era": ", ".join(eras)} if eras else {})


def comparable(book: Book, graph: Graph, lab: Lab | None = None) -> Comparable:
    """The sound that can be compared in a lab.

    The place is the one at the lab's distance where the most fans were measured; where nothing was measured at that
    distance, the one of the most fans. What nobody told of a place contradicts nothing. Of each room the latest
    era takes part, in which another fan than the reference fan was heard; what was heard in others is brought over by
    a difference in dB where a sample in common was heard in both.

    Parameters
    ----------
    lab : where the sound is kept; None: only places are asked for, and no bridge is looked for.
    """
    nodes = graph.sounding()
    geometry = _place(nodes, book.settings.sound.distance)
    near = [each for each in nodes if not unlike(each.geometry, geometry)]
    eras = _latest(book, graph, near)
    shifts = {
        rig: bring_shifted(lab, book, graph, [each for each in near if each.rig == rig], era, {})
        for rig, era in eras.items()
        if lab is not None
    }
    taking: dict[str, list[SoundNode]] = defaultdict(list)
    why: dict[str, str] = {}
    marks: dict[str, dict[str, None]] = defaultdict(dict)
    for each in nodes:
        said = _why_not(book, each, geometry, eras, shifts)
        if said:
            why[each.fan] = said
            if each in near:
                marks[each.fan]["sound of another room era left out"] = None
            continue
        taking[each.fan].append(each)
        if each.subject in shifts.get(each.rig, NO_SHIFTS).over:
            marks[each.fan][BRIDGED] = None
        if each.geometry.distance is None:
            marks[each.fan][NOT_TOLD] = None
    return Comparable(
        geometry,
        {fan: tuple(own) for fan, own in taking.items()},
        {fan: said for fan, said in why.items() if fan not in taking},
        {fan: tuple(said) for fan, said in marks.items() if fan in taking},
        eras,
        nodes[0].method if nodes else "",
        shifts,
    )


def _latest(book: Book, graph: Graph, nodes: Sequence[SoundNode]) -> dict[str, Era]:
    """The latest era of each room; the reference fan chooses none where others were heard."""
    found = Eras(book)
    reference = reference_name(book, graph) if book.settings.reference_fan else ""
    others = [each for each in nodes if f"{each.fan}/{each.sample}" != reference]
    rigs = {each.rig for each in others}
    return found.latest([*others, *(each for each in nodes if each.rig not in rigs)])


def _place(nodes: Sequence[SoundNode], distance: float) -> Geometry:
    """The place of a comparison."""
    told = [each for each in nodes if each.geometry.distance is not None]
    at = [each for each in told if abs((each.geometry.distance or 0.0) - distance) <= DISTANCE]
    among = at or told or list(nodes)
    if not among:
        return Geometry(distance)
    fans = Counter(place for place, _ in {(each.geometry.place, each.fan) for each in among})
    most = max(fans.values())
    return next(each.geometry for each in among if fans[each.geometry.place] == most)


def era_of(book: Book, node: SoundNode) -> Era:
    """The era of the room in which a mounting was recorded: of its first recording."""
    return placing_of(book, node.rig, node.recordings[0].run.placed.date).era


def unlike(own: Geometry, other: Geometry) -> str:
    """How one place differs from another, in words; "" where nothing told differs."""
    if _differ(own.distance, other.distance, DISTANCE):
        return f"measured {at_distance(own)}, not {at_distance(other).removeprefix('at ')}"
    if _differ(own.angle, other.angle, ANGLE):
        return f"measured at {_degrees(own.angle)}, not {_degrees(other.angle)}"
    if _differ(own.height, other.height, HEIGHT):
        return f"microphone {own.height:g} m above the fan’s middle, not {other.height:g} m"
    if own.side and other.side and own.side.casefold() != other.side.casefold():
        return f"measured on the {own.side} side, not the {other.side} side"
    if own.holder and other.holder and own.holder.casefold() != other.holder.casefold():
        return f"held by {own.holder}, not {other.holder}"
    return ""


def _degrees(angle: float | None) -> str:
    return f"{math.degrees(angle or 0.0):.0f}°"


def _differ(own: float | None, other: float | None, slack: float) -> bool:
    return own is not None and other is not None and abs(own - other) > slack * (1.0 + 1e-9)


def _why_not(
    book: Book,
    node: SoundNode,
    geometry: Geometry,
    eras: Mapping[str, Era],
    shifts: Mapping[str, Shifts],
) -> str:
    said = unlike(node.geometry, geometry)
    if said:
        return f"sound {said}"
    if node.rig in shifts:
        why = shifts[node.rig].unbridged.get(node.subject)
        return f"sound {why}" if why else ""
    era = era_of(book, node)
    return "" if era == eras[node.rig] else f"sound measured in {era.words}, not in {eras[node.rig].words}"
