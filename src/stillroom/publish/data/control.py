"""How fans answer their control, as open data: where they start and stop, and the response both ways."""

from __future__ import annotations

from collections.abc import Iterable

from stillroom.core.control.control_mounting import Behaviour, ControlMounting, Drive, Threshold
from stillroom.lab.control.loading import load_control
from stillroom.lab.control.nodes import ControlNode
from stillroom.publish.data.cells import Cell, figures
from stillroom.publish.data.fields import AT_LEAST_ZERO, Field, Table, of_quantity
from stillroom.publish.data.shown import (
    DATE,
    FAN,
    MARKS,
    MOUNTING,
    OF_MOUNTING,
    OF_SAMPLE,
    SAMPLE,
    Shown,
    joined,
    place,
    setting_cells,
    setting_fields,
)

DRIVE = Field(
    "drive", "drive", "By what it was controlled.", constraints={"required": True, "enum": ["duty", "volts"]}
)
WAYS = {"required": True, "enum": ["up", "down"]}
UNITS = {"duty": (100.0, "%"), "volts": (1.0, "V")}
"""{drive: (factor from SI, unit)} of its settings."""


def control(shown: Shown) -> Table:
    """One row for each mounting and way of control."""
    rows = (
        _drive(shown, node, found, drive)
        for node, found in _controls(shown)
        for drive in found.drives.values()
    )
    words = "Where a fan starts and stops, how slowly it turns, and how its speed follows the setting."
    key = ("mounting", "drive")
    fields = _fields(shown.units)
    return Table("control", "Control", words, fields, tuple(rows), key, (OF_MOUNTING, OF_SAMPLE))


def _fields(units: dict[str, str]) -> tuple[Field, ...]:
    return (
        MOUNTING,
        DRIVE,
        FAN,
        SAMPLE,
        DATE,
        Field("unit", "unit", "Of the settings of the row.", constraints={"enum": ["%", "V"]}),
        *(_between(name, words) for name, words in (
            ("start_above", "Greatest setting at which it did not start."),
            ("start_at", "Smallest setting at which it started: it starts between the two."),
            ("stop_at", "Greatest setting at which it stood, as the setting fell."),
            ("stop_above", "Smallest setting at which it still turned: it stops between the two."),
            ("full_setting", "Greatest setting tested."),
        )),
        of_quantity("full_speed", "speed", units, title="full speed", description="Speed at the greatest setting."),
        of_quantity("u_full_speed", "speed", units, title="u(full speed)", description="Its own standard uncertainty.",
                    constraints=AT_LEAST_ZERO),
        of_quantity("lowest_speed", "speed", units, title="lowest speed",
                    description="Speed at the last setting at which it turned, as the setting fell."),
        of_quantity("u_lowest_speed", "speed", units, title="u(lowest speed)", constraints=AT_LEAST_ZERO,
                    description="Its own standard uncertainty."),
        Field("hysteresis", "hysteresis", "Greatest difference between both ways, as a share of full speed.", "number",
              "1", constraints=AT_LEAST_ZERO),
        Field("linearity", "linearity", "Greatest departure of speed over full speed from the duty.", "number", "1"),
        Field("behaviour", "at the low end", "What it does there.",
              constraints={"enum": [each.value for each in Behaviour]}),
        of_quantity("open_wire_speed", "speed", units, title="open-wire speed",
                    description="Speed with the control wire open."),
        of_quantity("inrush", "peak_current", units, description="Greatest current at the start."),
        of_quantity("u_inrush", "peak_current", units, title="u(peak current)", constraints=AT_LEAST_ZERO,
                    description="Its standard uncertainty."),
        MARKS,
    )  # fmt: skip


def _between(name: str, words: str) -> Field:
    return Field(name, name.replace("_", " "), words, "number", constraints=AT_LEAST_ZERO)


def _controls(shown: Shown) -> Iterable[tuple[ControlNode, ControlMounting]]:
    for node, result in shown.controls:
        yield node, load_control(shown.contents.lab.path, result)


def _drive(shown: Shown, node: ControlNode, found: ControlMounting, drive: Drive) -> dict[str, Cell]:
    factor, unit = UNITS[drive.kind]
    by_duty = drive.kind == "duty"
    wire, inrush = (found.open_wire if by_duty else None), found.inrush

    def speed(value: float | None, digits: int = 6) -> float | None:
        return figures(shown.si("speed", value), digits)

    return {
        "mounting": node.subject,
        "drive": drive.kind,
        "fan": node.fan,
        "sample": node.sample,
        "date": node.date,
        "unit": unit,
        **_threshold("start_above", "start_at", drive.start, factor),
        **_threshold("stop_at", "stop_above", drive.stop, factor),
        "full_setting": figures(None if drive.full_setting is None else drive.full_setting * factor),
        "full_speed": speed(drive.full),
        "u_full_speed": speed(drive.u_full, 3),
        "lowest_speed": speed(drive.lowest),
        "u_lowest_speed": speed(drive.u_lowest, 3),
        "hysteresis": figures(drive.hysteresis, 3),
        "linearity": figures(drive.linearity.departure, 3) if drive.linearity else None,
        "behaviour": drive.behaviour.value if drive.behaviour else None,
        "open_wire_speed": speed(wire.speed) if wire else None,
        "inrush": figures(shown.si("peak_current", inrush.peak), 4) if inrush else None,
        "u_inrush": figures(shown.si("peak_current", inrush.u), 3) if inrush else None,
        "marks": joined(found.marks),
    }


def _threshold(low: str, high: str, told: Threshold | None, factor: float) -> dict[str, Cell]:
    ends = (told.low, told.high) if told else (None, None)
    return {
        name: figures(None if end is None else end * factor)
        for name, end in zip((low, high), ends, strict=True)
    }


def responses(shown: Shown) -> Table:
    """The speed at each setting, both ways."""
    units = shown.units
    fields = (
        MOUNTING,
        DRIVE,
        Field("way", "way", "Whether the setting rose or fell.", constraints=WAYS),
        place("step", "Its place in the order in which it was taken."),
        FAN,
        SAMPLE,
        *(each for each in setting_fields(units) if each.name != "set_speed"),
        of_quantity("speed", "speed", units, description="0 where it stood still.", constraints=AT_LEAST_ZERO),
        of_quantity("u_speed", "speed", units, title="u(speed)", constraints=AT_LEAST_ZERO,
                    description="Standard uncertainty of this speed alone."),
    )  # fmt: skip
    rows = (row for node, found in _controls(shown) for row in _responses(shown, node, found))
    words = "Speed against duty or voltage, in steps up and down."
    key = ("mounting", "drive", "way", "step")
    return Table("responses", "Responses", words, fields, tuple(rows), key, (OF_MOUNTING, OF_SAMPLE))


def _responses(shown: Shown, node: ControlNode, found: ControlMounting) -> Iterable[dict[str, Cell]]:
    for drive in found.drives.values():
        for way, response in (("up", drive.up), ("down", drive.down)):
            if response is None:
                continue
            steps = zip(response.settings, response.speeds, response.u, strict=True)
            for at, (setting, speed, u) in enumerate(steps, start=1):
                yield {
                    "mounting": node.subject,
                    "drive": drive.kind,
                    "way": way,
                    "step": at,
                    "fan": node.fan,
                    "sample": node.sample,
                    **setting_cells(shown, drive.kind, float(setting)),
                    "speed": figures(shown.si("speed", float(speed))),
                    "u_speed": figures(shown.si("speed", float(u)), 3),
                }
