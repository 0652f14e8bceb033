"""What of a lab stands in its open data: the fans that it publishes, and what was measured of them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

from stillroom.errors import NotPossible
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.curves import result_of
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.purposes import Purpose
from stillroom.lab.recipes import AnyNode
from stillroom.lab.sound.nodes import SoundNode
from stillroom.publish.contents import Contents
from stillroom.publish.data.cells import Cell
from stillroom.publish.data.fields import AT_LEAST_ZERO, REQUIRED, Field, Link, of_quantity
from stillroom.publish.data.standing_rows import not_ranked
from stillroom.store.results import Result
from stillroom.vocabulary import BY_NAME as QUANTITY
from stillroom.vocabulary import from_si, shown_unit

Node = TypeVar("Node", CurveNode, SoundNode, HeatNode, ControlNode)


@dataclass(frozen=True)
class Shown:
    """The part of a lab that a release publishes."""

    contents: Contents

    @cached_property
    def fans(self) -> tuple[str, ...]:
        """The fans that have a place in a published ranking, or are told in one why they have none; by name."""
        told = {each.fan for one in self.contents.published for each in not_ranked(one.ranking)}
        return tuple(sorted({*self.contents.fans, *told}))

    @property
    def units(self) -> dict[str, str]:
        """{dimension: unit shown} of the lab."""
        return self.contents.settings.units

    @cached_property
    def airflow(self) -> tuple[tuple[CurveNode, Result], ...]:
        """The mountings in a chamber, with their results."""
        return self._had(self.contents.whole.graph.mountings())

    @cached_property
    def sounds(self) -> tuple[tuple[SoundNode, Result], ...]:
        """The mountings that were heard, with their results."""
        return self._had(self.contents.whole.graph.sounding())

    @cached_property
    def heats(self) -> tuple[tuple[HeatNode, Result], ...]:
        """The mountings on heat rigs, with their results."""
        return self._had(self.contents.whole.graph.heating())

    @cached_property
    def controls(self) -> tuple[tuple[ControlNode, Result], ...]:
        """The mountings whose control was tested, with their results."""
        return self._had(self.contents.whole.graph.controlled())

    @cached_property
    def nodes(self) -> tuple[tuple[Purpose, AnyNode, str], ...]:
        """All of them: what was measured, the mounting, and the key of its result."""
        return (
            *((Purpose.AIRFLOW, node, result.key) for node, result in self.airflow),
            *((Purpose.SOUND, node, result.key) for node, result in self.sounds),
            *((Purpose.HEAT, node, result.key) for node, result in self.heats),
            *((Purpose.CONTROL, node, result.key) for node, result in self.controls),
        )

    def _had(self, nodes: list[Node]) -> tuple[tuple[Node, Result], ...]:
        found = []
        for each in sorted(nodes, key=lambda one: (one.fan, one.sample, one.subject)):
            if each.fan not in self.fans:
                continue
            try:
                found.append((each, result_of(self.contents.lab, each)))
            except NotPossible:
                continue  # why it could not be had is told with the measure that would need it
        return tuple(found)

    def si(self, quantity: str, value: float | None) -> float | None:
        """An SI value of a quantity in the unit that the lab shows."""
        return None if value is None else from_si(value, shown_unit(QUANTITY[quantity], self.units))


# --- what several tables share ----------------------------------------------------------------------------

FAN = Field("fan", "fan", "The fan’s short name.", constraints=REQUIRED)
SAMPLE = Field("sample", "sample", "Which unit of the fan.", constraints=REQUIRED)
MOUNTING = Field("mounting", "mounting", "Which act of fitting the sample to a rig.", constraints=REQUIRED)
RIG = Field("rig", "rig", "On which rig.")
OBSTACLE = Field("obstacle", "obstacle", "What stood before the fan as it was measured; empty in free air.")
DATE = Field("date", "date", "The day of the first reading, ISO 8601.")
MARKS = Field("marks", "marks", "Words that must stand beside the numbers, parted by a bar.")
OF_FAN = Link(("fan",), "fans", ("fan",))
OF_SAMPLE = Link(("fan", "sample"), "samples", ("fan", "sample"))
OF_MOUNTING = Link(("mounting",), "mountings", ("mounting",))

SETTING_QUANTITIES = {"duty": "duty", "volts": "voltage", "speed": "set_speed"}
"""{kind of setting: the quantity of its values}."""


def place(name: str, what: str) -> Field:
    """A column that counts rows within something, from 1."""
    return Field(name, name, what, "integer", constraints={"required": True, "minimum": 1})


def setting_fields(units: dict[str, str]) -> tuple[Field, ...]:
    """The columns of a setting: one of them tells it; none, where nobody told."""
    words = {
        "duty": "PWM duty at which it ran.",
        "volts": "Supply at which it ran.",
        "speed": "Speed that was set.",
    }
    return tuple(
        of_quantity(f"set_{kind}", quantity, units, description=words[kind], constraints=AT_LEAST_ZERO)
        for kind, quantity in SETTING_QUANTITIES.items()
    )


def setting_cells(shown: Shown, kind: str, value: float | None) -> dict[str, Cell]:
    """A setting in its column."""
    if value is None or kind not in SETTING_QUANTITIES:
        return {}
    told = shown.si(SETTING_QUANTITIES[kind], value)
    return {f"set_{kind}": None if told is None else float(f"{told:.9g}")}


def joined(words: tuple[str, ...] | list[str]) -> str | None:
    """Marks in one cell."""
    return " | ".join(words) or None
