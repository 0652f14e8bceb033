"""Facts of heat runs, as the rules of heat are told them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from stillroom.core.arrays import Array
from stillroom.core.heat.gusts import air_gusts
from stillroom.core.heat.heat_mounting import HeatStep, StepHow
from stillroom.lab.book import Book
from stillroom.lab.checking import CHECK
from stillroom.lab.eras.eras import Eras
from stillroom.lab.eras.reference import reference_name
from stillroom.lab.facts.heat_beside import Elsewhere, is_known
from stillroom.lab.facts.kept_values import KeptValues
from stillroom.lab.heat.coolant import coolant_of
from stillroom.lab.heat.loading import load_heat, load_series
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import Graph
from stillroom.lab.spreads import PRIORS
from stillroom.methods.heat.channels import HOT, is_air_probe
from stillroom.quality.heat import (
    VERSION,
    ClockFacts,
    Gust,
    WarmFan,
    WarmMounting,
)
from stillroom.records.fields import as_json
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


@dataclass(frozen=True)
class HeatGathering:
    """Gathers facts of the heat of one lab as it stands.

    Parameters
    ----------
    lab, book, graph : the lab, its records and its recipes. values : its values that were kept.
    """

    lab: Lab
    book: Book
    graph: Graph
    values: KeptValues

    def key(self, fan: str) -> str:
        """Key of a fan's check: everything that the rules of heat read."""
        settings, record = self.book.settings, self.book.fans.get(fan)
        nodes = [
            (
                each.key,
                each.judged,
                each.date,
                self._eras.of(each).number,
                self._age(each),
                self._balance(each),
            )
            for each in self.graph.heating(fan)
        ]
        elsewhere = self._elsewhere
        others = [each.key for each in self.graph.mountings(fan)] + [
            each.key for each in self.graph.sounding(fan)
        ]
        beside = [each for each in others if is_known(self.lab, each)]
        through = [each.key for name in elsewhere.radiators(fan) for each in elsewhere.obstacles(name)]
        told = [as_json(each) for each in self._samples(fan).values()]
        return key_of(CHECK, "heat", VERSION, fan, nodes, beside, through, told, self._apart(fan),
                      as_json(record) if record else None, settings.limits.changed(), settings.heat.repeat,
                      self.values.contends(fan), self._spread, settings.reference_fan)  # fmt: skip

    def fan(self, fan: str) -> WarmFan:
        """All that the rules of heat ask of a fan."""
        settings = self.book.settings
        mountings = [self.mounting(each) for each in self.graph.heating(fan)]
        samples, apart = self._samples(fan), self._apart(fan)
        return WarmFan(
            name=fan,
            mountings=tuple(sorted(mountings, key=lambda each: (each.date, each.name))),
            limits=settings.limits,
            contends=self.values.contends(fan),
            repeat=settings.heat.repeat,
            spread=self._spread,
            is_reference=bool(self.book.settings.reference_fan) and fan == self._reference[0],
            unregistered=tuple(each for each in apart if each not in samples),
            hours={name: samples[name].hours or 0.0 for name in apart
                   if name in samples and samples[name].hours is not None},
        )  # fmt: skip

    def mounting(self, node: HeatNode) -> WarmMounting:
        """All that the rules of heat ask of one mounting."""
        result = results.get(self.lab.database, node.key)
        failed = "not reduced yet" if result is None else result.failed
        heat = load_heat(self.lab.path, result) if result is not None and not failed else None
        steps, elsewhere = heat.steps if heat else (), self._elsewhere
        return WarmMounting(
            name=node.subject,
            fan=node.fan,
            sample=node.sample,
            rig=node.rig,
            radiator=node.radiator,
            date=node.date[:10],
            judged=node.judged,
            blocked_as=node.blocked_as,
            file=_file(node),
            steps=steps,
            curve=heat.curve if heat else None,
            failed=failed,
            clocks=tuple(map(clock_facts, heat.clocks)) if heat else (),
            gusts=self._gusts(result, steps) if result is not None and heat else (),
            nominal=node.rig_told.nominal,
            fans=node.rig_told.fans,
            liquid_flow=node.rig_told.flow,
            coolant_age=self._age(node),
            balance=self._balance(node),
            u_apart=u_apart(result.body.get("offsets", {})) if result is not None and heat else 0.0,
            airflows=elsewhere.airflows(node, steps),
            speeds=elsewhere.speeds(node, steps),
            marks=heat.marks if heat else (),
            era=self._eras.of(node).number,
        )

    @cached_property
    def _eras(self) -> Eras:
        return Eras(self.book)

    @property
    def _spread(self) -> float:
        """Between mountings at equal speed, agreed or of a first year [K]."""
        agreed = [each.mounting for name, each in self.book.spreads.items() if name.split(",")[0] == "heat"]
        return max(agreed, default=PRIORS["heat"][1])

    def _age(self, node: HeatNode) -> float | None:
        first = min(node.logs, key=lambda each: each.run.moment or each.run.placed.date, default=None)
        if first is None:
            return None
        moment = first.run.moment or node.date
        return coolant_of(self.book, node.rig, moment, first.run.placed.told("coolant_filled")).age(moment)

    @cached_property
    def _elsewhere(self) -> Elsewhere:
        return Elsewhere(self.lab, self.book, self.graph)

    def _gusts(self, result: Result, steps: Sequence[HeatStep]) -> tuple[Gust, ...]:
        series = load_series(self.lab.path, result)
        return gusts_of(series.times, series.air, steps)

    # --- samples ---------------------------------------------------------------------------------------

    def _samples(self, fan: str) -> dict[str, Any]:
        return {each.sample: each for each in self.book.samples.values() if each.fan == fan}

    def _apart(self, fan: str) -> tuple[str, ...]:
        """The samples that only the heat rig has seen: of the others airflow's rules tell."""
        others = {each.sample for each in self.graph.mountings(fan)}
        return tuple(sorted({each.sample for each in self.graph.heating(fan)} - others))

    # --- the reference day -----------------------------------------------------------------------------

    @cached_property
    def _reference(self) -> tuple[str, str]:
        fan, _, sample = reference_name(self.book, self.graph).partition("/")
        return fan, sample

    def _balance(self, node: HeatNode) -> tuple[float, str] | None:
        """Heat balance of the reference fan's last run on the rig before a mounting, and its day."""
        fan, sample = self._reference
        if not self.book.settings.reference_fan:
            return None
        earlier = [
            each
            for each in self.graph.heating(fan)
            if (each.rig, each.sample) == (node.rig, sample)
            and each.date < node.date
            and each.rig_told.coolant_era == node.rig_told.coolant_era
        ]
        for each in sorted(earlier, key=lambda one: one.date, reverse=True):
            ratio = self._balances.get(each.key)
            if ratio is not None:
                return ratio, each.date[:10]
        return None

    @cached_property
    def _balances(self) -> dict[str, float]:
        """{key: mean heat balance} of the reference fan's runs."""
        found: dict[str, float] = {}
        for node in self.graph.heating(self._reference[0]):
            result = results.get(self.lab.database, node.key)
            told = result.body.get("steps", ()) if result is not None and not result.failed else ()
            known = [
                each["balance"]
                for each in told
                if each["balance"] and each["how"] != StepHow.NOT_STEADY.value
            ]
            if known:
                found[node.key] = float(np.mean(known))
        return found


def gusts_of(times: Array, air: Array, steps: Sequence[HeatStep]) -> tuple[Gust, ...]:
    """The gusts in the air going in [K] over times [s], each in the step in which its middle lies."""
    return tuple(
        Gust(each.first, each.last, each.depth, step.number)
        for each in air_gusts(times, air)
        for step in steps
        if step.first <= 0.5 * (each.first + each.last) <= step.last
    )


def clock_facts(told: Mapping[str, Any]) -> ClockFacts:
    """One logger's clock, as a mounting's result has it."""
    return ClockFacts(
        logger=told["logger"],
        how=told["how"],
        offset=told["offset"],
        u=told["u"],
        edges=told["edges"],
        found=told["found"],
        u_found=told.get("u_found"),
        why=told["why"],
        is_paired=told["paired"],
    )


def u_apart(offsets: Mapping[str, Mapping[str, Any]]) -> float:
    """Standard uncertainty of the difference of two probes of the air, those that are known worst [K].

    Parameters
    ----------
    offsets : {probe: {"u" [K], …}}, as a mounting's result has them.
    """
    us = sorted((float(told["u"]) for name, told in offsets.items() if is_air_probe(name)), reverse=True)
    return math.hypot(*us[:2]) if len(us) > 1 else 0.0


def _file(node: HeatNode) -> str:
    """The log of the hot probe, else the first."""
    logs = (*node.logs, *node.left_out)
    hot = [each for each in logs if HOT in each.run.placed.taken.quantities]
    return (hot or list(logs))[0].subject if logs else ""
