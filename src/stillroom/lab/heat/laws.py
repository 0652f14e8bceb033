"""The law that ties heat to airflow, R(Q) = R₀ + c Q^(−m), of each era of a heat rig over all its fans.

The airflow of a step is the fan's own measure: what it moves through the rig's radiator at the step's speed, by the
chamber. A step far off the law says that one of the two rigs is wrong.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stillroom.core.characteristic import Part
from stillroom.core.heat.flow_law import LEAST_FLOWS, LEAST_SPAN, FlowLaw, Label, fit_flow_law
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.core.mounted import MountedFan
from stillroom.core.row_speeds import BEYOND
from stillroom.core.systems import Load
from stillroom.errors import NotPossible, StillroomError, UnknownThing
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.eras.eras import Era, Eras
from stillroom.lab.heat.nodes import LAW, HeatNode, rig_words
from stillroom.lab.recipes import Graph
from stillroom.lab.through import Through, load_of, through_of
from stillroom.measures import Condition, measure_named
from stillroom.measures.value import curve_in, load_in, sources_of
from stillroom.methods.heat import versions
from stillroom.methods.heat.kept import step_of
from stillroom.methods.heat.law import LawPoint, law_of, law_parts, points_of
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result

MOUNTING = 0.012
"""Relative standard deviation of an airflow between mountings, where the lab has agreed on none [1]."""

NEEDED = (
    f"airflow of the fans through the rig’s radiator, for at least {LEAST_FLOWS} steps whose airflows differ and span"
    f" {LEAST_SPAN} : 1"
)
"""What the law of a rig takes beside its heat."""

SPREAD = "airflow, given speed"
"""Under which name the lab agrees on it."""


@dataclass(frozen=True)
class RigLaw:
    """The law of one era of a heat rig.

    Parameters
    ----------
    era : of the rig. radiator : an obstacle's name. key : of the kept result.
    law : None where it could not be had; then `why` says so, and `lacks` what was found in few words.
    points : of the law. left_out : {mounting: why} of mountings, or single steps of them, whose airflow isn't known.
    """

    era: Era
    radiator: str
    key: str
    law: FlowLaw | None
    points: tuple[LawPoint, ...]
    left_out: Mapping[str, str]
    why: str = ""
    lacks: str = ""


def flow_laws(lab: Lab, book: Book, graph: Graph) -> dict[str, RigLaw]:
    """The laws of all eras of all heat rigs, {"RIG, era N": law}; what is missing is worked out and kept.

    Heats that are not reduced yet, or could not be had, are left aside.
    """
    eras = Eras(book)
    groups: dict[tuple[str, int, str], list[HeatNode]] = defaultdict(list)
    for node in graph.heats:
        era = eras.of(node)
        groups[era.rig, era.number, node.radiator].append(node)
    several = {key[:2] for key in groups if sum(other[:2] == key[:2] for other in groups) > 1}
    found: dict[str, RigLaw] = {}
    for key, nodes in sorted(groups.items()):
        rig, number, radiator = key
        name = f"{rig_words(rig)}, era {number}" + (
            f", {radiator or 'no radiator told'}" if key[:2] in several else ""
        )
        found[name] = _Maker(lab, book, graph, eras.of(nodes[0]), radiator).law(name, nodes)
    return found


@dataclass(frozen=True)
class _Maker:
    """Makes the law of one era and radiator."""

    lab: Lab
    book: Book
    graph: Graph
    era: Era
    radiator: str

    def law(self, name: str, nodes: Sequence[HeatNode]) -> RigLaw:
        """The law, kept before or worked out now."""
        kept = self.lab.database, self.lab.path, [each.key for each in nodes]
        there = results.known(*kept)
        used = [each for each in nodes if each.key in there]
        try:
            through = self._through()
        except StillroomError as error:
            return RigLaw(self.era, self.radiator, "", None, (), {}, error.sentence(), error.found)
        curves = {fan: self._curves(through, fan) for fan in sorted({each.fan for each in used})}
        key = self._key(used, curves, through)
        result = results.get(self.lab.database, key)
        if result is None:
            result = self._made(name, key, used, curves, through)
            self.lab.put_results([result])
        return self._of(result)

    def _of(self, result: Result) -> RigLaw:
        left_out = result.body.get("left_out", {})
        if result.failed:
            return RigLaw(
                self.era,
                self.radiator,
                result.key,
                None,
                (),
                left_out,
                result.failed,
                result.body.get("lacks", ""),
            )
        law = law_of(result.body["flow_law"])
        return RigLaw(self.era, self.radiator, result.key, law, points_of(law), left_out)

    def _through(self) -> Through:
        if not self.radiator:
            raise NotPossible(
                f"airflow on {rig_words(self.era.rig)}",
                found="no radiator told",
                expected=f"the rig's radiator = the name of an obstacle of the lab, and {NEEDED}",
            )
        try:
            return through_of(self.book, self.graph, self.radiator)
        except UnknownThing as error:
            raise NotPossible(
                f"airflow on {rig_words(self.era.rig)}",
                found=f"no airflow through {self.radiator}",
                expected=NEEDED,
            ) from error

    def _curves(self, through: Through, fan: str) -> list[CurveNode]:
        """The airflow of a fan by which its flow through the radiator is known."""
        return sorted(
            (each for each in self.graph.mountings(fan) if each.obstacle == through.mounted),
            key=lambda each: each.subject,
        )

    @property
    def _spread(self) -> float:
        spread = self.book.spreads.get(SPREAD)
        return spread.mounting if spread else MOUNTING

    def _key(
        self, used: Iterable[HeatNode], curves: Mapping[str, Sequence[CurveNode]], through: Through
    ) -> str:
        heats = sorted((each.key, each.subject, each.date) for each in used)
        of_fans = {fan: [each.key for each in nodes] for fan, nodes in curves.items()}
        airflow = measure_named("airflow").version
        return key_of(LAW, versions.LAW, airflow, heats, of_fans, through.key, self._spread)

    def _made(
        self,
        name: str,
        key: str,
        used: Sequence[HeatNode],
        curves: Mapping[str, Sequence[CurveNode]],
        through: Through,
    ) -> Result:
        inputs: dict[str, Any] = {
            "heats": {each.subject: each.key for each in used},
            "mounting": [each.key for nodes in curves.values() for each in nodes],
            "obstacle": [each.key for each in through.nodes],
        }
        gathered = _Points(self.lab, through, self._spread)
        body: dict[str, Any]
        try:
            for node in used:
                gathered.take(node, curves[node.fan])
            body = {"flow_law": law_parts(gathered.fitted())}
        except StillroomError as error:
            body = {"failed": error.sentence(), "lacks": error.found}
        body["left_out"] = gathered.left_out
        return Result(key, LAW, name, inputs, f"{LAW} {versions.LAW}", False, body)


class _Points:
    """The points of a law, mounting by mounting."""

    def __init__(self, lab: Lab, through: Through, spread: float) -> None:
        self.lab, self.spread = lab, spread
        obstacles = {each.key: result_of(lab, each) for each in through.nodes}
        self.load = load_of(lab.path, through, obstacles)
        self.rows: list[tuple[float, float, float, float]] = []
        self.labels: list[Label] = []
        self.left_out: dict[str, str] = {}
        self._fans: dict[str, list[MountedFan]] = {}

    def take(self, node: HeatNode, curves: Sequence[CurveNode]) -> None:
        """The steps of one mounting that tell a rise at a speed."""
        result = results.get(self.lab.database, node.key)
        if result is None or result.failed:
            return
        if not curves:
            self.left_out[node.subject] = "no airflow of this fan was measured"
            return
        fans = self._loaded(node.fan, curves)
        for step in map(step_of, result.body["steps"]):
            if step.is_result and step.speed is not None:
                self._step(node, step, step.speed, fans, curves)

    def _loaded(self, fan: str, curves: Sequence[CurveNode]) -> list[MountedFan]:
        if fan not in self._fans:
            kept = [results.get(self.lab.database, each.key) for each in curves]
            self._fans[fan] = [load_fan(self.lab.path, each) for each in kept if each and not each.failed]
        return self._fans[fan]

    def _step(
        self,
        node: HeatNode,
        step: HeatStep,
        speed: float,
        fans: Sequence[MountedFan],
        curves: Sequence[CurveNode],
    ) -> None:
        try:
            flows = [flow_through(each, self.load, speed) for each in fans]
        except StillroomError as error:
            self.left_out[f"{node.subject}, step {step.number}"] = error.sentence()
            return
        if not flows:
            self.left_out[node.subject] = "its airflow could not be had"
            return
        flow = float(np.mean(flows)) * node.rig_told.fans
        u_flow = flow * self.spread / np.sqrt(len(flows))
        by_speed = (step.u_speed or 0.0) / speed * step.delta_nominal * 0.5
        u = float(np.hypot(step.u_own, by_speed)) / step.nominal
        self.rows.append((flow, float(u_flow), step.delta_nominal / step.nominal, u))
        airflow = ", ".join(each.subject for each in curves)
        self.labels.append(Label(node.fan, node.subject, airflow, node.date, step.number))

    def fitted(self) -> FlowLaw:
        """The law; errors as `fit_flow_law`."""
        flows, u_flows, resistances, u = np.array(self.rows, dtype=np.float64).reshape(-1, 4).T
        return fit_flow_law(flows, u_flows, resistances, u, self.labels)


def flow_through(fan: MountedFan, load: Load | None, speed: float) -> float:
    """What one fan moves through a load at a speed, by the measure "airflow", without its errors [m³/s].

    Up to 3 % beyond the speeds tested the flow goes with the speed: a fan's full speed differs so much from rig to rig.

    Raises
    ------
    NotPossible : the speed lies further outside those tested, or the fan's curve doesn't meet the load.
    """
    low, high = fan.speeds
    tested = min(max(speed, low), high)
    within = tested if abs(speed / tested - 1.0) <= BEYOND else speed
    condition, measure = Condition(speed=within), measure_named("airflow")
    before = load_in(load, condition.system)
    sources = sources_of(fan, before, condition.system)
    curve = curve_in(fan, condition, Part.CENTRAL, sources)
    return float(measure.take(curve, before, Part.CENTRAL, sources).values[0]) * speed / within
