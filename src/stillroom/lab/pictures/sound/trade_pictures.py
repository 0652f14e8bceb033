"""A quantity against noise: what each fan does at each level along its speed, for the charts room; here airflow."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from stillroom import wording
from stillroom.charts.sound.series import LimitLine, TradeChart, TradeLine, TradeTick
from stillroom.compare.standing import Ranking, Standing
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.mounted import MountedFan
from stillroom.core.sound.fan_levels import FanLevels
from stillroom.core.systems import Load
from stillroom.errors import BadInput, NotPossible, StillroomError
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.field import Asked, field_of
from stillroom.lab.pictures.condition_words import around, file_parts, through_phrase
from stillroom.lab.pictures.picture_words import described, footer, plain_name
from stillroom.lab.pictures.pictures import ranking_words
from stillroom.lab.pictures.sound import sound_words as words
from stillroom.lab.pictures.sound.alt_texts import trade_alt
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FREE_AIR, FanSound, Sounds
from stillroom.lab.sound.level_words import TOPS_OUT
from stillroom.lab.sound.limits import gain_of
from stillroom.lab.through import load_of
from stillroom.measures import Condition, Measure, curve_in, load_in, measure_named
from stillroom.store.lab import Lab
from stillroom.vocabulary import from_si

PLACES = 24
"""Places of a line at which the quantity is taken; between them the level is followed on its own grid."""

AIRFLOW = "airflow"


@dataclass(frozen=True)
class Way:
    """One fan: its level along the speed, and a quantity at each of these speeds, with its 95 % band or without.

    Parameters
    ----------
    speeds : [1/s]. levels : of all speeds heard. values, low, high : at `speeds` [SI].
    """

    used: FanSound
    levels: FanLevels
    speeds: Array
    values: Array
    low: Array | None = None
    high: Array | None = None


@dataclass(frozen=True)
class Quantity:
    """What stands against noise.

    Parameters
    ----------
    measure : by which fans are ranked. y_label, cue : at the ordinate. what : as the subtitle begins.
    words : as errors and the alt text name it. method : of the footer.
    """

    measure: Measure
    y_label: str
    what: str
    words: str
    method: str
    cue: str = ""


Found = Sequence[tuple[float, Ranking]]
"""Each limit [dB(A)] with the ranking at it, in the unit shown."""


def trade_chart(
    lab: Lab, book: Book, graph: Graph, asked: Asked, found: Found, fan: str
) -> tuple[TradeChart, str]:
    """Airflow against noise of up to five fans, and the name of its files.

    Parameters
    ----------
    asked : obstacle, system, size and fans; without a limit.
    found : each limit [dB(A)] with the ranking of airflow at it, in the unit shown. fan : under review.

    Raises
    ------
    BadInput : no obstacle, or more than five fans. NotPossible : no fan with both airflow and sound.
    """
    if not asked.condition.obstacle:
        raise BadInput(
            "airflow against noise", found="no obstacle", expected="--through, such as --through rad27"
        )
    sounds = Sounds(lab, book, graph)
    obstacle = words.obstacle_of(sounds, asked.condition.obstacle, ())
    names = fans_of(found, asked.only, fan, sounds, obstacle)
    measure = measure_named(AIRFLOW)
    field = field_of(book, graph, Asked(measure, asked.condition, asked.size, tuple(names)))
    through = field.question.through
    load = load_of(lab.path, through, {node.key: result_of(lab, node) for node in through.nodes})

    def way(name: str) -> Way:
        return _way(lab, sounds.fan(name, obstacle), field.nodes.get(name, ()), load, asked.condition)

    told = found[-1][1].conditions
    quantity = Quantity(
        measure,
        "Airflow",
        f"Airflow through {described(book, asked.condition.obstacle)}{around(told)}",
        "airflow",
        f"airflow {found[-1][1].version}, {sounds.comparable.method}",
    )
    picture, drawn = trade_of(book, quantity, way, names, asked, found, fan)
    name = plain_name("tradeoff", str(asked.condition.obstacle), *few(drawn), *file_parts(told)[1:])
    return picture, name


def trade_of(
    book: Book,
    quantity: Quantity,
    way: Callable[[str], Way],
    names: Sequence[str],
    asked: Asked,
    found: Found,
    fan: str,
) -> tuple[TradeChart, list[str]]:
    """A quantity against noise of the fans named, and the names of those that could be drawn.

    Parameters
    ----------
    way : a fan's way along its speed; its errors say why it can't be drawn.

    Raises
    ------
    NotPossible : none can be drawn; with why.
    """
    ways: list[Way] = []
    notes: list[str] = []
    for name in names:
        try:
            ways.append(way(name))
        except StillroomError as error:
            notes.append(f"Not drawn: {name} ({error.found or error.sentence()}).")
    if not ways:
        raise NotPossible(
            f"{quantity.words} against noise",
            found=" ".join(notes),
            expected=f"fans with {quantity.words} and sound",
        )
    told, unit = found[-1][1].conditions, found[-1][1].unit
    geometry = ways[0].used.geometry
    limit = next(limit for limit, ranking in found if ranking is _of_title(found))
    left = [] if asked.only else left_out(limit, *_in_the_running(found), names)
    louder = gain_of(asked.condition)
    lines = tuple(_line(each, found, unit, louder, accent=each.used.fan == fan) for each in ways)
    free = all(FREE_AIR in each.used.marks for each in ways)
    at = words.at(geometry)
    through = through_phrase(told, book)
    shown = (
        "bands and marks at the limits show 95 %"
        if lines[0].low
        else "marks at the limits, side by side, with their 95 %"
    )
    picture = TradeChart(
        title=_title(found, quantity.measure),
        subtitle=f"{quantity.what} at each level {at} along the speed{f', {FREE_AIR}' if free else ''}; {shown}",
        footer=footer(book.settings, quantity.method, _basis(ways)),
        x_label=f"Level {at}",
        x_unit="dBA",
        y_label=quantity.y_label,
        y_unit=unit,
        lines=lines,
        limits=tuple(LimitLine(limit, words.dba(limit)) for limit, _ in found),
        notes=(*notes, *left, *_notes(ways, free=free, dotted=any(any(each.bound) for each in lines))),
        alt=trade_alt(quantity.words, f"{through} against level {at}", _said(lines, unit)),
        cue=quantity.cue,
    )
    return picture, [each.used.fan for each in ways]


def few(names: Sequence[str]) -> Sequence[str]:
    """The fans as a file's name carries them: their names, or how many."""
    return names if len(names) < 4 else [str(len(names))]


def fans_of(found: Found, only: Sequence[str], fan: str, sounds: Sounds, obstacle: str) -> list[str]:
    """The fans asked for; else the first five at the highest limit, and the one under review among them."""
    if only:
        return words.chosen(sounds, fan, only, obstacle)[0]
    best = list(dict.fromkeys(each.fan for _, ranking in reversed(found) for each in ranking.standings))
    shown = best[: words.MOST_FANS]
    if fan and fan not in shown:
        words.chosen(sounds, fan, (), obstacle)
        shown = [*shown[: words.MOST_FANS - 1], fan]
    return shown or words.chosen(sounds, fan, (), obstacle)[0]


def _in_the_running(found: Found) -> tuple[list[str], list[str]]:
    """The fans with both quantities: those that the title counts, ranked at its limit, and the others."""
    by_title = _of_title(found)
    ranked = [each.fan for each in by_title.standings]
    every = [each.fan for _, ranking in found for each in ranking.standings]
    every += [each.fan for _, ranking in found for each in ranking.excluded if each.measured]
    return ranked, [each for each in dict.fromkeys(every) if each not in ranked]


def left_out(limit: float, ranked: Sequence[str], others: Sequence[str], names: Sequence[str]) -> list[str]:
    """A note on which fans aren't drawn beside those that are, `names`, the first at a limit [dB(A)]; none of none.

    Parameters
    ----------
    ranked : the fans that were ranked there. others : those with both quantities that were not.
    """
    left = [each for each in ranked if each not in names]
    apart = [each for each in others if each not in names]
    parts = []
    if left:
        shown = sum(each in names for each in ranked)
        parts.append(
            f"Drawn: the first {wording.count(shown)} of {wording.plural(len(ranked), 'fan')} at"
            f" {words.dba(limit)}; left out: {wording.listed(left, most=6)}"
        )
    if apart:
        parts.append(f"{'not' if left else 'Not'} ranked there: {wording.listed(apart, most=6)}")
    return [f"{'; '.join(parts)}."] if parts else []


def _way(
    lab: Lab, used: FanSound, nodes: Sequence[CurveNode], load: Load | None, condition: Condition
) -> Way:
    """A fan's airflow at the speeds at which both its airflow and its sound were measured.

    Raises
    ------
    NotPossible : no airflow, or no speed in common.
    """
    if not nodes:
        raise NotPossible(f"airflow of {used.fan}", found="no airflow measured")
    mounted = [(node, load_fan(lab.path, result_of(lab, node))) for node in nodes]
    places, speeds = common_speeds(used, [each.speeds for _, each in mounted], "airflow")
    by_sample: dict[str, list[Array]] = {}
    for node, each in mounted:
        by_sample.setdefault(node.sample, []).append(_flows(each, load, condition, places))
    flow = np.mean([np.mean(own, axis=0) for own in by_sample.values()], axis=0)
    return Way(used, used.levels, speeds, np.interp(speeds, places, flow))


def common_speeds(used: FanSound, reaches: Sequence[tuple[float, float]], words: str) -> tuple[Array, Array]:
    """Speeds at which both sound and a quantity were measured [1/s]: a few places, and the grid of the levels.

    Parameters
    ----------
    reaches : least and greatest speed of each mounting. words : the quantity.

    Raises
    ------
    NotPossible : no speed in common.
    """
    levels = used.levels
    low = max(levels.reach[0], *(each[0] for each in reaches))
    high = min(levels.reach[1], *(each[1] for each in reaches))
    if not low < high:
        raise NotPossible(
            f"{words} of {used.fan} against noise", found=f"no speed with both {words} and sound"
        )
    inside = levels.speeds[(levels.speeds >= low) & (levels.speeds <= high)]
    return np.linspace(low, high, PLACES), np.unique(np.concatenate([[low], inside, [high]]))


def _flows(fan: MountedFan, load: Load | None, condition: Condition, speeds: Array) -> Array:
    """The airflow of one mounting at each speed [m³/s], its central curve alone."""
    measure, through = measure_named(AIRFLOW), load_in(load, condition.system)
    taken = []
    for speed in speeds:
        one = Condition(speed=float(speed), obstacle=condition.obstacle, system=condition.system)
        curve = curve_in(fan, one, Part.CENTRAL, ())
        taken.append(float(measure.take(curve, through, Part.CENTRAL, ()).values[0]))
    return np.array(taken)


# --- series -----------------------------------------------------------------------------------------------


def _line(way: Way, found: Found, unit: str, louder: float, *, accent: bool) -> TradeLine:
    levels = np.interp(way.speeds, way.levels.speeds, way.levels.central) + louder
    bound = np.interp(way.speeds, way.levels.speeds, way.levels.bound.astype(float)) > 0.0
    ticks = [_tick(limit, ranking, way, unit) for limit, ranking in found]
    return TradeLine(
        label=way.used.fan,
        speed=tuple(round(float(each) * words.RPM, 3) for each in way.speeds),
        level=tuple(round(float(each), 3) for each in levels),
        value=_shown(way.values, unit),
        bound=tuple(map(bool, bound)) if bound.any() else (),
        ticks=tuple(each for each in ticks if each is not None),
        accent=accent,
        low=_shown(way.low, unit),
        high=_shown(way.high, unit),
    )


def _shown(values: Array | None, unit: str) -> tuple[float, ...]:
    """Values in the unit shown; none of none."""
    return () if values is None else tuple(round(from_si(float(each), unit), 4) for each in values)


def _tick(limit: float, ranking: Ranking, way: Way, unit: str) -> TradeTick | None:
    """The value at a limit as the ranking has it; None for a fan that doesn't meet it."""
    standing = next((each for each in ranking.standings if each.fan == way.used.fan), None)
    if standing is None or not _meets(standing):
        return None
    nearest = int(np.argmin(np.abs(np.array(_shown(way.values, unit)) - standing.value)))
    return TradeTick(
        limit, limit, limit, standing.value, standing.low, standing.high, words.dba(limit),
        float(way.speeds[nearest]) * words.RPM,
    )  # fmt: skip


def _meets(standing: Standing) -> bool:
    """Whether a fan has its value at the limit itself, with an interval."""
    closed = math.isfinite(standing.low) and math.isfinite(standing.high)
    return closed and not any(mark.startswith(TOPS_OUT) for mark in standing.marks)


# --- words ------------------------------------------------------------------------------------------------


def _title(found: Found, measure: Measure) -> str:
    """The finding at the highest limit at which fans could be ranked."""
    return ranking_words(_of_title(found), measure).rstrip(".")


def _of_title(found: Found) -> Ranking:
    """The ranking at the highest limit at which fans could be ranked; at the highest limit where none could be."""
    return ([ranking for _, ranking in found if ranking.standings] or [found[-1][1]])[-1]


def _basis(ways: Sequence[Way]) -> str:
    mountings = sum(each.levels.mountings for each in ways)
    return f"sound of {words.basis(sum(each.levels.samples for each in ways), mountings)}"


def _notes(ways: Sequence[Way], *, free: bool, dotted: bool) -> list[str]:
    notes = []
    if dotted:
        notes.append("Dotted: the level is at most that.")
    alone = [each.used.fan for each in ways if FREE_AIR in each.used.marks]
    if alone and not free:
        notes.append(f"Free-air noise, not measured with the obstacle mounted: {wording.listed(alone)}.")
    return notes


def _said(lines: Sequence[TradeLine], unit: str) -> list[tuple[str, list[str]]]:
    return [
        (
            line.label,
            [
                f"{wording.with_interval(each.value, each.low, each.high, unit)} at {each.limit}"
                for each in line.ticks
            ],
        )
        for line in lines
    ]
