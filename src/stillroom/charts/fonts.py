"""The bundled letters: how wide words are, how they are fitted into a space, and the part that is embedded.

Stillroom Sans is Inter 4 (SIL Open Font Licence, `fonts/OFL.txt`) with tabular figures as its only figures;
`fonts/prepare.py` makes it. Widths are sums of advances, without kerning.
"""

from __future__ import annotations

import base64
import io
import re
import unicodedata
from functools import cache
from pathlib import Path
from typing import Literal

FAMILY = "Stillroom Sans"
Weight = Literal[400, 600]
REGULAR: Weight = 400
STRONG: Weight = 600
FOLDER = Path(__file__).parent / "fonts"
FILES: dict[int, str] = {REGULAR: "StillroomSans-Regular.ttf", STRONG: "StillroomSans-SemiBold.ttf"}
ELLIPSIS = "…"
BOX = "□"
"""What stands for signs that the bundled letters lack."""

_FORBIDDEN = {*range(0x202A, 0x202F), *range(0x2066, 0x2068), 0xFFFE, 0xFFFF, 0xFEFF}
_ISOLATES = "\u2068\u2069"
_UNITS = "mm|m|cm|m³/h|m³|Pa|dBA|dB|rpm|kg/m³|K|V|W|CFM|mmH₂O"
_MONTHS = "Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec"
_HELD = re.compile(rf"(?<=\d) (?=[%×°µ]|(?:{_UNITS})\b|(?:{_MONTHS}))|(?<=[×±≤≥]) (?=\d)")


def clean(words: str) -> str:
    """Words without control characters, line breaks or overrides of the writing direction."""
    kept = []
    for each in words:
        category = unicodedata.category(each)
        if category in ("Cc", "Zl", "Zp"):
            kept.append(" ")
        elif category != "Cs" and ord(each) not in _FORBIDDEN:
            kept.append(each)
    return " ".join("".join(kept).split(" ")).strip()


def printable(words: str) -> str:
    """Words as the bundled letters can set them: a box for each run of signs that they lack.

    A name of which nothing could be set becomes the code points of its first signs, so that it is seen and
    can be told from others; no words stay no words.
    """
    known, _ = _advances(REGULAR)
    whole = unicodedata.normalize("NFC", clean(words))
    kept = ""
    for each in whole:
        if ord(each) in known or each in _ISOLATES:
            kept += each
        elif unicodedata.category(each) not in ("Mn", "Me", "Cf") and not kept.endswith(BOX):
            kept += BOX
    if kept.strip(BOX + " " + _ISOLATES):
        return kept.strip()
    return (
        " ".join([BOX, *(f"U+{ord(each):04X}" for each in whole.replace(" ", "")[:2])])
        if kept.strip()
        else ""
    )


@cache
def _advances(weight: int) -> tuple[dict[int, float], float]:
    from fontTools.ttLib import TTFont

    with TTFont(FOLDER / FILES[weight], lazy=True) as font:
        scale = 1 / font["head"].unitsPerEm
        widths = font["hmtx"].metrics
        return {code: widths[name][0] * scale for code, name in font.getBestCmap().items()}, 1.0


def _width_of(letter: str, weight: int) -> float:
    known, otherwise = _advances(weight)
    if unicodedata.combining(letter) or letter in _ISOLATES or letter in "\u200d\ufe0f\ufe0e":
        return 0.0
    wide = unicodedata.east_asian_width(letter) in ("W", "F")
    return known.get(ord(letter), 1.3 if wide else otherwise)


def width(words: str, size: float, weight: int = REGULAR) -> float:
    """How wide words are when set in one line, in the unit of `size`."""
    return size * sum(_width_of(each, weight) for each in words)


def _cut(words: str, size: float, weight: int, room: float) -> int:
    """How many characters fit into `room`; never between a letter and what is joined to it."""
    used, count = 0.0, 0
    for index, each in enumerate(words):
        used += size * _width_of(each, weight)
        if used > room:
            break
        count = index + 1
    joined = "\u200d\ufe0f\ufe0e"
    while 0 < count < len(words) and (
        unicodedata.combining(words[count]) or words[count] in joined or words[count - 1] == "\u200d"
    ):
        count -= 1
    return max(count, 1)


def _close(words: str) -> str:
    """Close an isolate that a cut left open."""
    return words + "\u2069" * (words.count("\u2068") - words.count("\u2069"))


def balanced(words: str, size: float, weight: int, room: float, most: int = 0) -> list[str]:
    """As `wrapped`, cut by whole words, the lines of about one length: no single word is left over."""
    best = wrapped(words, size, weight, room, most, whole=True)
    if len(best) < 2 or best[-1].endswith(ELLIPSIS):
        return best
    for share in range(95, 50, -5):
        trial = wrapped(words, size, weight, room * share / 100, most)
        if len(trial) > len(best) or trial[-1].endswith(ELLIPSIS):
            break
        best = trial
    return best


def _word_cut(words: str, count: int) -> int:
    """Where words that are cut after `count` characters end as whole words; there itself within the first word."""
    if words[count : count + 1] in ("", " "):
        return count
    blank = words.rfind(" ", 0, count)
    return count if blank < 0 else blank


def wrapped(
    words: str, size: float, weight: int, room: float, most: int = 0, *, whole: bool = False
) -> list[str]:
    """Words set into lines no wider than `room`; with `most`, what is left ends in an ellipsis, with `whole` after a
    whole word.

    Lines break at blanks (not between a number and its unit), over-long words anywhere. Returns at least
    one line (which may be empty).
    """
    rest = [each for each in _HELD.sub("\u00a0", clean(words)).split(" ") if each]
    lines: list[str] = []
    line = ""
    while rest:
        trial = f"{line} {rest[0]}" if line else rest[0]
        if width(trial, size, weight) <= room:
            line = trial
            rest.pop(0)
        elif line:
            lines.append(line)
            line = ""
        else:
            count = _cut(rest[0], size, weight, room)
            lines.append(rest[0][:count])
            rest[0] = rest[0][count:]
            if not rest[0]:
                rest.pop(0)
    if line or not lines:
        lines.append(line)
    if most and len(lines) > most:
        last = " ".join(lines[most - 1 :])
        count = _cut(last, size, weight, room - width(ELLIPSIS, size, weight))
        kept = last[: _word_cut(last, count)].rstrip(" ,;·(") if whole else last[:count].rstrip()
        lines = [*lines[: most - 1], kept + ELLIPSIS]
    return [_close(each) for each in lines]


USUAL = frozenset(map(chr, range(0x20, 0x7F))) | frozenset(
    "·×±²³°–’…→≥≤µ\u00a0\u2009\u2212“”←↓◆○½ΔΣλμπρτφψ¹⁴⁶⁻₀₁₂ₐᵢⱼ√∞"
)
"""Letters that every page carries, those of the house's keys and formulas among them.

So nearly all have the same ones, cut out of the font once a process (a quarter of a second each time).
"""


@cache
def _subset(weight: int, letters: frozenset[str]) -> str:
    from fontTools import subset
    from fontTools.ttLib import TTFont

    font = TTFont(io.BytesIO((FOLDER / FILES[weight]).read_bytes()), recalcTimestamp=False)
    options = subset.Options()
    options.layout_features = ["kern", "ccmp", "mark", "mkmk"]
    options.name_IDs = [13]
    shrink = subset.Subsetter(options)
    shrink.populate(unicodes=[ord(each) for each in sorted(letters)])
    shrink.subset(font)
    font.flavor = "woff"
    made = io.BytesIO()
    font.save(made, reorderTables=None)
    return base64.b64encode(made.getvalue()).decode("ascii")


def face(weight: int, words: str) -> str:
    """The @font-face rule that carries the letters of `words` in one weight, as a data address."""
    data = _subset(weight, frozenset(words) | USUAL)
    return (
        f"@font-face{{font-family:'{FAMILY}';font-weight:{weight};font-style:normal;"
        f"src:url(data:font/woff;base64,{data}) format('woff')}}"
    )


@cache
def register() -> None:
    """Let the renderer know the bundled letters (once a process)."""
    import vl_convert

    vl_convert.register_font_directory(str(FOLDER))
