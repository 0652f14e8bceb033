"""The release's own airflow rankings for the reader's page: where settings equal theirs, their numbers stand there."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from stillroom.compare.candidates import MarginKind
from stillroom.compare.standing import PairStanding, Ranking, Standing
from stillroom.core.systems import System
from stillroom.measures import Condition
from stillroom.publish.contents import Contents, Published
from stillroom.vocabulary import unit

MEASURES = ("airflow", "free-airflow")
"""The measures that the page looks up."""

FIGURES = 12
"""Significant figures of a number, far more than any that is printed."""

Json = dict[str, Any]


def rankings_told(contents: Contents, fans: Sequence[str], obstacles: Mapping[str, str]) -> list[Json]:
    """The published rankings whose settings a reader can choose; values in SI, open ends null.

    Parameters
    ----------
    fans : of the page, in the order of their numbers. obstacles : {name in the lab: name on the page}.

    Returns
    -------
    For each its settings, margin, lines in order, best and left out. A line is [fan, value, low, high, bound, ends,
    rank, how, marks], bound and how told as places in `words`, marks likewise. A fan without a number on the page is
    told by its name.
    """
    return [_told(each, fans, obstacles) for each in contents.published if is_offered(each, obstacles)]


def is_offered(published: Published, obstacles: Mapping[str, str]) -> bool:
    """Whether a published measure is an airflow under settings that the page offers: of one fan in standard air."""
    asked = published.asked.condition
    usual = Condition(obstacle=asked.obstacle, noise=asked.noise)
    is_one = asked == usual and asked.system == System() and not published.asked.only
    is_named = not asked.obstacle or asked.obstacle in obstacles
    return published.measure.name in MEASURES and is_one and is_named


def size_told(ranking: Ranking) -> float | None:
    """Size of a ranking's fans [mm]; None where none is known."""
    number = str(ranking.conditions.get("size") or "").partition(" ")[0]
    return float(number) if number else None


def pairs_told(published: Published, fan: str) -> list[list[Any]]:
    """[other, difference, low, high, verdict, what settles it, of how many] for each fan that stands lower; SI."""
    ranking = published.ranking
    factor = unit(ranking.unit).factor
    return [_pair(each, factor) for each in ranking.pairs if each.a == fan]


def _pair(each: PairStanding, factor: float) -> list[Any]:
    numbers = [_number(number * factor) for number in (each.difference, each.low, each.high)]
    return [each.b, *numbers, each.verdict.value, each.further.settling.value, each.further.count]


def _told(published: Published, fans: Sequence[str], obstacles: Mapping[str, str]) -> Json:
    ranking, asked = published.ranking, published.asked.condition
    at = {fan: index for index, fan in enumerate(fans)}
    factor = unit(ranking.unit).factor
    words: dict[str, int] = {}
    is_share = ranking.margin.kind is MarginKind.RELATIVE
    return {
        "slug": published.slug,
        "size": size_told(ranking),
        "through": obstacles[asked.obstacle] if asked.obstacle else "",
        "limit": asked.noise,
        "margin": {
            "size": ranking.margin.size * (1.0 if is_share else factor),
            "kind": ranking.margin.kind.value,
        },
        "rows": [_row(each, at, factor, words) for each in ranking.standings if each.fan in at],
        "best": [at[each] for each in ranking.best if each in at],
        "left": [[at.get(each.fan, each.fan), each.why] for each in ranking.excluded],
        "words": list(words),
    }


def _row(each: Standing, at: Mapping[str, int], factor: float, words: dict[str, int]) -> list[Any]:
    bound, how, *marks = (
        words.setdefault(word, len(words)) for word in (each.bound.value, each.how.value, *each.marks)
    )
    value, low, high = (_number(number * factor) for number in (each.value, each.low, each.high))
    ends = [_number(end * factor) for end in each.ends] if each.ends else None
    return [at[each.fan], value, low, high, bound, ends, list(each.rank) if each.rank else None, how, marks]


def _number(value: float) -> float | None:
    return float(f"{value:.{FIGURES}g}") if math.isfinite(value) else None
