"""Watching heat rigs: each look reads what the files gained, and says one state per rig."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime

from stillroom.live.deciding import decide
from stillroom.live.following import Following
from stillroom.live.placing import Places
from stillroom.live.seeing import Check, Rig
from stillroom.live.sources import RigFiles
from stillroom.live.states import RigState
from stillroom.quality.heat.checking import check_live
from stillroom.store.lab import Lab

__all__ = ["RigFiles", "RigState", "watch"]


def watch(
    lab: Lab,
    sources: Sequence[RigFiles],
    *,
    every: float = 2.0,
    once: bool = False,
    accept: float | None = None,
    check: Check = check_live,
    sleep: Callable[[float], None] = time.sleep,
    now: Callable[[], datetime] = datetime.now,
) -> Iterator[tuple[RigState, ...]]:
    """The states of all rigs, anew at each look, for ever (or `once`); the caller ends it by closing it.

    Parameters
    ----------
    lab : an open lab, with its rigs, fans and planned steps. sources : each rig's files.
    every : from one look to the next [s]. once : look once and end.
    accept : a forecast passes whose 95 % interval reaches no further than this [K]; None where none does.
    check : the rules, put to what is there at each look.
    sleep, now : the world's clock, for tests and for a quickened demo.
    """
    places = Places(lab)
    rigs = [Rig(each.rig, Following(each.folder, each.pattern), places, accept, check) for each in sources]
    version = _version(lab)
    while True:
        if (newer := _version(lab)) != version:  # somebody planned steps, or brought something in
            version, places = newer, Places(lab)
            for rig in rigs:
                rig.places = places
        yield tuple(decide(rig.look(now())) for rig in rigs)
        if once:
            return
        sleep(every)


def _version(lab: Lab) -> int:
    """A number that is another one once somebody else has written to the lab."""
    return int(lab.database.execute("PRAGMA data_version").fetchone()[0])
