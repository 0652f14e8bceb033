"""Rule 21 for tests of the control: frequency of the control signal, supply at the connector."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom.core.standards.pwm_fans_4_wire import NOMINAL_PWM_FREQUENCY, SUPPLY
from stillroom.quality.control.facts import ControlledFan
from stillroom.quality.control.saying import BLOCKS, MARKS, about_control, about_table
from stillroom.quality.finding import Finding

NOMINAL_SUPPLY = 12.0


def generator(fan: ControlledFan) -> Iterator[Finding]:
    """A control signal outside 21 to 28 kHz: told once a mounting."""
    low, high = fan.limits.pwm_frequency_low, fan.limits.pwm_frequency_high
    for mounting in fan.mountings:
        told = [
            each for each in mounting.tables if each.pwm_frequency is not None and each.control != "volts"
        ]
        off = [each for each in told if not low <= (each.pwm_frequency or low) <= high]
        if off:
            frequency = off[0].pwm_frequency or 0.0
            tenth = abs(frequency * 10.0 / NOMINAL_PWM_FREQUENCY - 1.0) < 0.05
            yield about_control(
                21, mounting,
                f"the control of {mounting.name} was tested at a PWM frequency of {frequency / 1e3:g} kHz",
                f"{low / 1e3:g} to {high / 1e3:g} kHz", severity=BLOCKS,
                cause="the PWM generator is set to another frequency: duty and speed don't go together as they should"
                + ("; a tenth of 25 kHz, a range switch" if tenth else ""),
                test="put an oscilloscope or a counter on the control wire; set the generator to 25 kHz",
                common="the PWM generator is set to another frequency",
            )  # fmt: skip


def supply(fan: ControlledFan) -> Iterator[Finding]:
    """A supply off 12 V while the duty was moved: marks; off the specification's 5 %: blocks."""
    limit = fan.limits.supply_voltage
    for mounting in fan.mountings:
        for table in mounting.tables:
            if table.supply is None:
                continue
            worst = max(table.supply, key=lambda each: abs(each - NOMINAL_SUPPLY))
            if abs(worst - NOMINAL_SUPPLY) <= limit:
                continue
            yield about_table(
                21, table, mounting, f"supply of {mounting.name} {worst:.2f} V while its duty was moved",
                f"12 V ± {limit:g} V at the connector", severity=MARKS if SUPPLY.holds(worst) else BLOCKS,
                cause="voltage dropped in the leads, or a supply that is set otherwise: never above 12.6 V",
                test="measure the voltage at the fan's connector at full speed", common="supply off 12 V",
            )  # fmt: skip
