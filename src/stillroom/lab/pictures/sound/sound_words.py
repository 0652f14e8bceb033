"""Words that the pictures of sound have in common: speeds, bands, where the microphone stood, what must be said."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence

from stillroom import wording
from stillroom.core.sound.orders import NamedTone, Origin
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book
from stillroom.lab.pictures.picture_words import short_name
from stillroom.lab.sound.fan_sound import FREE_AIR, FanSound, Sounds
from stillroom.lab.sound.level_words import frequency_at
from stillroom.lab.sound.limited_field import sound_obstacle
from stillroom.lab.through import through_of

MOST_FANS = 5
RPM = 60.0
BOUNDS = "At most: the background lies less than 6 dB below, so the level is no higher than that."
"""What the marks of bounds mean, in a sentence beneath."""


def widened(band: tuple[float, float]) -> tuple[float, float]:
    """A band of speeds [1/s] to full tens of rpm, outwards: advice claims no more digits."""
    low, high = band
    return math.floor(low * RPM / 10.0 + 1e-6) * 10.0 / RPM, math.ceil(high * RPM / 10.0 - 1e-6) * 10.0 / RPM


def rpm(speed: float) -> str:
    """A speed [1/s] in a sentence: "1,330 rpm"."""
    return wording.with_unit(wording.number(speed * RPM), "rpm")


def band(low: float, high: float) -> str:
    """A band of speeds [1/s]: "1,090–1,330 rpm"."""
    return wording.with_unit(f"{wording.number(low * RPM)}–{wording.number(high * RPM)}", "rpm")


def bands_listed(bands: Sequence[tuple[float, float]], *, last: str = "nor") -> str:
    """Bands of speed [1/s] as a title says them: "between 1,090 and 1,330 rpm"; `last` stands before the last."""
    said = [f"between {wording.number(low * RPM)} and {wording.number(high * RPM)}" for low, high in bands]
    return wording.with_unit(wording.listed(said, last=last), "rpm")


def where(book: Book, used: FanSound, obstacle: str) -> str:
    """What stood around the fan when it was heard: "in free air", "with rad27 mounted"."""
    if used.obstacle:
        return f"with {short_name(book, used.obstacle)} mounted"
    return f"in free air, not with {short_name(book, obstacle)}" if obstacle else "in free air"


def at(geometry: Geometry) -> str:
    """Where a level holds, without a break in it: "at 0.5 m"."""
    if geometry.distance is None:
        return "at an untold distance"
    return f"at {wording.with_unit(f'{geometry.distance:g}', 'm')}"


def dba(level: float, geometry: Geometry | None = None) -> str:
    """A level to the tenth at most: "31 dBA", "31.4 dBA at 0.5 m"."""
    words = wording.with_unit(wording.number(level, 1).removesuffix(".0"), "dBA")
    return words if geometry is None else f"{words} {at(geometry)}"


OF_TONES = "tones of one position"
"""A mark that speaks of tones only."""

ONE_PLACE = "Tones were heard at one microphone place: their levels may be off by some dB."
"""What it says beneath a picture that tells tones."""


def said_of(marks: Iterable[str], *, tones: bool = False) -> tuple[str, ...]:
    """What must be said of a fan's sound besides that it was measured in free air, as notes.

    Parameters
    ----------
    tones : whether the picture tells tones, so that what is to be said of them stands beneath.
    """
    every = list(dict.fromkeys(marks))
    words = [each for each in every if each not in (FREE_AIR, OF_TONES)]
    said = (wording.sentence("; ".join(words)),) if words else ()
    return (*said, ONE_PLACE) if tones and OF_TONES in every else said


def basis(samples: int, mountings: int) -> str:
    """What a picture rests on, as it stands in the footer."""
    return f"{wording.plural(samples, 'sample')}, {wording.plural(mountings, 'mounting')}"


def obstacle_of(sounds: Sounds, text: str, fans: Sequence[str]) -> str:
    """The name of the obstacle with which the sound of fans is drawn; "" in free air.

    Parameters
    ----------
    text : as --through says it; where it says nothing and none of the fans was heard in free air, it is the obstacle
        with which most of them were. fans : those asked for, all where none is.

    Raises
    ------
    UnknownThing : no such obstacle.
    """
    if text:
        return sound_obstacle(through_of(sounds.book, sounds.graph, text))
    heard = sounds.comparable.nodes
    with_what = Counter(
        obstacle for fan in (fans or heard) for obstacle in {each.obstacle for each in heard.get(fan, ())}
    )
    return "" if not with_what or with_what[""] else min(with_what, key=lambda name: (-with_what[name], name))


def chosen(sounds: Sounds, fan: str, only: Sequence[str], obstacle: str) -> tuple[list[str], int]:
    """The fans to be drawn, the one under review first, and how many there are in all.

    Raises
    ------
    NotPossible : none, or more than five. UnknownThing : a fan without sound that can be compared.
    """
    every = list(sounds.comparable.nodes)
    known = [each for each in every if _is_heard(sounds, each, obstacle)]
    asked = list(dict.fromkeys([*([fan] if fan else []), *only]))
    if not (known or asked):
        whys = list(dict.fromkeys(sounds.comparable.why.values()))
        found = "; ".join(whys[:3]) or ("no fan with sound in free air" if every else "no fan with sound")
        raise NotPossible("pictures of sound", found=found, expected="recordings: `stillroom add` first")
    for each in asked:
        if each not in every:
            why = sounds.comparable.reason(each)
            raise UnknownThing(f"sound of {each}", found=why, expected=wording.listed(every, last="or"))
    if len(asked) > MOST_FANS:
        raise NotPossible("fans on one picture", found=str(len(asked)), expected=f"at most {MOST_FANS}")
    return asked or known[:MOST_FANS], len(known)


def _is_heard(sounds: Sounds, fan: str, obstacle: str) -> bool:
    """Whether a fan has sound that stands in for this obstacle."""
    try:
        return bool(sounds.nodes(fan, obstacle))
    except NotPossible:
        return False


# --- tones ------------------------------------------------------------------------------------------------


def tone_name(tone: NamedTone, blades: int | None) -> str:
    """What a tone comes from, as it stands at its line: "blade pass", "2 × blade pass", "motor"; "" where unknown."""
    if tone.origin is Origin.BLADE_PASS_HARMONIC and blades:
        return order_name(tone.order, blades)
    if tone.origin is Origin.SHAFT:
        return order_name(tone.order, None)
    names = {Origin.BLADE_PASS: "blade pass", Origin.MOTOR: "motor", Origin.FIXED: "fixed frequency"}
    return names.get(tone.origin, "")


def order_name(order: float, blades: int | None) -> str:
    """An order in words: "2 × blade pass", "3 × shaft"."""
    if blades and abs(order / blades - round(order / blades)) < 0.02:
        times = round(order / blades)
        return "blade pass" if times == 1 else f"{times} × blade pass"
    return "shaft" if round(order) == 1 else f"{order:.3g} × shaft"


def tone_words(tone: NamedTone, speed: float, blades: int | None) -> str:
    """A tone as it is named on a spectrum: "blade pass 222 Hz"."""
    hertz = wording.with_unit(wording.number(frequency_at(tone, speed)), "Hz")
    return f"{tone_name(tone, blades)} {hertz}".strip()
