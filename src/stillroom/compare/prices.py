"""Prices beside a ranking: the front, the cheapest of the best, and the marginal price of the next step."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from decimal import Decimal
from itertools import pairwise

from stillroom.compare.candidates import Bound, How, MarginKind
from stillroom.compare.priced import PricedFan, PriceList, PriceStep
from stillroom.compare.standing import PairStanding, Ranking, Standing
from stillroom.core.multiple import Merit, Verdict
from stillroom.records.products import Price


def price_list(
    ranking: Ranking, prices: Iterable[Price], merit: Merit, *, fans_each: int = 1
) -> PriceList | None:
    """What prices say beside a ranking; None where no ranked fan has one.

    Of a fan counts its latest price, of several on that date the lowest. Currencies are not turned into each other:
    the one of the most fans counts. A fan is beaten where another costs no more and is ahead of it, that is, better
    beyond the margin with its 95 % interval. Steps lead along the front over the fans whose value is known and better
    than that of all cheaper ones. Legacy numbers take no part.

    Parameters
    ----------
    ranking : finished. prices : of the lab, any fans. merit : of its measure.
    fans_each : how many of a fan one answer takes; prices are for so many.
    """
    ranked = [each for each in ranking.standings if each.how is not How.LEGACY]
    latest = _latest(prices)
    currency = _currency(latest, ranked)
    if currency is None:
        return None
    found: dict[str, PricedFan] = {}
    without: dict[str, str] = {}
    for each in ranked:
        own = latest.get(each.fan, {})
        if currency in own:
            told = own[currency]
            found[each.fan] = PricedFan(
                each.fan, _times(told.price, fans_each), told.date or "", told.region or "", told.shop or ""
            )
        else:
            without[each.fan] = f"price in {', '.join(sorted(own))}, not {currency}" if own else "no price"
    pairs = {(each.a, each.b): each for each in ranking.pairs}
    placed = [_placed(each, found, pairs) for each in found.values()]
    order = {each.fan: at for at, each in enumerate(ranked)}
    placed.sort(key=lambda each: (each.price, order[each.fan]))
    known = {each.fan: each for each in ranked if each.bound is Bound.NONE}
    front = [each for each in placed if not each.beaten_by and each.fan in known]
    stairs = _stairs(front, known, merit)
    steps = tuple(_step(cheaper, dearer, pairs, ranking, known) for cheaper, dearer in pairwise(stairs))
    best = next((each.fan for each in placed if each.fan in ranking.best), "")
    noticed = _noticed(front, steps, pairs, ranking, known)
    return PriceList(currency, fans_each, tuple(placed), best, steps, noticed, without, merit)


def _times(price: float, count: int) -> float:
    """What several cost together, in the decimals in which prices are told: 3 × 19.9 is 59.7."""
    return float(_told(price) * count)


def _apart(dearer: float, cheaper: float) -> float:
    """By how much one price is above another, in the decimals in which they are told: 32.99 − 19.99 is 13."""
    return float(_told(dearer) - _told(cheaper))


def _told(price: float) -> Decimal:
    """A price with the decimals of its shortest writing: no currency's digits need to be known."""
    return Decimal(repr(float(price)))


def _latest(prices: Iterable[Price]) -> dict[str, dict[str, Price]]:
    """{fan: {currency: its latest price, of several on that date the lowest}}."""
    found: dict[str, dict[str, Price]] = defaultdict(dict)
    for each in prices:
        own, currency = found[each.fan], each.currency or ""
        there = own.get(currency)
        if there is None or (each.date or "", -each.price) > (there.date or "", -there.price):
            own[currency] = each
    return found


def _currency(latest: dict[str, dict[str, Price]], ranked: Sequence[Standing]) -> str | None:
    """The currency in which most of the ranked fans have a price; None where none has any."""
    counted = Counter(name for each in ranked for name in latest.get(each.fan, {}))
    return min(counted, key=lambda name: (-counted[name], name)) if counted else None


Pairs = dict[tuple[str, str], PairStanding]


def _is_ahead(a: str, b: str, pairs: Pairs) -> bool:
    """Whether one fan is ahead of another, whichever stands higher in the list."""
    if (a, b) in pairs:
        return pairs[a, b].verdict is Verdict.AHEAD
    return (b, a) in pairs and pairs[b, a].verdict is Verdict.BEHIND


def _placed(own: PricedFan, found: dict[str, PricedFan], pairs: Pairs) -> PricedFan:
    """A fan with who beats it; of several the first of the list."""
    beating = (
        each.fan for each in found.values() if each.price <= own.price and _is_ahead(each.fan, own.fan, pairs)
    )
    return PricedFan(own.fan, own.price, own.date, own.region, own.shop, next(beating, ""))


def _stairs(front: Sequence[PricedFan], known: dict[str, Standing], merit: Merit) -> list[PricedFan]:
    """The fans of the front that are better than all cheaper ones, cheapest first."""
    sign = -1.0 if merit is Merit.MORE else 1.0
    stairs: list[PricedFan] = []
    for each in front:
        if not stairs or sign * known[each.fan].value < sign * known[stairs[-1].fan].value:
            stairs.append(each)
    return stairs


def _step(
    cheaper: PricedFan, dearer: PricedFan, pairs: Pairs, ranking: Ranking, known: dict[str, Standing]
) -> PriceStep:
    """The dearer one stands higher in the list, since its value is better: the pair is told from its side."""
    pair = pairs[dearer.fan, cheaper.fan]
    low, high = (pair.low, pair.high) if pair.difference >= 0.0 else (-pair.high, -pair.low)
    values = known[dearer.fan].value, known[cheaper.fan].value
    return PriceStep(
        cheaper.fan,
        dearer.fan,
        _apart(dearer.price, cheaper.price),
        abs(pair.difference),
        low,
        high,
        pair.verdict,
        pair.further,
        _margin(ranking, *values),
    )


def _margin(ranking: Ranking, first: float, second: float) -> float:
    """The practical margin of two values, in the unit of the ranking."""
    if ranking.margin.kind is MarginKind.ABSOLUTE:
        return ranking.margin.size
    return ranking.margin.size * (abs(first) + abs(second)) / 2.0


def _noticed(
    front: Sequence[PricedFan],
    steps: Sequence[PriceStep],
    pairs: Pairs,
    ranking: Ranking,
    known: dict[str, Standing],
) -> PriceStep | None:
    """From the cheapest of the front to the cheapest that is ahead of it, unless a step goes there already."""
    if not front or any(each.cheaper == front[0].fan and each.is_noticed for each in steps):
        return None
    base = front[0]
    for each in front[1:]:
        if _is_ahead(each.fan, base.fan, pairs) and (each.fan, base.fan) in pairs:
            return _step(base, each, pairs, ranking, known)
    return None
