"""Words for what a watched rig tells."""

from __future__ import annotations

from stillroom.core.heat.heat_mounting import HeatStep
from stillroom.core.speeds import WORDS, setting_words


def setting_in_words(kind: str, value: float | None) -> str:
    """A setting: "43 %", "7 V", "1,010 rpm"; "" where nobody told one."""
    if value is None:
        return ""
    return setting_words(kind, value) if kind in WORDS else f"{60.0 * value:,.0f} rpm"


def step_in_words(step: HeatStep) -> str:
    """A step: "step 2 (43 %)"."""
    setting = setting_in_words(step.setting_kind, step.setting)
    return f"step {step.number} ({setting})" if setting else f"step {step.number}"


def kelvin(value: float) -> str:
    """A temperature difference with its sign."""
    return f"{value:+.2f} K"


def minutes(seconds: float) -> str:
    """A time: "40 s", "6 min", "3.5 h"."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.1f} h"
