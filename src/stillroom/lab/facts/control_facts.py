"""Facts of tests of the control, as the rules of control are told them."""

from __future__ import annotations

from dataclasses import dataclass

from stillroom.lab.book import Book
from stillroom.lab.checking import CHECK
from stillroom.lab.control.loading import load_control
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.recipes import Graph
from stillroom.quality.control import VERSION, ControlledFan, ControlledMounting, TableFacts
from stillroom.records.keys import key_of
from stillroom.store import results
from stillroom.store.lab import Lab


@dataclass(frozen=True)
class ControlGathering:
    """Gathers facts of the tests of the control of one lab as it stands."""

    lab: Lab
    book: Book
    graph: Graph

    def key(self, fan: str) -> str:
        """Key of a fan's check: everything that the rules of control read."""
        nodes = [(each.key, each.judged, self._warm_ups(each)) for each in self.graph.controlled(fan)]
        record = self.book.fans.get(fan)
        told = (record.pulses, record.full_speed) if record else (None, None)
        return key_of(CHECK, "control", VERSION, fan, nodes, told, self.book.settings.limits.changed())

    def fan(self, fan: str) -> ControlledFan:
        """All that the rules of control ask of a fan."""
        record = self.book.fans.get(fan)
        mountings = [self._mounting(each) for each in self.graph.controlled(fan)]
        return ControlledFan(
            name=fan,
            mountings=tuple(sorted(mountings, key=lambda each: each.name)),
            pulses=record.pulses if record else None,
            full_speed=record.full_speed if record else None,
            limits=self.book.settings.limits,
        )

    def _warm_ups(self, node: ControlNode) -> list[float | None]:
        return [each.placed.row.warm_up if each.placed.row else None for each in node.runs]

    def _mounting(self, node: ControlNode) -> ControlledMounting:
        result = results.get(self.lab.database, node.key)
        failed = "not reduced yet" if result is None else result.failed
        warm_ups = dict(zip((each.name for each in node.runs), self._warm_ups(node), strict=True))
        told = result.body.get("runs", ()) if result else ()
        return ControlledMounting(
            name=node.subject,
            fan=node.fan,
            sample=node.sample,
            judged=node.judged,
            blocked_as=node.blocked_as,
            tables=tuple(TableFacts.of(each, warm_ups.get(each["run"])) for each in told),
            control=load_control(self.lab.path, result) if result is not None and not failed else None,
            failed=failed,
        )
