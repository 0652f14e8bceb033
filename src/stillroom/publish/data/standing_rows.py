"""The standings of one measure as rows: what the tables of a release and its open data both show."""

from __future__ import annotations

import math
from collections.abc import Mapping

from stillroom.compare.candidates import Bound, Excluded, How, StandingVerdict
from stillroom.compare.priced import PricedFan
from stillroom.compare.standing import Ranking, Standing
from stillroom.lab.sound.level_words import unit_at
from stillroom.publish.data.cells import Cell, decimal_of, places_of
from stillroom.publish.data.fields import AT_LEAST_ZERO, REQUIRED, Field, of_record
from stillroom.publish.standing_words import NOT_RANKED, READERS_WORDS, readers_word
from stillroom.records.products import Fan

IN_UNIT = ("value", "low", "high", "lower_end", "upper_end")
"""The columns whose numbers are in the unit of the ranking."""

BOUNDS = [each.value for each in (Bound.AT_LEAST, Bound.AT_MOST, Bound.RANGE)]

FIELDS: tuple[Field, ...] = (
    Field("fan", "fan", "The fan’s short name.", constraints=REQUIRED),
    *of_record(Fan, "maker", "model"),
    Field("standing", "standing",
          "What may be said of the fan: ahead of all others, too close to call with the best, behind, or not ranked.",
          constraints={"required": True, "enum": list(READERS_WORDS)}),
    Field("value", "value",
          "The published number, rounded to the place that its interval allows: the mean over samples of the means "
          "over mountings. Where `bound` says “range” it is one of several operating points.", "number"),
    Field("low", "95 % from",
          "Lower end of the 95 % interval for the model of fan; empty where a bound leaves it open, and where a legacy "
          "number was told without one.", "number"),
    Field("high", "95 % to", "Upper end of the same interval.", "number"),
    Field("bound", "bound", "What the number is where it is not simply the value: at least, at most, or a range.",
          constraints={"enum": BOUNDS}),
    Field("lower_end", "range from", "Lower end of a range, where one value would be a lie.", "number"),
    Field("upper_end", "range to", "Upper end of a range.", "number"),
    Field("rank_from", "rank from", "Best place that can’t be excluded, 95 % for all fans at once.", "integer",
          constraints={"minimum": 1}),
    Field("rank_to", "rank to", "Worst place that can’t be excluded.", "integer", constraints={"minimum": 1}),
    Field("verdict", "verdict", "Against the leader, as the laboratory sees it.",
          constraints={"enum": [each.value for each in StandingVerdict]}),
    Field("how", "how", "How the number was obtained.", constraints={"enum": [each.value for each in How]}),
    Field("samples", "samples", "On how many units that were bought it rests.", "integer", constraints=AT_LEAST_ZERO),
    Field("mountings", "mountings", "On how many acts of fitting one to a rig it rests.", "integer",
          constraints=AT_LEAST_ZERO),
    Field("price", "price", "What as many of the fan as one answer takes cost.", "number", constraints=AT_LEAST_ZERO),
    Field("currency", "currency", "Of the price."),
    Field("price_date", "price of", "The day of the price."),
    Field("marks", "marks", "Words that must stand beside the number, parted by a bar."),
    Field("why", "why not ranked", "Why a fan has no place in the list."),
    Field("key", "key", "Key of the result, by which the laboratory follows it back to the readings."),
)  # fmt: skip
"""Columns of a table of standings; those of `IN_UNIT` are numbers in the unit of the ranking."""


def headers(ranking: Ranking) -> tuple[str, ...]:
    """The titles of the columns, with the unit where numbers are in it; beside a level stands its distance."""
    unit = unit_at(ranking.unit, ranking.conditions)
    return tuple(f"{each.title} [{unit}]" if each.name in IN_UNIT else each.title for each in FIELDS)


def standing_rows(ranking: Ranking, fans: Mapping[str, Fan]) -> tuple[dict[str, Cell], ...]:
    """A ranking as rows: the fans in order, then those that were measured and can't be ranked.

    Parameters
    ----------
    ranking : in the unit in which it is published. fans : the records of fans.
    """
    prices = {each.fan: each for each in ranking.prices.fans} if ranking.prices else {}
    currency = ranking.prices.currency if ranking.prices else ""
    ranked = [
        _row(each, ranking) | _product(each.fan, fans) | _price(prices.get(each.fan), currency)
        for each in ranking.standings
    ]
    gone = [_gone(each) | _product(each.fan, fans) for each in not_ranked(ranking)]
    return (*ranked, *gone)


def not_ranked(ranking: Ranking) -> tuple[Excluded, ...]:
    """The fans that were measured and belong to the comparison, but have no place in it."""
    return tuple(each for each in ranking.excluded if each.measured)


def value_places(each: Standing) -> int:
    """The decimal place to which a standing's numbers are printed."""
    return places_of(each.value, each.low, each.high)


def end_places(each: Standing) -> int:
    """The same of the ends of a range: finer where they would print alike."""
    places = value_places(each)
    low, high = each.ends or (0.0, 0.0)
    return max(places, -math.floor(math.log10(high - low))) if high > low else places


def _row(each: Standing, ranking: Ranking) -> dict[str, Cell]:
    places, ends = value_places(each), end_places(each)
    first, last = each.rank or (None, None)
    return {
        "fan": each.fan,
        "standing": readers_word(each, ranking),
        "value": decimal_of(each.value, places),
        "low": decimal_of(each.low, places),
        "high": decimal_of(each.high, places),
        "bound": each.bound.value or None,
        "lower_end": decimal_of(each.ends[0], ends) if each.ends else None,
        "upper_end": decimal_of(each.ends[1], ends) if each.ends else None,
        "rank_from": first,
        "rank_to": last,
        "verdict": each.verdict.value,
        "how": each.how.value,
        "samples": each.samples,
        "mountings": each.mountings,
        "marks": " | ".join(each.marks) or None,
        "key": each.key,
    }


def _gone(each: Excluded) -> dict[str, Cell]:
    return {"fan": each.fan, "standing": NOT_RANKED, "why": each.why}


def _product(fan: str, fans: Mapping[str, Fan]) -> dict[str, Cell]:
    record = fans.get(fan)
    return {"maker": record.maker, "model": record.model} if record else {}


def _price(priced: PricedFan | None, currency: str) -> dict[str, Cell]:
    if priced is None:
        return {}
    return {
        "price": decimal_of(priced.price, 2),
        "currency": currency or None,
        "price_date": priced.date or None,
    }
