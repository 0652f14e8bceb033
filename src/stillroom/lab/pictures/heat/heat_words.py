"""Words that the pictures of heat have in common: settings, speeds, rises, and what is said of how they were found."""

from __future__ import annotations

from collections.abc import Sequence

from stillroom import wording
from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.core.speeds import setting_words
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.heat.comparable import named_rigs
from stillroom.lab.heat.nodes import HeatNode, rig_words
from stillroom.lab.recipes import Graph

Z95 = 1.96
"""Half-width of a 95 % interval in standard uncertainties of a normal distribution [1]."""

NO_RUNS = "logs of a heat rig; see docs/logging.md"


def setting_of(step: HeatStep) -> str:
    """The setting of a step as it stands above it: "35 dBA · 1,410 rpm", "100 % · 1,850 rpm", "step 3"."""
    told: list[str] = []
    if step.noise is not None:
        told.append(wording.with_unit(f"{step.noise:g}", "dBA"))
    elif step.setting is not None and step.setting_kind in ("duty", "volts"):
        told.append(setting_words(step.setting_kind, step.setting))
    if step.speed is not None:
        told.append(wording.with_unit(wording.number(step.speed * 60.0), "rpm"))
    return " · ".join(told) or f"step {step.number}"


def short_setting(step: HeatStep) -> str:
    """The setting in a sentence: "35 dBA", "100 %", else the speed."""
    return setting_of(step).partition(" · ")[0]


def rise(value: float, low: float, high: float) -> str:
    """A rise with as many digits as its interval allows, to the tenth at most: "11.9 K"."""
    return wording.with_unit(wording.rounded(value, low, high, most=1), "K")


def nominal_words(nominal: float, rig: str) -> str:
    """At which power and where: "at 300 W on heat-1"."""
    return f"at {wording.with_unit(f'{nominal:g}', 'W')} on {rig_words(rig)}"


def runs_of(graph: Graph, fan: str, rig: str) -> Sequence[HeatNode]:
    """The heat runs of a fan on a rig, in order of time; of the fan with the latest run where none is named.

    Raises
    ------
    NotPossible : no heat run. UnknownThing : none of this fan, or no such rig.
    """
    every = sorted(graph.heating(), key=lambda each: (each.date, each.subject))
    if not every:
        raise NotPossible("heat", found="no heat run", expected=NO_RUNS)
    here = [each for each in every if rig in ("", each.rig)]
    if not here:
        raise UnknownThing("heat rig", found=repr(rig), expected=named_rigs({each.rig for each in every}))
    name = fan or here[-1].fan
    own = [each for each in here if each.fan == name]
    if not own:
        known = wording.listed(sorted({each.fan for each in here}), last="or")
        raise UnknownThing(f"heat of {name}", found="no heat run", expected=known)
    return own
