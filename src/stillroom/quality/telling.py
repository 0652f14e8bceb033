"""A fault that explains points, in words: the rule that it breaks, the probable cause, a one-minute test."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from stillroom.quality.causes import CATALOGUE, cause_of
from stillroom.quality.explaining import PLUGGED_FROM, Fault
from stillroom.quality.facts import RunFacts


@dataclass(frozen=True)
class Said:
    """A fault in words: the rule that it breaks, the probable cause, and a one-minute test."""

    rule: int
    cause: str
    test: str
    common: str = ""


@dataclass(frozen=True)
class Bank:
    """The nozzles of a rig and how they were listed: {nozzle: bore} [m], and the list of each point with flow."""

    bores: Mapping[str, float]
    listed: tuple[tuple[str, ...], ...] = ()


def say(fault: Fault, bores: Mapping[str, float], runs: Sequence[RunFacts] = ()) -> Said:
    """A fault in words."""
    return _SAYING[fault.kind](fault, bank_of(bores, runs))


def bank_of(bores: Mapping[str, float], runs: Sequence[RunFacts]) -> Bank:
    """The nozzles as the points of these runs list them."""
    return Bank(bores, tuple(names for run in runs for names in run.nozzles if names))


def _say_scale(fault: Fault, bank: Bank) -> Said:
    known = cause_of(fault.kind, fault.value)
    if known is not None:
        rule = 20 if fault.kind == "speed" else 29
        told = f" (the {fault.kind} is {fault.value:.3f} of what fits)"
        return Said(rule, known.words + told, known.test, known.words)
    if fault.kind == "flow" and (named := named_nozzle(fault.value, bank)):
        return named
    metered = not bank.listed  # flow as a meter told it: no nozzle can be blamed
    words = {
        "flow": "the flow meter reads by another factor: unit, range or calibration"
        if metered
        else "a nozzle that is listed open is plugged, or a bore is wrong, in all points alike",
        "pressure": "the pressure gauge reads by another factor: tube, range or calibration",
        "speed": "the speed was not what was read",
    }
    tests = {
        "flow": "look at the unit and range of the flow meter; hold it once against a second one"
        if metered
        else "look into the nozzles that were open; put a gauge to the bore",
        "pressure": "put both tubes of the gauge together and read zero; blow once against a second gauge",
        "speed": "read the speed with the optical tachometer once and compare",
    }
    return Said(
        29, f"{words[fault.kind]}: {fault.kind} reads {_percent(fault.value - 1.0)}", tests[fault.kind]
    )


def _percent(change: float) -> str:
    """A relative change [1] in per cent, from 10 % on without decimals: a pattern tells no more."""
    return f"{100 * change:+.{0 if abs(change) >= 0.1 else 1}f} %"


def _say_unit(fault: Fault, _bank: Bank) -> Said:
    known = next(each for each in CATALOGUE if each.name == fault.which)
    return Said(29, f"{known.words} (ratio {known.ratio:.4g})", known.test, known.words)


def _say_zero(fault: Fault, _bank: Bank) -> Said:
    way = "high" if fault.value > 0 else "low"
    return Said(
        26,
        f"the pressure zero moved: the gauge reads {abs(fault.value):.2f} Pa too {way} at every point, which"
        " shows at low speed",
        "stop the fan, join both tubes: the gauge must read 0 Pa",
        "the pressure zero moved",
    )


def _say_creep(fault: Fault, _bank: Bank) -> Said:
    way = "rose" if fault.value > 0 else "fell"
    return Said(
        26,
        f"the pressure zero moved within the sweep: it {way} by {abs(fault.value):.2f} Pa from the first to the"
        " last reading",
        "stop the fan, join both tubes: the gauge must read 0 Pa now and after five minutes",
        "the pressure zero moved",
    )


def _say_drift(fault: Fault, _bank: Bank) -> Said:
    way = "fell" if fault.value > 0 else "rose"
    return Said(
        29,
        f"the speed drifted within the sweep: it {way} by {abs(100 * fault.value):.1f} % from the first to the"
        " last point and the speed read does not show it",
        "hold the setting for a minute and watch the optical tachometer; shorten the logger's averaging",
    )


def _say_leak(fault: Fault, bank: Bank) -> Said:
    if not bank.listed:
        return Said(
            25,
            f"a leak between the fan and the flow meter, as large as {100 * fault.value:.1f} % of the fan's area:"
            " shut-off reads low and the missing flow grows with the root of pressure",
            "close the outlet, pressurise the chamber, feel and listen along the seal; look at what was changed",
            "a leak between the fan and the flow meter",
        )
    return Said(
        25,
        f"a leak before the nozzles, as large as {100 * fault.value:.1f} % of the fan's area:"
        " shut-off reads low and the missing flow grows with the root of pressure",
        "close all nozzles, pressurise the chamber, feel and listen along the seal; look at what was changed",
        "a leak before the nozzles",
    )


def _say_plugged(fault: Fault, bank: Bank) -> Said:
    test = f"look into {fault.which} from the front; put a gauge to its bore"
    if fault.value >= PLUGGED_FROM:
        return _plugged(fault.which)
    if fault.twin:
        return _swapped(fault.which, fault.twin)
    really = 1000 * bank.bores[fault.which] * math.sqrt(1.0 - fault.value)
    return Said(24, f"the bore of nozzle {fault.which} is wrong: {really:.2f} mm would fit, not"
                    f" {1000 * bank.bores[fault.which]:.2f} mm", test,
                f"the bore of nozzle {fault.which} is wrong")  # fmt: skip


def _say_exchanged(fault: Fault, _bank: Bank) -> Said:
    words = f"nozzles {fault.which} are exchanged in the list"
    return Said(24, f"{words}: each stands under the other's name",
                "read the number on either nozzle; compare the list with the rig", words)  # fmt: skip


def _say_unlisted(fault: Fault, _bank: Bank) -> Said:
    return _unlisted(fault.which)


def _plugged(name: str) -> Said:
    words = f"nozzle {name} is listed open but is plugged"
    return Said(24, f"{words}: the flow reads high by its share of the area",
                f"look into {name} from the front; put a gauge to its bore", words)  # fmt: skip


def _unlisted(name: str) -> Said:
    words = f"nozzle {name} is open but not listed"
    return Said(24, f"{words}: the flow reads low by its share",
                f"look whether {name} is closed; compare the list with the rig", words)  # fmt: skip


def _swapped(listed: str, opened: str) -> Said:
    words = f"nozzle {opened} was open where {listed} is listed"
    return Said(24, f"{words}: the flow reads by the ratio of their areas",
                "look which nozzle is open now; compare the list with the rig", words)  # fmt: skip


NAMED_WITHIN = 0.015
"""A constant factor of flow names a nozzle where it is that of the areas within this [1]."""


def named_nozzle(ratio: float, bank: Bank) -> Said | None:
    """The nozzle that explains one factor of flow at all points alike, read over true; None where none does."""
    patterns = set(bank.listed)
    if len(patterns) != 1:
        return None
    (pattern,) = patterns
    area = sum(bank.bores[each] ** 2 for each in pattern)
    found: list[tuple[float, Said]] = []
    for name, bore in bank.bores.items():
        if name in pattern and len(pattern) > 1:
            found.append((area / (area - bore**2), _plugged(name)))
        if name not in pattern:
            found.append((area / (area + bore**2), _unlisted(name)))
            found += [
                (area / (area - bank.bores[one] ** 2 + bore**2), _swapped(one, name)) for one in pattern
            ]
    near = [(abs(ratio / each - 1.0), said) for each, said in found]
    best = min(near, key=lambda each: each[0], default=(1.0, None))
    return best[1] if best[0] < NAMED_WITHIN else None


_SAYING: dict[str, Callable[[Fault, Bank], Said]] = {
    "flow": _say_scale,
    "pressure": _say_scale,
    "speed": _say_scale,
    "unit": _say_unit,
    "zero": _say_zero,
    "creep": _say_creep,
    "drift": _say_drift,
    "leak": _say_leak,
    "plugged": _say_plugged,
    "unlisted": _say_unlisted,
    "exchanged": _say_exchanged,
}
