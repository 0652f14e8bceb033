"""Level against speed: the lab's level curves as series for the charts room, with limits and bands to avoid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stillroom import wording
from stillroom.charts.series import Bound
from stillroom.charts.sound.series import AvoidBand, LevelChart, LevelLine, LevelPoint, LimitLine, LimitMark
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.sound.fan_levels import FanLevels
from stillroom.core.sound.folds import folds
from stillroom.core.sound.limit import Reached
from stillroom.lab.book import Book
from stillroom.lab.pictures.picture_words import footer, plain_name
from stillroom.lab.pictures.sound import sound_words as words
from stillroom.lab.pictures.sound.alt_texts import levels_alt
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FanSound, Sounds
from stillroom.lab.sound.level_words import IN_THE_FLOOR, TOO_LOUD
from stillroom.lab.sound.limits import FanLimit, fan_limit
from stillroom.measures import Condition
from stillroom.store.lab import Lab

MOST_PLACES = 200
"""The most places of a line that are drawn, and the most of a ramp."""

Z95 = 1.96
"""Half-width of a 95 % interval in standard uncertainties of a normal distribution [1]."""


@dataclass(frozen=True)
class Drawn:
    """One fan's sound with its curve, the bands of speed to avoid [1/s], and how it meets each limit."""

    used: FanSound
    levels: FanLevels
    avoid: tuple[tuple[float, float], ...]
    limits: tuple[FanLimit, ...]


def level_chart(
    lab: Lab,
    book: Book,
    graph: Graph,
    fan: str,
    only: Sequence[str],
    obstacle: str,
    limits: Sequence[float],
) -> tuple[LevelChart, str]:
    """Level against speed of one fan, or of up to five, and the name of its files.

    Parameters
    ----------
    fan, only : whose; `fan` is under review. The first five where none is named, which the chart says.
    obstacle : with which the fans stood, "" for free air.
    limits : noise limits [dB(A)]: bands to avoid are then those of these limits; else the lab's limits are drawn, and
        the bands are those in which a fan is louder than at a faster speed.

    Raises
    ------
    NotPossible : no sound that can be compared. UnknownThing : a fan without.
    """
    sounds = Sounds(lab, book, graph)
    obstacle = words.obstacle_of(sounds, obstacle, [fan, *only] if fan else only)
    names, known = words.chosen(sounds, fan, only, obstacle)
    shown = tuple(limits) or book.settings.sound.limits
    drawn = [_drawn(lab, book, graph, sounds, name, obstacle, shown, by_limit=bool(limits)) for name in names]
    one = drawn[0] if len(drawn) == 1 else None
    geometry = drawn[0].used.geometry
    floors = [each.levels.floor for each in drawn if each.levels.floor is not None]
    floor = max(floors, default=None)
    lines = tuple(_line(each, accent=each.used.fan == fan) for each in drawn)
    picture = LevelChart(
        title=_title_of_one(one, shown) if one else _title_of_several(drawn),
        subtitle=_subtitle(book, drawn, obstacle, known if not (fan or only) else 0),
        footer=footer(book.settings, sounds.comparable.method, _basis(drawn)),
        x_label="Speed",
        x_unit="rpm",
        y_label=f"Level {words.at(geometry)}",
        y_unit="dBA",
        lines=lines,
        limits=tuple(LimitLine(each, words.dba(each)) for each in shown),
        marks=tuple(_marks(one)) if one else (),
        avoid=tuple(_avoid(drawn)),
        floor=floor,
        floor_words=f"noise floor {words.dba(floor)}" if floor is not None else "",
        notes=tuple(_notes(drawn, by_limit=bool(limits))),
        alt=_alt(book, drawn, obstacle),
    )
    told = [f"{each:g}dba" for each in limits]
    return picture, plain_name("levels", *(names if len(names) < 4 else [str(len(names))]), obstacle, *told)


def _drawn(
    lab: Lab,
    book: Book,
    graph: Graph,
    sounds: Sounds,
    fan: str,
    obstacle: str,
    limits: Sequence[float],
    *,
    by_limit: bool,
) -> Drawn:
    used = sounds.fan(fan, obstacle)
    levels = used.levels
    met = tuple(fan_limit(lab, book, graph, fan, obstacle, Condition(noise=each), sounds) for each in limits)
    over = tuple(dict.fromkeys(words.widened(band) for each in met for band in each.limit.avoid))
    avoid = over if by_limit else avoided(levels)
    return Drawn(used, levels, avoid, met)


def avoided(levels: FanLevels) -> tuple[tuple[float, float], ...]:
    """The bands of speed in which a fan is louder than at a faster one [1/s]."""
    rows = levels.rows(Part.TOTAL, levels.sources)
    found = folds(levels.speeds, rows, sources=len(levels.sources), bound=levels.bound)
    return tuple(words.widened((each.low, each.high)) for each in found)


# --- series -----------------------------------------------------------------------------------------------


def thinned(size: int, most: int = MOST_PLACES) -> Array:
    """Places of a series of which at most `most` are drawn, both ends among them."""
    return np.unique(np.linspace(0, size - 1, min(size, most)).round().astype(int))


def _line(each: Drawn, *, accent: bool) -> LevelLine:
    levels = each.levels
    rows = levels.rows(Part.TOTAL, levels.sources)
    low, high = coverage_interval(rows[1 + len(levels.sources) :], axis=0)
    places = thinned(len(levels.speeds))
    ramp = [at for at in levels.points if at.from_ramp and not at.is_bound]
    return LevelLine(
        label=each.used.fan,
        speed=_rpm(levels.speeds[places]),
        level=_plain(levels.central[places]),
        low=_plain(low[places]),
        high=_plain(high[places]),
        bound=tuple(bool(flag) for flag in levels.bound[places]) if levels.bound.any() else (),
        points=tuple(
            LevelPoint(
                at.speed * words.RPM,
                at.level,
                None if at.is_bound else at.level - Z95 * at.u,
                None if at.is_bound else at.level + Z95 * at.u,
                Bound.AT_MOST if at.is_bound else Bound.NONE,
            )
            for at in sorted(levels.points, key=lambda point: point.speed)
            if not at.from_ramp
        ),
        ramp=tuple((ramp[k].speed * words.RPM, ramp[k].level) for k in thinned(len(ramp))) if ramp else (),
        accent=accent,
    )


def _rpm(speeds: Array) -> tuple[float, ...]:
    return tuple(round(float(each) * words.RPM, 3) for each in speeds)


def _plain(levels: Array) -> tuple[float, ...]:
    return tuple(round(float(each), 3) for each in levels)


def _marks(one: Drawn) -> list[LimitMark]:
    """Where the line meets each limit; a fan that tops out, or is too loud, meets none."""
    marks = []
    for met in one.limits:
        if met.limit.reached is not Reached.AT_LIMIT:
            continue
        speed = float(met.limit.speeds[0]) * words.RPM
        low, high = (end * words.RPM for end in met.interval)
        said = wording.with_unit(wording.rounded(speed, low, high), "rpm")
        level = met.level[0] if met.limit.at_least else _limit_of(met, one)
        marks.append(
            LimitMark(speed, level, low, high, f"≥ {said}" if met.limit.at_least else said, one.used.fan)
        )
    return marks


def _limit_of(met: FanLimit, one: Drawn) -> float:
    """The level of the line at the limit's speed: the limit itself, but for the steps of the grid [dB]."""
    return float(np.interp(float(met.limit.speeds[0]), one.levels.speeds, one.levels.central))


def _avoid(drawn: Sequence[Drawn]) -> list[AvoidBand]:
    several = len(drawn) > 1
    return [
        AvoidBand(
            low * words.RPM,
            high * words.RPM,
            f"{each.used.fan}: {words.band(low, high)}" if several else f"avoid {words.band(low, high)}",
            each.used.fan,
        )
        for each in drawn
        for low, high in each.avoid
    ]


# --- words ------------------------------------------------------------------------------------------------


def _title_of_one(one: Drawn, limits: Sequence[float]) -> str:
    """The finding: which speeds to avoid; else how far the fan may run."""
    name = wording.isolate(one.used.fan)
    if one.avoid:
        return f"{name} should not run {words.bands_listed(one.avoid)}"
    geometry = one.used.geometry
    met = [(limit, each) for limit, each in zip(limits, one.limits, strict=True)]
    top = max(met, key=lambda pair: pair[0])
    if top[1].limit.reached is Reached.TOPS_OUT:
        most = "no more than " if top[1].limit.top_is_bound else ""
        return f"{name} tops out at {most}{words.dba(top[1].limit.level_at_top, geometry)}"
    if top[1].limit.reached is Reached.NOT_SO_QUIET and top[1].limit.at_least:
        return f"{name} is at most {words.dba(top[1].limit.level_at_bottom, geometry)} at its slowest: the noise floor"
    if top[1].limit.reached is Reached.NOT_SO_QUIET:
        return f"{name} {TOO_LOUD}: {words.dba(top[0], geometry)}"
    speed = float(top[1].limit.speeds[0]) * words.RPM
    low, high = (end * words.RPM for end in top[1].interval)
    said = wording.with_unit(wording.rounded(speed, low, high), "rpm")
    least = " at least" if top[1].limit.at_least else ""
    return f"{name} keeps to {words.dba(top[0], geometry)} up to {said}{least}"


def _title_of_several(drawn: Sequence[Drawn]) -> str:
    with_bands = [each.used.fan for each in drawn if each.avoid]
    if not with_bands:
        return f"None of the {wording.plural(len(drawn), 'fan')} is louder at a slower speed than at a faster one"
    if len(with_bands) == len(drawn):
        return f"Each of the {wording.plural(len(drawn), 'fan')} has speeds to avoid"
    have = "has" if len(with_bands) == 1 else "have"
    return f"{wording.listed(with_bands)} {have} speeds to avoid, the other {_others(len(drawn) - len(with_bands))}"


def _others(count: int) -> str:
    return "fan has none" if count == 1 else f"{wording.count(count)} have none"


def _subtitle(book: Book, drawn: Sequence[Drawn], obstacle: str, known: int) -> str:
    used = drawn[0].used
    around = list(dict.fromkeys(words.where(book, each.used, obstacle) for each in drawn))
    left = (
        f"; the first {wording.count(len(drawn))} of {wording.count(known)} fans"
        if known > len(drawn)
        else ""
    )
    shown = "band and lines show 95 %" if len(drawn) == 1 else "bands show 95 %"
    return f"Level {words.at(used.geometry)} against speed {', or '.join(around)}, dBA; {shown}{left}"


def _basis(drawn: Sequence[Drawn]) -> str:
    return words.basis(
        sum(each.levels.samples for each in drawn), sum(each.levels.mountings for each in drawn)
    )


BY_LIMIT = "Bands to avoid: a fan is above a limit there, at speeds below the highest that keeps to it."
BY_FOLDS = (
    "Bands to avoid: a fan is louder there than at a higher speed; those of one limit may end elsewhere."
)
"""Why bands of speed are to be avoided: the same fan may have both, and their ends differ."""


def _notes(drawn: Sequence[Drawn], *, by_limit: bool) -> list[str]:
    notes = []
    if any(each.avoid for each in drawn):
        notes.append(BY_LIMIT if by_limit else BY_FOLDS)
    if any(each.levels.bound.any() or any(at.is_bound for at in each.levels.points) for each in drawn):
        notes.append(words.BOUNDS)
    if len(drawn) > 1:
        bands = [each.words for each in _avoid(drawn)]
        notes += [f"To avoid: {'; '.join(bands)}."] if bands else []
    for each in drawn:
        own = words.said_of(each.used.marks)
        notes += [f"{each.used.fan}: {note[0].lower()}{note[1:]}" for note in own] if len(drawn) > 1 else own
    return notes


def _alt(book: Book, drawn: Sequence[Drawn], obstacle: str) -> str:
    said = []
    for each in drawn:
        first, last = float(each.levels.central[0]), float(each.levels.central[-1])
        low, high = (words.rpm(end) for end in each.levels.reach)
        reach = f"from {words.dba(round(first))} at {low} to {words.dba(round(last))} at {high}"
        avoid = (
            f"; to avoid: {wording.listed([words.band(*band) for band in each.avoid])}" if each.avoid else ""
        )
        said.append((each.used.fan, reach + avoid))
    around = words.where(book, drawn[0].used, obstacle)
    limits = [(each.fan, _met(each)) for each in drawn[0].limits] if len(drawn) == 1 else []
    return levels_alt(f"{words.at(drawn[0].used.geometry)} {around}", said, [each for _, each in limits])


def _met(met: FanLimit) -> str:
    """How a fan meets one limit, in words."""
    if met.limit.reached is Reached.AT_LIMIT:
        return f"{words.dba(round(met.level[0], 1))} at {words.rpm(float(met.limit.speeds[0]))}"
    if met.limit.reached is Reached.TOPS_OUT:
        most = "no more than " if met.limit.top_is_bound else ""
        return f"it tops out at {most}{words.dba(met.limit.level_at_top)}"
    return IN_THE_FLOOR if met.limit.at_least else TOO_LOUD
