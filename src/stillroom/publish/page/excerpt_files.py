"""Excerpts of recordings for readers: all at one level, so that they hear how fans sound and not how loud."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import soundfile

from stillroom import wording
from stillroom.errors import StillroomError
from stillroom.lab.book import Book
from stillroom.lab.executor import Progress, silent
from stillroom.lab.pictures.picture_words import short_name
from stillroom.lab.sound.excerpts import Excerpt, Excerpts, excerpts
from stillroom.lab.sound.fan_sound import FREE_AIR, Sounds
from stillroom.lab.sound.level_words import at_distance, speed_in_words
from stillroom.measures import Condition
from stillroom.publish.contents import Contents

SECONDS = 6.0
FOLDER = "sounds"
FAINTEST = 20.0
"""Excerpts are written so far below full scale at the most, so that a usual volume setting makes them heard [dB]."""


def write_excerpts(
    contents: Contents, fans: Sequence[str], folder: Path, progress: Progress = silent
) -> tuple[dict[str, Any], list[Path]]:
    """Write the excerpts of the fans that have one at the noise limit at which most have one.

    Parameters
    ----------
    fans : in the order of their numbers. folder : of the page.

    Returns
    -------
    What the page is told of them, {number: …} under "files" and the words that stand above, and the files written;
    nothing where the lab publishes none.
    """
    if not contents.settings.publish.excerpts:
        return {}, []
    found = _most(contents, fans)
    if found is None:
        return {}, []
    place = folder / FOLDER
    place.mkdir(exist_ok=True)
    files: dict[int, dict[str, str]] = {}
    written: list[Path] = []
    for at, each in enumerate(found.found):
        progress("excerpts", at, len(found.found))
        number = fans.index(each.fan)
        path = place / f"{number}.flac"
        path.write_bytes(_flac(each, found.scale))
        written.append(path)
        files[number] = {
            "fan": each.fan,
            "file": f"{FOLDER}/{path.name}",
            "words": _words(contents.book, each),
        }
    return {"words": _above(found), "files": files}, written


def _most(contents: Contents, fans: Sequence[str]) -> Excerpts | None:
    """The excerpts at the limit at which most fans have one; the loudest of several."""
    whole = contents.whole
    sounds = Sounds(whole.lab, whole.book, whole.graph)
    made = list(_at_limits(sounds, contents, fans))
    return max(made, key=lambda each: len(each.found)) if made else None


def _at_limits(sounds: Sounds, contents: Contents, fans: Sequence[str]) -> Iterator[Excerpts]:
    asked = Counter(each.asked.condition.noise for each in contents.published)
    limits = sorted(
        {each for each in asked if each is not None} or contents.settings.sound.limits, reverse=True
    )
    heard = [fan for fan in fans if sounds.comparable.nodes.get(fan)]
    for limit in limits:
        try:
            yield excerpts(sounds, heard, Condition(noise=limit), seconds=SECONDS, matched=True)
        except StillroomError:
            continue


def _flac(each: Excerpt, scale: float) -> bytes:
    """An excerpt on the scale of all, without loss, the same bytes each time."""
    written = io.BytesIO()
    soundfile.write(
        written, each.samples * 10.0 ** (-scale / 20.0), each.rate, format="FLAC", subtype="PCM_16"
    )
    return written.getvalue()


def _words(book: Book, each: Excerpt) -> str:
    shift = "" if abs(each.shift) < 0.05 else f", moved by {wording.number(each.shift, 1)} dB"
    where = f"with {short_name(book, each.obstacle)} mounted" if each.obstacle else "in free air"
    marks = [mark for mark in each.marks if mark != FREE_AIR]
    return (
        f"{speed_in_words(each.speed)}, {where}, {wording.number(each.played, 1)} dBA {at_distance(each.geometry)}"
        f"{shift}{'; ' + '; '.join(marks) if marks else ''}"
    )


def _above(found: Excerpts) -> str:
    first = found.found[0]
    level = f"{wording.number(first.played, 1)} dBA {at_distance(first.geometry)}"
    return (
        f"Recordings near the same noise limit, all brought to one level ({level}): so one hears how fans sound, not "
        "which is louder. Listen to all at the same volume setting; their true loudness depends on your equipment."
    )
