"""Charts of a pack read back from their SVG: words with their boxes, colours as drawn, rows; and pixels of PNGs."""

from __future__ import annotations

import dataclasses
import itertools
import re
import struct
import sys
import zlib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from stillroom.charts import frame
from stillroom.charts.frame import Sheet
from stillroom.charts.palette import Theme
from stillroom.compare.candidates import StandingVerdict
from stillroom.compare.standing import Ranking

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "charts"))

from chart_samples import HOSTILE, SVG, Words, bars_of, walk, words_of

__all__ = ["HOSTILE", "SVG", "Words", "bars_of", "walk", "words_of"]


def size_of(png: bytes) -> tuple[int, int]:
    """Width and height as the header of a PNG tells them."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    wide, high = struct.unpack(">II", png[16:24])
    return int(wide), int(high)


def rows_of(png: bytes) -> NDArray[np.uint8]:
    """The pixels of a PNG, read by the standard alone: checked chunks, one stream, filters 0 to 2."""
    place, packed = 8, b""
    while place < len(png):
        (length,) = struct.unpack_from(">I", png, place)
        kind, body = png[place + 4 : place + 8], png[place + 8 : place + 8 + length]
        assert struct.unpack_from(">I", png, place + 8 + length)[0] == zlib.crc32(kind + body)
        packed += body if kind == b"IDAT" else b""
        place += 12 + length
    wide, high = size_of(png)
    rows = np.frombuffer(zlib.decompress(packed), np.uint8).reshape(high, 1 + 4 * wide)
    assert set(rows[:, 0].tolist()) == {1}
    return np.cumsum(rows[:, 1:].reshape(high, wide, 4), axis=1, dtype=np.uint8)


def overlapping(sheet: Sheet) -> list[tuple[str, str]]:
    """Words of a page that lie over each other, and words that leave it."""
    words = words_of(frame.plain_svg(sheet, Theme.LIGHT))
    assert len(words) > 3
    pairs = [
        (one.words, other.words) for one, other in itertools.combinations(words, 2) if one.overlaps(other)
    ]
    gone = [
        (each.words, "leaves the page")
        for each in words
        if each.left < 0 or each.right > sheet.page.width + 0.5 or each.top < 0 or each.bottom > sheet.height
    ]
    return pairs + gone


def colours_of(svg: str, attributes: Iterable[str], tags: Iterable[str]) -> set[str]:
    """Colours that marks of some kinds are drawn with."""
    wanted = {f"{SVG}{each}" for each in tags}
    return {
        value
        for element, *_ in walk(svg)
        if element.tag in wanted
        for name in attributes
        if re.fullmatch(r"#[0-9A-F]{6}", value := element.get(name, ""))
    }


def grown(ranking: Ranking, names: Sequence[str], tied: int) -> Ranking:
    """A ranking of more fans, made of one with few: the first `tied` may be the best."""
    kinds = list(ranking.standings)
    least = min(each.value for each in kinds)
    standings = []
    for index, name in enumerate(names):
        value = least * (1.0 - 0.01 * index)
        is_best = index < tied
        verdict: Any = StandingVerdict.TIED if is_best else StandingVerdict.BEHIND
        standings.append(
            dataclasses.replace(
                kinds[index % len(kinds)], fan=name, value=value, low=0.97 * value, high=1.03 * value,
                rank=(1, tied) if is_best else (index + 1, index + 1), verdict=verdict, ends=None,
            )
        )  # fmt: skip
    return dataclasses.replace(
        ranking, standings=tuple(standings), pairs=(), best=tuple(names[:tied]), prices=None, worth=None
    )
