"""One-third-octave levels of a fan at one speed before its background, as a series for the charts room."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from stillroom import wording
from stillroom.charts.series import Bound
from stillroom.charts.sound.series import SpectrumBand, SpectrumChart, ToneMark
from stillroom.core.arrays import Array
from stillroom.core.sound.sound_mounting import Dwell
from stillroom.core.standards import iec_61260_1_2014 as bands_of
from stillroom.core.standards.iec_61672_1_2013 import a_weighting
from stillroom.errors import NotPossible
from stillroom.lab.book import Book
from stillroom.lab.pictures.picture_words import footer, plain_name
from stillroom.lab.pictures.sound import sound_words as words
from stillroom.lab.pictures.sound.alt_texts import spectrum_alt
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import FanSound, Heard, Sounds
from stillroom.lab.sound.level_words import frequency_at
from stillroom.measures import Condition
from stillroom.store.lab import Lab

NEAR = 0.05
"""How far a dwell may lie from what was asked for [1]."""

BOUNDS = "At most: in these bands the background lies less than 6 dB below."


def spectrum_chart(
    lab: Lab, book: Book, graph: Graph, fan: str, condition: Condition, *, weighted: bool = True
) -> tuple[SpectrumChart, str]:
    """The spectrum of the dwell nearest to a condition's speed or setting, and the name of its files.

    Parameters
    ----------
    fan : whose; the first of the lab where none is named. condition : speed, duty or volts and the obstacle; the
        fastest dwell where none is given. weighted : A-weighted, else as it is.

    Raises
    ------
    NotPossible : no sound, no dwell near to what was asked for, or none with levels in bands. UnknownThing : no fan.
    """
    sounds = Sounds(lab, book, graph)
    obstacle = words.obstacle_of(sounds, condition.obstacle, [fan] if fan else [])
    name = words.chosen(sounds, fan, (), obstacle)[0][0]
    used = sounds.fan(name, obstacle)
    heard, dwell = dwell_at(used, condition)
    tones = tuple(_tones(used, heard, dwell))
    speed = words.rpm(dwell.speed)
    weighting = "A-weighted" if weighted else "unweighted"
    total = words.dba(dwell.level, used.geometry)
    at_most = "at most " if dwell.is_bound else ""
    setting = "" if not dwell.setting_kind or dwell.setting is None else _setting(dwell)
    around = words.where(book, used, obstacle)
    drawn = tuple(_bands(dwell, weighted=weighted))
    picture = SpectrumChart(
        title=_title(name, speed, tones),
        subtitle=f"One-third-octave levels {words.at(used.geometry)}, {weighting}, {around}{setting}; "
        f"in all {at_most}{total}",
        footer=footer(book.settings, sounds.comparable.method, f"one recording of {heard.node.subject}"),
        y_label=f"Band level {words.at(used.geometry)}, {weighting}",
        y_unit="dB",
        label=name,
        bands=drawn,
        tones=tones,
        notes=tuple(_notes(used, drawn, tones)),
        alt=_alt(name, f"at {speed} {around} {words.at(used.geometry)}", drawn, tones),
    )
    return picture, plain_name("spectrum", name, obstacle, speed, "" if weighted else "unweighted")


def dwell_at(used: FanSound, condition: Condition) -> tuple[Heard, Dwell]:
    """The dwell nearest to a condition among those with levels in bands, with its mounting.

    Raises
    ------
    NotPossible : none with bands, or none near enough; with the nearest.
    """
    every = [(heard, each) for heard in used.heard for each in heard.sound.dwells if each.bands is not None]
    if not every:
        raise NotPossible(
            f"spectrum of {used.fan}", found="no levels in bands", expected="recordings, or a table of bands"
        )
    if condition.speed is not None:
        return _nearest(used.fan, every, condition.speed, "", "speed")
    if condition.duty is not None:
        return _nearest(used.fan, every, condition.duty, "duty", "duty")
    if condition.volts is not None:
        return _nearest(used.fan, every, condition.volts, "volts", "voltage")
    return max(every, key=lambda pair: pair[1].speed)


def _nearest(
    fan: str, every: list[tuple[Heard, Dwell]], wanted: float, kind: str, thing: str
) -> tuple[Heard, Dwell]:
    def value(dwell: Dwell) -> float:
        return dwell.speed if not kind else float(dwell.setting or 0.0)

    among = [
        pair for pair in every if not kind or (pair[1].setting_kind == kind and pair[1].setting is not None)
    ]
    best = min(among, key=lambda pair: abs(value(pair[1]) - wanted), default=None)
    if best is None or abs(value(best[1]) - wanted) > NEAR * wanted:
        have = dict.fromkeys(words.rpm(speed) for speed in sorted(each.speed for _, each in every))
        expected = f"one of {wording.listed(list(have), last='or')}"
        raise NotPossible(f"spectrum of {fan} at that {thing}", found="no dwell near it", expected=expected)
    return best


def _setting(dwell: Dwell) -> str:
    value = dwell.setting or 0.0
    if dwell.setting_kind == "duty":
        return f", {wording.with_unit(wording.number(100 * value), '%')} duty"
    return f", {wording.with_unit(f'{value:g}', 'V')}" if dwell.setting_kind == "volts" else ""


# --- series -----------------------------------------------------------------------------------------------


def _bands(dwell: Dwell, *, weighted: bool) -> Iterable[SpectrumBand]:
    """The bands that hold a level; those without one are left out."""
    middles, edges = bands_of.midbands(), bands_of.edges()
    shift = a_weighting(middles) if weighted else np.zeros(len(middles))
    levels = _array(dwell.bands) + shift
    behind = None if dwell.bands_background is None else _array(dwell.bands_background) + shift
    bound = np.zeros(len(middles), bool) if dwell.bands_bound is None else dwell.bands_bound
    for place, name in enumerate(bands_of.NOMINAL):
        if not np.isfinite(levels[place]):
            continue
        yield SpectrumBand(
            f"{name:g}",
            float(edges[place]),
            float(edges[place + 1]),
            round(float(levels[place]), 2),
            Bound.AT_MOST if bound[place] else Bound.NONE,
            None if behind is None or not np.isfinite(behind[place]) else round(float(behind[place]), 2),
        )


def _array(values: Array | None) -> Array:
    return np.asarray(values, dtype=np.float64)


def _tones(used: FanSound, heard: Heard, dwell: Dwell) -> Iterable[ToneMark]:
    """The prominent tones from the frequency on from which the room can tell them."""
    lowest = used.geometry.room_from or 0.0
    for each in sorted(dwell.tones, key=lambda tone: tone.tone.frequency):
        if each.tone.prominent and each.tone.frequency >= lowest:
            said = words.tone_words(each, dwell.speed, heard.node.blades)
            yield ToneMark(frequency_at(each, dwell.speed), said)


# --- words ------------------------------------------------------------------------------------------------


def _title(name: str, speed: str, tones: tuple[ToneMark, ...]) -> str:
    who = f"At {speed} {wording.isolate(name)}"
    if not tones:
        return f"{who} has no prominent tone"
    if len(tones) == 1:
        return f"{who} has a tone: {tones[0].words}"
    return f"{who} has {wording.plural(len(tones), 'tone')}: {wording.listed([each.words for each in tones], most=3)}"


def _notes(used: FanSound, drawn: tuple[SpectrumBand, ...], tones: tuple[ToneMark, ...]) -> Iterable[str]:
    if any(each.bound is not Bound.NONE for each in drawn):
        yield BOUNDS
    if all(each.background is None for each in drawn):
        yield "The background was not recorded in bands."
    if used.geometry.room_from:
        hertz = wording.with_unit(f"{used.geometry.room_from:g}", "Hz")
        yield f"The room is qualified from {hertz} on; below that the room speaks too."
    yield from words.said_of(used.marks, tones=bool(tones))


def _alt(name: str, at: str, drawn: tuple[SpectrumBand, ...], tones: tuple[ToneMark, ...]) -> str:
    loudest = max(drawn, key=lambda each: each.level)
    level = wording.with_unit(wording.number(loudest.level, 1), "dB")
    bounds = sum(each.bound is not Bound.NONE for each in drawn)
    band = wording.with_unit(loudest.name, "Hz")
    return spectrum_alt(
        f"{wording.isolate(name)} {at}", (band, level), bounds, [each.words for each in tones]
    )
