"""Bars shown one by one, for video: a chart's wide page taken apart, and put together step by step in the same pixels.

A set has no paper behind it. Its heading asks instead of telling: neither the finding nor a fan's name stands in it.
Bars come from the last to the first. There are two kinds of steps, "hidden" without and "named" with the names of the
bars that are shown, and the finding at the end: the whole page as it is published. While names are hidden all bars look
alike: the fan under review has no colour of its own, and no mark or word tells how close a bar is to others.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from stillroom import wording
from stillroom.charts import frame, marks
from stillroom.charts.bar_words import mark_room
from stillroom.charts.bars import Plan, cue_svg, plan_of
from stillroom.charts.draw import set_page
from stillroom.charts.fonts import printable
from stillroom.charts.frame import Sheet
from stillroom.charts.layout import Layout
from stillroom.charts.palette import Theme, role
from stillroom.charts.series import Bar, RankedBars
from stillroom.errors import BadInput

ORDER = "the last bar first, the best last"
"""In which order bars are shown, in words."""

UNNAMED = "Bars shown one by one"
"""The title of a set for which no words are left that don't name a fan."""

_MOVED = re.compile(r"translate\(([-\d.e]+),([-\d.e]+)\)")
_BEGUN = re.compile(r"M([-\d.e]+),([-\d.e]+)")
_SIGNS = re.compile(r"[^\W_]+")


@dataclass(frozen=True)
class Parts:
    """A wide page of bars, taken apart; colours are still roles.

    Parameters
    ----------
    sheet : the page as it is published. title, alt : of the set: without a fan's name, and without the finding.
    heading, cue, axis, closing : SVG that stands from the first step on. told : what stands in place of heading and
        closing in the end: those of the page as it is published.
    bars, covered, names : of each row from the top: the bar with its numbers and words; the same as long as names are
        hidden, in the quiet colour with its number alone; the fan's name.
    top : where the first row begins. pitch : height of a row. columns : between which two places from the
        left the names stand, and nothing else.
    """

    sheet: Sheet
    title: str
    alt: str
    heading: str
    cue: str
    axis: str
    closing: str
    told: tuple[str, str]
    bars: tuple[str, ...]
    covered: tuple[str, ...]
    names: tuple[str, ...]
    top: float
    pitch: float
    columns: tuple[float, float]


def taken_apart(chart: RankedBars, question: str, sheet: Sheet | None = None) -> Parts:
    """The wide page of a ranking in parts.

    Parameters
    ----------
    chart : at most as many bars as the page holds. question : what is asked, in place of the finding; left out where
        a fan's name is part of it. sheet : the chart set on its wide page, where it is there already.

    Raises
    ------
    BadInput : no bar, or more than the page holds.
    """
    if not chart.bars:
        raise BadInput("bars to show one by one", found="none", expected="one or more")
    sheet = sheet or set_page(chart, Layout.WIDE)
    page, names = sheet.page, fans_of(chart)
    plan = plan_of(chart, page, page.width - 2 * page.margin, sheet.foot - sheet.top)
    said = partial(_without, names)
    title = said(question) or said(chart.measure)
    parts = chart.footer.split(frame.SEPARATOR)
    footer = frame.SEPARATOR.join(each for each in map(said, parts) if each)
    heading, closing = frame.other_words(
        sheet, title, said(chart.subtitle), footer, [each for each in map(said, chart.notes) if each]
    )
    axis, bars, covered, named = _rows(sheet.inner, plan, mark_room(page))
    return Parts(
        sheet=sheet,
        title=title or UNNAMED,
        alt=f"{wording.plural(len(bars), 'bar')}, shown one by one, {ORDER}; the fans' names are not told.",
        heading=heading,
        cue=marks.group(cue_svg(chart, page, plan), page.margin, sheet.top, "cue"),
        axis=axis,
        closing=closing,
        told=(_group(sheet.inner, "heading"), _group(sheet.inner, "closing")),
        bars=bars,
        covered=covered,
        names=named,
        top=sheet.top + plan.cue,
        pitch=plan.pitch,
        columns=(
            page.margin + mark_room(page) - 0.2 * page.label,
            page.margin + plan.zero - 0.35 * page.label,
        ),
    )


def _group(inner: str, name: str) -> str:
    """A group of a page that holds no other groups."""
    found = re.search(rf'<g id="{name}".*?</g>', inner, re.DOTALL)
    if found is None:
        raise AssertionError(f"a page without its group {name!r}")
    return found[0]


def fans_of(chart: RankedBars) -> tuple[str, ...]:
    """Every fan that a chart knows."""
    return (*(each.label for each in (*chart.bars, *chart.beside)), *(name for name, _ in chart.excluded))


def names_any(words: str, names: Iterable[str]) -> bool:
    """Whether one of these names stands among words, as words of its own, in small or capital letters."""
    said = _folded(words)
    return any(_folded(each).strip() and _folded(each) in said for each in names)


def _folded(words: str) -> str:
    return f" {' '.join(_SIGNS.findall(printable(words).casefold()))} "


def _without(names: Sequence[str], words: str) -> str:
    return "" if names_any(words, names) else words


def _rows(
    inner: str, plan: Plan, names_at: float
) -> tuple[str, tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """The marks of a drawn ranking: what belongs to no row (the line at zero); of each row its bar, the same as long as
    names are hidden, and its name.
    """
    axis, bars, covered, names = "", *([""] * len(plan.rows) for _ in range(3))
    for layer in ET.fromstring(f"<svg>{inner}</svg>").iter("g"):
        for each in layer if "role-mark" in layer.get("class", "") else ():
            x, y = place_of(each)
            row = int(y / plan.pitch)
            if each.tag == "line" and each.get("y2") != "0":
                axis += written(each)
            elif each.tag == "text" and abs(x - names_at) < 0.01:
                names[row] += written(each)
            else:
                bars[row] += written(each)
                covered[row] += _covered(each, each.tag == "path" and x < names_at, plan.rows[row].bar)
    return axis, tuple(bars), tuple(covered), tuple(names)


QUIET = {
    ("path", "fill"): {role("accent"): role("quiet"), role("tied"): role("quiet")},
    ("path", "stroke"): {role("accent"): role("quiet-edge"), role("tied-edge"): role("quiet-edge")},
    ("text", "fill"): {role("accent"): role("ink")},
}
"""What colours become as long as names are hidden, by element and attribute."""


def _covered(mark: ET.Element, is_sign: bool, bar: Bar) -> str:
    """A mark of a row as long as names are hidden; "" for the sign before the name and for the words after the value.

    Words that stand in place of a value are kept.
    """
    is_word = mark.tag == "text" and mark.get("fill") == role("muted") and not bar.is_missing
    if is_sign or is_word:
        return ""
    quiet = ET.Element(mark.tag, mark.attrib)
    quiet.text = mark.text
    for name, value in mark.attrib.items():
        quiet.set(name, QUIET.get((mark.tag, name), {}).get(value, value))
    return written(quiet)


def place_of(mark: ET.Element) -> tuple[float, float]:
    """Where a mark stands: what it is moved by, or where its line begins."""
    found = _MOVED.search(mark.get("transform", "")) or _BEGUN.search(mark.get("d", ""))
    if found is None:
        raise AssertionError(f"a mark without a place: {mark.attrib}")
    return float(found[1]), float(found[2])


def written(mark: ET.Element) -> str:
    """A mark as SVG, without words for those who hear the chart: they say the fan's name."""
    kept = {
        name: value for name, value in mark.attrib.items() if name != "role" and not name.startswith("aria-")
    }
    attributes = "".join(f' {name}="{marks.escaped(value)}"' for name, value in kept.items())
    return f"<{mark.tag}{attributes}>{marks.escaped(mark.text or '')}</{mark.tag}>"


# --- as SVG -------------------------------------------------------------------------------------------


def reveal_svg(parts: Parts, theme: Theme, *, named: bool) -> str:
    """A set as one SVG that carries its font: a group for each thing that an editor may move.

    Groups: `heading`, `axis`, `bar-01` (the best) and the following, `name-01` and the following where names are
    shown, `closing`; `data-step` says in which step a bar is shown.
    """
    count = len(parts.bars)
    rows = "".join(
        f'<g id="bar-{place:02d}" data-step="{count + 1 - place}">{bar}</g>'
        for place, bar in enumerate(parts.bars if named else parts.covered, start=1)
    )
    words = "".join(
        f'<g id="name-{place:02d}" data-step="{count + 1 - place}">{name}</g>'
        for place, name in enumerate(parts.names, start=1)
    )
    inner = (
        parts.heading
        + parts.cue
        + marks.group(rows + (words if named else ""), parts.sheet.page.margin, parts.top, "bars")
        + marks.group(parts.axis, parts.sheet.page.margin, parts.top, "axis")
        + parts.closing
    )
    sheet = replace(parts.sheet, inner=inner, title=parts.title, alt=parts.alt)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + frame.carrying_svg(sheet, theme) + "\n"
