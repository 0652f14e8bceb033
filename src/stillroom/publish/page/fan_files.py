"""A fan's own file of the reader's page: its curves, sound, heat and control, its box, and what is said of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom import wording
from stillroom.compare.claims import ClaimCheck
from stillroom.core.arrays import Array
from stillroom.core.characteristic import Part
from stillroom.core.intervals import coverage_interval
from stillroom.core.mounted import Curve, MountedFan
from stillroom.core.sound.fan_levels import FanLevels
from stillroom.errors import NotPossible, StillroomError
from stillroom.lab.curves import load_fan, result_of
from stillroom.lab.disputes import disputes_of
from stillroom.lab.heat.loading import load_heat
from stillroom.lab.heat.nodes import HeatNode, rig_words
from stillroom.lab.pictures.curve_pictures import first_mounting
from stillroom.lab.pictures.response_pictures import response_chart
from stillroom.lab.pictures.sound import sound_words
from stillroom.lab.pictures.sound.level_pictures import avoided, thinned
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.measures import Condition
from stillroom.measures.value import curve_in
from stillroom.publish.account import Account, Kind
from stillroom.publish.contents import Contents, Published
from stillroom.publish.page.published_rankings import MEASURES, pairs_told
from stillroom.publish.standing_words import readers_word
from stillroom.vocabulary import unit

Json = dict[str, Any]

STEP = 4
"""Every fourth abscissa of a curve is drawn."""

PLACES = 48
"""Places of a level curve that are drawn."""

SLOWER = 0.6
"""The second PQ curve of a fan is drawn at this share of its full speed, where it was tested so slowly [1]."""

Z95 = 1.96
"""Half-width of a 95 % interval in standard uncertainties of a normal distribution [1]."""

SAID = (Kind.BEST, Kind.AHEAD, Kind.PLACE, Kind.UNRESOLVED, Kind.PRICE, Kind.CLAIM, Kind.OPEN)
"""The sentences of the account that stand on a fan's page."""


class FanFiles:
    """What the pages of the fans of a release say; each is made on its own.

    Parameters
    ----------
    contents : what is published. account : its sentences.
    """

    def __init__(self, contents: Contents, account: Account) -> None:
        self.contents, self.account = contents, account
        self.lab, self.book, self.graph = contents.whole.lab, contents.whole.book, contents.whole.graph

    @cached_property
    def sounds(self) -> Sounds:
        """The lab's sound, worked out once for all fans."""
        return Sounds(self.lab, self.book, self.graph)

    def of(self, fan: str) -> Json:
        """All that a fan's page shows beyond what the ranking's list tells of it; SI, but for values of published
        rankings, which stand in the unit that these have. A part that can't be had says why.
        """
        return {
            "name": fan,
            "disputes": [_dispute(each) for each in disputes_of(self.book, fan)],
            "curves": _or_why(lambda: self._curves(fan)),
            "sound": _or_why(lambda: self._sound(fan)),
            "heat": _or_why(lambda: self._heat(fan)),
            "control": _or_why(lambda: self._control(fan)),
            "claims": [_claim(each) for each in self.contents.claims if each.claim.fan == fan],
            "words": self._words(fan),
            "standings": [
                found for each in self.contents.published if (found := _standing(each, fan)) is not None
            ],
        }

    def _words(self, fan: str) -> list[Json]:
        """The account's sentences about a fan, under the title of the measure that they speak of."""
        titles = {each.slug: each.title for each in self.contents.published}
        said: dict[str, list[str]] = {}
        for each in self.account.about(fan):
            if each.kind in SAID:
                said.setdefault(titles.get(each.slug, ""), []).append(each.text)
        return [{"title": title, "texts": list(dict.fromkeys(texts))} for title, texts in said.items()]

    # --- pressure and airflow ------------------------------------------------------------------------------

    def _curves(self, fan: str) -> Json:
        node = first_mounting(self.graph, fan)
        mounted = load_fan(self.lab.path, result_of(self.lab, node))
        sources = mounted.characteristic.sources
        full = curve_in(mounted, Condition(), Part.TOTAL, sources)
        top = float(np.median(full.speed[0]))
        lines = [_line(f"full speed, {_rpm(top)}", full)]
        slow = max(SLOWER * top, mounted.speeds[0])
        if slow < 0.9 * top:
            lines += _slower(mounted, slow, sources)
        return {
            "where": f"First mounting of sample {node.sample}; bands show 95 %; air of 1.2 kg/m³.",
            "lines": lines,
        }

    # --- sound -----------------------------------------------------------------------------------------------

    def _sound(self, fan: str) -> Json:
        obstacle = sound_words.obstacle_of(self.sounds, "", [fan])
        used = self.sounds.fan(fan, obstacle)
        levels = used.levels
        rows = levels.rows(Part.TOTAL, levels.sources)
        low, high = coverage_interval(rows[1 + len(levels.sources) :], axis=0)
        at = thinned(len(levels.speeds), PLACES)
        bands = avoided(levels)
        where = sound_words.where(self.book, used, obstacle)
        name = wording.isolate(fan)
        return {
            "at": sound_words.at(used.geometry),
            "where": f"A-weighted level {sound_words.at(used.geometry)}, {where}; the band shows 95 %; "
            f"{wording.plural(levels.samples, 'sample')}, {wording.plural(levels.mountings, 'mounting')}.",
            "title": f"{name} should not run {sound_words.bands_listed(bands)}"
            if bands
            else f"{name} is nowhere louder at a slower speed than at a faster one",
            "speed": _list(levels.speeds[at], 4),
            "level": _list(levels.central[at], 3),
            "low": _where(~levels.bound[at], low[at]),
            "high": _where(~levels.bound[at], high[at]),
            "bound": [bool(each) for each in levels.bound[at]],
            "points": _points(levels),
            "floor": None if levels.floor is None else round(float(levels.floor), 2),
            "avoid": [
                {"low": each[0], "high": each[1], "words": f"avoid {sound_words.band(*each)}"}
                for each in bands
            ],
            "notes": [
                *sound_words.said_of(used.marks),
                *([sound_words.BOUNDS] if _has_bounds(levels) else []),
            ],
            "alt": f"Level against speed of {fan}, {where}: from {sound_words.dba(round(float(levels.central[0])))} at "
            f"{sound_words.rpm(levels.reach[0])} to {sound_words.dba(round(float(levels.central[-1])))} at "
            f"{sound_words.rpm(levels.reach[1])}.",
        }

    # --- heat and control ------------------------------------------------------------------------------------

    def _heat(self, fan: str) -> Json:
        steps = [step for node in self.graph.heating(fan) for step in self._steps(node)]
        if not steps:
            raise NotPossible(f"heat of {fan}", found="not measured on the heat rig")
        rigs = wording.listed(sorted({rig_words(each.rig) for each in self.graph.heating(fan)}))
        steps.sort(key=lambda each: each["speed"])
        first, last = steps[0], steps[-1]
        return {
            "where": f"Rise of the liquid over the air going in on {rigs}, at nominal power: a dot for each steady "
            "setting of a mounting. Intervals are those of the readings alone, so that what all share is not in them.",
            "steps": steps,
            "alt": f"Temperature rise against speed of {fan}: {wording.bare(first['rise'])} K at {_rpm(first['speed'])}"
            f" to {wording.bare(last['rise'])} K at {_rpm(last['speed'])}.",
        }

    def _steps(self, node: HeatNode) -> Iterable[Json]:
        try:
            heat = load_heat(self.lab.path, result_of(self.lab, node))
        except StillroomError:
            return
        for each in heat.results:
            if each.speed is None:
                continue
            half = Z95 * each.u_own
            yield {
                "mounting": node.subject,
                "speed": round(each.speed, 4),
                "rise": round(each.delta_nominal, 4),
                "low": round(each.delta_nominal - half, 4),
                "high": round(each.delta_nominal + half, 4),
                "how": each.how.value,
            }

    def _control(self, fan: str) -> Json:
        if not self.graph.controlled(fan):
            raise NotPossible(f"control of {fan}", found="not tested")
        picture, _ = response_chart(self.lab, self.book, self.graph, fan, volts=False)
        return {
            "title": picture.title,
            "x": picture.x_label,
            "unit": picture.x_unit,
            "lines": [
                {"words": each.label, "setting": list(each.drive), "speed": list(each.speed)}
                for each in picture.lines
            ],
            "marks": [each.words for each in picture.marks]
            + ([picture.open_wire[1]] if picture.open_wire else []),
            "notes": list(picture.notes),
            "alt": picture.alt,
        }


def _or_why(make: Callable[[], Json]) -> Json:
    """A part of a page, or why it can't be had."""
    try:
        return make()
    except StillroomError as error:
        return {"why": (error.found or error.sentence()).rstrip(".")}


def _slower(mounted: MountedFan, speed: float, sources: tuple[str, ...]) -> Iterable[Json]:
    try:
        yield _line(_rpm(speed), curve_in(mounted, Condition(speed=speed), Part.TOTAL, sources))
    except StillroomError:
        return


def _line(words: str, curve: Curve) -> Json:
    """A curve down to no pressure with the band of its trials."""
    low, high = coverage_interval(curve.pressure[1:], axis=0)
    is_under = curve.pressure[0] < 0.0
    shown = np.flatnonzero(~is_under)[::STEP]
    if is_under.any():
        end = int(np.argmax(is_under))
        shown = np.append(shown[shown < end], end)
    return {
        "words": words,
        "flow": _list(curve.flow[0][shown], 7),
        "pressure": _list(np.maximum(curve.pressure[0][shown], 0.0), 4),
        "low": _list(np.maximum(low[shown], 0.0), 4),
        "high": _list(np.maximum(high[shown], 0.0), 4),
    }


def _points(levels: FanLevels) -> list[list[float | bool]]:
    found = sorted((each for each in levels.points if not each.from_ramp), key=lambda each: each.speed)
    return [[round(each.speed, 4), round(each.level, 3), each.is_bound] for each in found]


def _has_bounds(levels: FanLevels) -> bool:
    return bool(levels.bound.any()) or any(each.is_bound for each in levels.points)


def _dispute(each: Any) -> Json:
    return {
        "since": each.since,
        "by": each.by,
        "measure": each.measure,
        "text": each.text,
        "reply": each.reply,
        "date": each.reply_date,
        "settled": each.settled,
    }


def _claim(each: ClaimCheck) -> Json:
    told = each.claim
    found: Mapping[str, str] = {"measured": "", "interval": ""}
    if each.measured is not None:
        low, value, high = (
            _in_printed(number, told.unit)
            for number in (each.measured.low, each.measured.value, each.measured.high)
        )
        places = wording.places_for((high - low) / 2) if high > low else 2
        found = {
            "measured": wording.with_unit(wording.rounded(value, low, high), told.unit),
            "interval": f"{wording.number(low, places)} to {wording.number(high, places)}",
        }
    return {
        "quantity": each.title,
        "printed": wording.with_unit(f"{told.value:g}", told.unit),
        "condition": told.condition or "",
        "words": each.words,
        **found,
    }


def _in_printed(value: float, symbol: str) -> float:
    found = unit(symbol)
    return (value - found.offset) / found.factor


def _standing(published: Published, fan: str) -> Json | None:
    """A fan's line in a published ranking, or why it has none; None where the ranking doesn't know it."""
    ranking = published.ranking
    for each in ranking.excluded:
        if each.fan == fan:
            return {"slug": published.slug, "title": published.title, "why": each.why}
    found = next((each for each in ranking.standings if each.fan == fan), None)
    if found is None:
        return None
    return {
        "slug": published.slug,
        "title": published.title,
        "value": found.value,
        "low": _end(found.low),
        "high": _end(found.high),
        "ends": list(found.ends) if found.ends else None,
        "bound": found.bound.value,
        "unit": ranking.unit,
        "verdict": readers_word(found, ranking),
        "rank": list(found.rank) if found.rank else None,
        "of": len([each for each in ranking.standings if each.rank]),
        "how": found.how.value,
        "basis": f"{wording.plural(found.samples, 'sample')}, {wording.plural(found.mountings, 'mounting')}",
        "marks": list(found.marks),
        "pairs": pairs_told(published, fan) if published.measure.name in MEASURES else [],
    }


def _end(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _list(values: Array, places: int) -> list[float]:
    return [round(float(each), places) for each in values]


def _where(known: NDArray[np.bool_], ends: Array) -> list[float | None]:
    """Ends of intervals; a bound has none."""
    return [round(float(end), 3) if flag else None for flag, end in zip(known, ends, strict=True)]


def _rpm(speed: float) -> str:
    return wording.with_unit(wording.number(speed * 60.0, -1), "rpm")
