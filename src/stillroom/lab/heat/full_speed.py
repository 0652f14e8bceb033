"""A fan's speed at full setting behind the radiator by its airflow: for heat runs that end below it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stillroom.core.characteristic import Part
from stillroom.core.draws import normal_draws
from stillroom.core.mounted import MountedFan
from stillroom.core.row_speeds import RowSpeeds
from stillroom.core.systems import Load
from stillroom.errors import NotPossible
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.through import load_of, through_of
from stillroom.measures import Condition, measure_named
from stillroom.measures.value import curve_in, load_in, sources_of
from stillroom.store import results

SPREAD = 0.015
"""Relative standard uncertainty of the full speed of the fan on the heat rig, by airflow mountings of it [1]: between
samples and mountings (common practice: 1 to 2 %).
"""


@dataclass(frozen=True)
class FullSpeed:
    """A fan's full speed behind a radiator.

    Parameters
    ----------
    speeds : in each row. curves : {airflow mounting: key}. obstacles : {obstacle: key}.
    """

    speeds: RowSpeeds
    curves: dict[str, str]
    obstacles: dict[str, str]


def full_speed_behind(sounds: Sounds, fan: str, radiator: str, trials: int) -> FullSpeed:
    """What the fan's airflow says of its speed at full setting behind a radiator.

    Parameters
    ----------
    radiator : the obstacle's name. trials : how many rows are drawn.

    Raises
    ------
    NotPossible : no radiator told, or no airflow of the fan that meets it at full setting.
    UnknownThing : as of `through_of`.
    """
    thing = f"full speed of {fan}"
    if not radiator:
        raise NotPossible(
            thing, found="no radiator told", expected="the rig's radiator, an obstacle of the lab"
        )
    lab, graph = sounds.lab, sounds.graph
    through = through_of(sounds.book, graph, radiator)
    load = load_of(lab.path, through, {each.key: result_of(lab, each) for each in through.nodes})
    nodes = [each for each in graph.mountings(fan) if each.obstacle == through.mounted]
    kept = {each.subject: results.get(lab.database, each.key) for each in nodes}
    used = {name: each for name, each in kept.items() if each is not None and not each.failed}
    if not used:
        raise NotPossible(thing, found="no airflow of it", expected="airflow sweeps at full setting")
    central = float(np.mean([_speed(load_fan(lab.path, each), load) for each in used.values()]))
    source = f"full speed/{fan}"
    drawn = np.concatenate([[0.0, 1.0], normal_draws(source, trials)])
    speeds = RowSpeeds((source,), central * (1.0 + SPREAD * drawn), np.zeros(len(drawn), bool))
    return FullSpeed(
        speeds,
        {name: each.key for name, each in sorted(used.items())},
        {each.subject: each.key for each in through.nodes},
    )


def _speed(fan: MountedFan, load: Load | None) -> float:
    """At its operating point at full setting, without its errors [1/s]."""
    condition, measure = Condition(), measure_named("speed-at")
    before = load_in(load, condition.system)
    sources = sources_of(fan, before, condition.system)
    curve = curve_in(fan, condition, Part.CENTRAL, sources)
    return float(measure.take(curve, before, Part.CENTRAL, sources).values[0])
