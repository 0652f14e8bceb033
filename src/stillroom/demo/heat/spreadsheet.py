"""What a plain spreadsheet makes of the heat rig's logs: the last minute of each fan's first run, ranked."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from stillroom.demo.heat.plan import HeatRun
from stillroom.demo.heat.playing import Played
from stillroom.demo.heat.probes import AIRS
from stillroom.demo.heat.truth import PlainRise

LAST = 60.0
"""So many seconds are averaged [s]."""


def plain_rises(played: Iterable[tuple[HeatRun, Played]]) -> tuple[PlainRise, ...]:
    """Hot less air at the end of the loudest setting of each fan's first run, as its probes show it, coolest first."""
    found: dict[str, float] = {}
    for run, each in played:
        if not run.check and run.fan not in found:
            found[run.fan] = _at_end(run, each)
    ranked = sorted(found.items(), key=lambda pair: pair[1])
    return tuple(PlainRise(rank, fan, rise) for rank, (fan, rise) in enumerate(ranked, start=1))


def _at_end(run: HeatRun, played: Played) -> float:
    loudest = played.held[-2] if run.again else played.held[-1]
    late = (played.times > loudest.last - LAST) & (played.times < loudest.last)
    hot = played.read["hot_temperature"][late]
    air = np.mean([played.read[each][late] for each in AIRS], axis=0)
    return float(np.mean(hot - air))
