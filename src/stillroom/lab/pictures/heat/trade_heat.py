"""Heat against noise: each fan's temperature rise at each level along its speed, for the charts room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stillroom.charts.sound.series import TradeChart
from stillroom.core.arrays import Array
from stillroom.core.combine import combine_mountings
from stillroom.core.intervals import coverage_interval
from stillroom.core.spread import MountingValue
from stillroom.errors import NotPossible
from stillroom.lab.book import Book
from stillroom.lab.field import Asked
from stillroom.lab.heat.cases import HeatCases
from stillroom.lab.heat.valuing import Warmed, heat_value
from stillroom.lab.pictures.heat import heat_words as words
from stillroom.lab.pictures.picture_words import plain_name
from stillroom.lab.pictures.sound.trade_pictures import (
    Found,
    Quantity,
    Way,
    common_speeds,
    fans_of,
    few,
    trade_of,
)
from stillroom.lab.question import spread_name
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FanSound, Sounds
from stillroom.lab.spreads import pooled_of
from stillroom.measures import Condition
from stillroom.store.lab import Lab


def heat_trade_chart(
    lab: Lab, book: Book, graph: Graph, asked: Asked, found: Found, fan: str
) -> tuple[TradeChart, str]:
    """Temperature rise against noise of up to five fans, and the name of its files.

    Parameters
    ----------
    asked : rig, size and fans, the measure heat; without a limit.
    found : each limit [dB(A)] with the ranking of heat at it, in the unit shown. fan : under review.

    Raises
    ------
    NotPossible : no fan with both heat and sound. BadInput : more than five fans. UnknownThing : no such rig or fan.
    """
    sounds = Sounds(lab, book, graph)
    by = HeatCases(sounds, asked, {})
    names = fans_of(found, asked.only, fan, sounds, by.obstacle)
    told, rig = found[-1][1].conditions, by.field.rig
    quantity = Quantity(
        asked.measure,
        "Rise over air-in",
        f"Temperature rise of the liquid over the air going in {words.nominal_words(rig.nominal, rig.name)}",
        "temperature rise",
        f"{asked.measure.name} {found[-1][1].version}, {told['heat method']}, {sounds.comparable.method}",
        "↓ lower is cooler",
    )

    def way(name: str) -> Way:
        return _way(book, sounds.fan(name, by.obstacle), by, asked)

    picture, drawn = trade_of(book, quantity, way, names, asked, found, fan)
    return picture, plain_name("tradeoff", "heat", rig.name, *few(drawn))


def _way(book: Book, used: FanSound, by: HeatCases, asked: Asked) -> Way:
    """A fan's rise at the speeds at which both its heat and its sound were measured, with its 95 % band.

    Raises
    ------
    NotPossible : no heat run that tells a rise against speed, or no speed in common.
    """
    nodes = by.field.nodes.get(used.fan, ())
    warmed = [each for each in by.warmed(nodes)[0] if each.heat.curve is not None]
    reaches = [each.heat.curve.reach for each in warmed if each.heat.curve is not None]
    if not reaches:
        why = "no step with a speed is a result" if nodes else by.field.reason(used.fan)
        raise NotPossible(f"heat of {used.fan}", found=why)
    places, speeds = common_speeds(used, reaches, "temperature rise")
    rows = np.array([_at(book, warmed, asked, float(each)) for each in places])
    value, low, high = (np.interp(speeds, places, column) for column in rows.T)
    return Way(used, used.levels, speeds, value, low, high)


def _at(book: Book, warmed: Sequence[Warmed], asked: Asked, speed: float) -> Array:
    """A fan's rise at a speed with the ends of its 95 % interval, its mountings combined as in a ranking [K]."""
    condition = Condition(speed=speed, rig=asked.condition.rig)
    results = [heat_value(each, asked.measure.name, condition).result for each in warmed]
    own = [
        MountingValue(each.sample.partition("/")[0], each.sample, each.mounting, each.value)
        for each in results
    ]
    name = spread_name(asked.measure, condition)
    spreads = pooled_of(book, name, asked.measure, own)
    combined = combine_mountings(results, spreads, identity=name, scale=1.0)
    low, high = (float(end) for end in coverage_interval(combined.trials))
    return np.array([combined.value, low, high])
