"""Heat as open data: every setting of every mounting on a heat rig."""

from __future__ import annotations

from collections.abc import Iterable

from stillroom.core.heat.heat_mounting import HeatStep, StepHow
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.heat.nodes import HeatNode
from stillroom.publish.data.cells import Cell, figures
from stillroom.publish.data.fields import AT_LEAST_ZERO, Field, Table, of_quantity
from stillroom.publish.data.shown import (
    DATE,
    FAN,
    MARKS,
    MOUNTING,
    OF_MOUNTING,
    OF_SAMPLE,
    RIG,
    SAMPLE,
    Shown,
    joined,
    place,
    setting_cells,
    setting_fields,
)


def heat_steps(shown: Shown) -> Table:
    """The steps of the heat runs."""
    units = shown.units
    fields = (
        MOUNTING,
        place("step", "Its number among the steps of the mounting."),
        FAN,
        SAMPLE,
        RIG,
        Field("radiator", "radiator", "On which the fans blew."),
        Field("fans", "fans", "How many blew on it.", "integer", constraints={"minimum": 1}),
        DATE,
        *setting_fields(units),
        of_quantity("speed", "speed", units, description="Mean in the window."),
        of_quantity("rise", "temperature_difference", units,
                    description="Temperature of the hot probe over the air going in, at nominal power."),
        of_quantity("u_rise", "temperature_difference", units, title="u(temperature rise)", constraints=AT_LEAST_ZERO,
                    description="Its standard uncertainty by readings and forecast, without what all runs share."),
        of_quantity("rise_as_measured", "temperature_difference", units, title="Temperature rise as measured",
                    description="The same at the power that was there."),
        of_quantity("conductance", "conductance", units),
        of_quantity("heater_power", "heater_power", units, description="Mean in the window."),
        of_quantity("nominal_power", "heater_power", units, title="Nominal power",
                    description="To which the rise is brought."),
        of_quantity("air_in", "air_in_temperature", units, description="Mean over the probes of the air going in."),
        of_quantity("fan_power", "power", units, description="Of the fan."),
        Field("how", "how", "How the rise is known; of a step that was not steady it is no result.",
              constraints={"enum": [each.value for each in StepHow]}),
        Field("time_constants", "length", "Length of the step in time constants.", "number", "1",
              constraints=AT_LEAST_ZERO),
        MARKS,
    )  # fmt: skip
    rows = (_step(shown, node, each, fans) for node, steps, fans in _heats(shown) for each in steps)
    words = (
        "Each setting that was held on a heat rig: temperature rise, heat load, and whether it was steady."
    )
    key = ("mounting", "step")
    return Table("heat-steps", "Heat steps", words, fields, tuple(rows), key, (OF_MOUNTING, OF_SAMPLE))


def _heats(shown: Shown) -> Iterable[tuple[HeatNode, tuple[HeatStep, ...], int]]:
    for node, result in shown.heats:
        found = load_heat(shown.contents.lab.path, result)
        yield node, found.steps, found.fans


def _step(shown: Shown, node: HeatNode, step: HeatStep, fans: int) -> dict[str, Cell]:
    known = step.is_result
    return {
        "mounting": node.subject,
        "step": step.number,
        "fan": node.fan,
        "sample": node.sample,
        "rig": node.rig or None,
        "radiator": node.radiator or None,
        "fans": fans,
        "date": step.moment[:10],
        **setting_cells(shown, step.setting_kind, step.setting),
        "speed": figures(shown.si("speed", step.speed)),
        "rise": figures(shown.si("temperature_difference", step.delta_nominal), 5) if known else None,
        "u_rise": figures(shown.si("temperature_difference", step.u_own), 3) if known else None,
        "rise_as_measured": figures(shown.si("temperature_difference", step.delta), 5),
        "conductance": figures(shown.si("conductance", step.conductance), 5) if known else None,
        "heater_power": figures(shown.si("heater_power", step.power)),
        "nominal_power": figures(shown.si("heater_power", step.nominal)),
        "air_in": figures(shown.si("air_in_temperature", step.air), 5),
        "fan_power": figures(shown.si("power", step.fan_power), 4),
        "how": step.how.value,
        "time_constants": figures(step.span, 3),
        "marks": joined(step.marks),
    }
