"""A small lab with heat rigs, and loggers' files that are written bit by bit."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from stillroom.core.arrays import Array
from stillroom.lab.intake.intake import bring_in
from stillroom.live.following import Following
from stillroom.live.placing import Places
from stillroom.live.seeing import Check, Rig
from stillroom.quality.finding import Finding
from stillroom.quality.heat.checking import check_live
from stillroom.quality.heat.facts import WarmMounting
from stillroom.records.limits import Limits
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

START = datetime(2026, 3, 13, 9)
TAU, STEP = 200.0, 5.0

RIGS = """
[rig.heat-1]
kind = "heat"
nominal_power = "300 W"
fans = 2
"""


def heat_lab(path: Path, rigs: str = RIGS, steps: str = "", settings: str = "") -> Lab:
    """A lab with one heat rig and, where told, planned steps."""
    folder.make(path / "lab", template("A lab") + settings)
    lab = Lab(path / "lab")
    (path / "rigs.toml").write_text(rigs, encoding="utf-8")
    bring_in(lab, [path / "rigs.toml"], {}).refuse_bad()
    if steps:
        (path / "steps.csv").write_text(steps, encoding="utf-8")
        bring_in(lab, [path / "steps.csv"], {}).refuse_bad()
    return lab


def played(settings: Sequence[tuple[float, float, float]], seed: int = 1) -> tuple[Array, Array, Array]:
    """Times, rise and duty of settings (duty in %, where its rise ends [K], how many time constants it is held)."""
    rng = np.random.default_rng(seed)
    rise, parts, duties = 2.0, [], []
    for duty, end, taus in settings:
        t = np.arange(0.0, taus * TAU, STEP)
        parts.append(end + (rise - end) * np.exp(-t / TAU))
        duties.append(np.full(t.size, duty))
        rise = float(end + (rise - end) * np.exp(-taus))
    whole = np.concatenate(parts)
    return (
        np.arange(whole.size) * STEP,
        whole + 0.01 * rng.standard_normal(whole.size),
        np.concatenate(duties),
    )


def row_of(t: float, rise: float, duty: float, *, comma: bool = False) -> str:
    """One line of a logger that reads everything."""
    at = START + timedelta(seconds=float(t))
    words = f"{at:%Y-%m-%d %H:%M:%S};{22.0 + rise:.3f};22.000;230.00;1.3043;{duty:g};1200"
    return words.replace(".", ",") if comma else words


HEAD = "time;t_hot [°C];air in 1 [°C];heater volts [V];heater amps [A];duty [%];fan speed [rpm]"


def rows(settings: Sequence[tuple[float, float, float]], seed: int = 1, *, comma: bool = False) -> list[str]:
    """The lines of a run."""
    return [row_of(*each, comma=comma) for each in zip(*played(settings, seed), strict=True)]


def no_findings(_mounting: WarmMounting, _limits: Limits) -> list[Finding]:
    """Rules that never speak."""
    return []


def rig_in(lab: Lab, files: Path, check: Check = check_live, accept: float | None = None) -> Rig:
    """A watched rig."""
    files.mkdir(parents=True, exist_ok=True)
    return Rig("heat-1", Following(files), Places(lab), accept, check)
