"""The speeds that a kept noise limit allows, as a curve of airflow takes them."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from stillroom.core.row_speeds import RowSpeeds
from stillroom.core.sound.limit import LimitSpeed
from stillroom.store import results
from stillroom.store.results import Result

KIND = "limit"
"""Of results: a noise limit of a fan."""


def own_source(fan: str) -> str:
    """The identity of what belongs to a fan's limit alone: its mountings and samples in the quiet room."""
    return f"limit/{fan}"


def row_speeds_of(fan: str, limit: LimitSpeed, shared: LimitSpeed, sources: tuple[str, ...]) -> RowSpeeds:
    """The speeds of a limit with all that is the fan's own as one source more, so that variances add up.

    Parameters
    ----------
    limit : with trials of all errors. shared : the same limit under shared errors alone. sources : the k shared ones.
    """
    fixed = 1 + len(sources)
    own = float(np.std(limit.speeds[fixed:] - shared.speeds[fixed:]))
    moved = [float(limit.speeds[0]) + own]
    return RowSpeeds(
        (*sources, own_source(fan)),
        np.concatenate([limit.speeds[:fixed], moved, limit.speeds[fixed:]]),
        np.concatenate([limit.tops_out[:fixed], limit.tops_out[:1], limit.tops_out[fixed:]]),
    )


def arrays_of(speeds: RowSpeeds) -> dict[str, np.ndarray[tuple[int], np.dtype[np.generic]]]:
    """As they are kept."""
    return {"speeds": speeds.speeds, "full": speeds.full}


def load_row_speeds(lab: Path, limit: Result, *, greatest_is_full: bool) -> RowSpeeds:
    """The speeds of a kept limit.

    Parameters
    ----------
    greatest_is_full : of the airflow mounting that will turn at them.
    """
    arrays = results.load_arrays(lab, limit.key)
    return RowSpeeds(
        tuple(limit.body["sources"]),
        np.asarray(arrays["speeds"], dtype=np.float64),
        np.asarray(arrays["full"], dtype=np.bool_),
        greatest_is_full,
    )


def limit_in_words(kept: Result) -> str:
    """A kept limit as a trace tells it."""
    body = kept.body
    speed, low, high = (body[name] * 60 for name in ("speed", "low", "high"))
    where = f"with {body['obstacle']} mounted" if body["obstacle"] else "in free air"
    return f"{body['limit']}: {speed:,.0f} rpm ({low:,.0f} to {high:,.0f}), by the rule {body['rule']!r}, {where}"
