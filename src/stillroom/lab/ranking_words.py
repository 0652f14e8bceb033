"""What stands under a ranking in words: what settles it, what a decibel is worth, what the next price step buys."""

from __future__ import annotations

import math
from collections.abc import Sequence

from stillroom import wording
from stillroom.compare.candidates import Excluded, How, Margin, MarginKind, StandingVerdict
from stillroom.compare.priced import PriceList, PriceStep
from stillroom.compare.standing import PairStanding, Ranking, Standing
from stillroom.compare.worth import Worth
from stillroom.core.multiple import Merit, Verdict
from stillroom.core.settling import Further, Settling

MOST = 4
"""So many fans or steps stand in words; the data hold all."""

NEEDED = "; expected "
"""Between why a fan has no value and what it would need, as errors say it."""

OLD_BETTER = "better by a legacy number, which can’t be followed to readings"

SAVED = {"rpm", "W", "mW", "A", "mA", "V", "%"}
"""Units of what is spent, "saves 10 rpm"; of the others there is less, "buys 0.8 K less"."""


def without_lines(gone: Sequence[Excluded]) -> list[str]:
    """Why some fans are not ranked: those with one reason together, and what several of them need said once."""
    reasons: dict[str, dict[str, list[str]]] = {}
    for each in gone:
        found, _, needed = each.why.partition(NEEDED)
        reasons.setdefault(needed, {}).setdefault(found, []).append(each.fan)
    lines = []
    for needed, whys in reasons.items():
        lines += [f"Not ranked: {wording.listed(fans)}: {found}" for found, fans in whys.items()]
        if needed:
            lines[-1] += f". Needed: {needed}"
    return lines


def rank_lines(found: Ranking) -> list[str]:
    """Why a fan that is behind may have the rank of the leader: ranks hold for all fans at once."""
    leader = _leader(found)
    wide = [
        each
        for each in found.standings
        if leader and each.verdict is StandingVerdict.BEHIND and each.rank and leader.rank
        and each.rank[0] <= leader.rank[0]
    ]  # fmt: skip
    if leader is None or not wide:
        return []
    whom = wording.listed([each.fan for each in wide], most=MOST)
    is_are = "is" if len(wide) == 1 else "are"
    return [
        f"Ranks hold for all fans at once, so they are wider than the verdicts: {whom} {is_are} behind"
        f" {wording.isolate(leader.fan)} all the same."
    ]


def range_lines(found: Ranking) -> list[str]:
    """What the interval beside a range says."""
    if not any(each.ends for each in found.standings):
        return []
    return [
        "A range shows both its ends; its 95 % interval runs from the least of the lower end to the most of the"
        " upper, for the model of fan."
    ]


def further_lines(found: Ranking) -> list[str]:
    """What would settle the fans that are not resolved against the leader, each by name, those alike together."""
    leader = _leader(found)
    if leader is None:
        return []
    pairs = {frozenset((each.a, each.b)): each for each in found.pairs}
    told: dict[str, list[str]] = {}
    for each in found.standings:
        if each.verdict is StandingVerdict.NOT_RESOLVED:
            pair = pairs.get(frozenset((leader.fan, each.fan)))
            why = (
                OLD_BETTER if each.how is How.LEGACY and pair and _is_settled(pair) else _settling_words(pair)
            )
            told.setdefault(why, []).append(each.fan)
    if not told:
        return []
    heard = found.conditions.get("nominal power") and found.conditions.get("noise rule")
    both = (
        " Each counts both run on the rig and heard."
        if heard and any("further" in each for each in told)
        else ""
    )
    said = "; ".join(f"{wording.listed(fans)}: {why}" for why, fans in told.items())
    return [f"Not resolved against {wording.isolate(leader.fan)}: {said}.{both}"]


def _leader(found: Ranking) -> Standing | None:
    return next((each for each in found.standings if each.verdict is StandingVerdict.LEADER), None)


def _is_settled(pair: PairStanding) -> bool:
    return pair.verdict is not Verdict.NOT_RESOLVED


def _settling_words(pair: PairStanding | None) -> str:
    """What would settle a fan against the leader, or why it is not settled though their pair is."""
    if pair is None:
        return "its number was told without an interval"
    if _is_settled(pair):
        return "behind in this pair alone, not among all fans at once"
    return further_words(pair.further) or "no more is known of what would settle it"


def further_words(further: Further) -> str:
    """What would settle a gap, in words; "" where it is settled."""
    settling, count = further.settling, further.count
    if settling is Settling.MORE_MOUNTINGS:
        return f"{wording.plural(count, 'further mounting')} of each would settle it"
    if settling is Settling.MORE_SAMPLES:
        return f"{wording.plural(count, 'further sample')} of each would settle it"
    words = {
        Settling.ON_THE_MARGIN: "the gap sits on the margin and would never settle",
        Settling.OUT_OF_REACH: "no number of mountings or samples would settle it",
    }
    return words.get(settling, "")


def worth_lines(found: Ranking) -> list[str]:
    """What a decibel is worth at the limit: of the fans that may be the best, or of all; and the margin by it."""
    worth = found.worth
    if worth is None or not worth.per_decibel:
        return []
    unit = gap_unit(found.unit)
    low, high = (f(worth.per_decibel.values()) for f in (min, max))
    usual = wording.with_unit(_two(worth.usual), unit)
    over = f" ({_two(low)} to {_two(high)} over the fans)" if _two(low) != _two(high) else ""
    line = f"At this limit 1 dB is worth {usual}{over}"
    if found.margin.kind is MarginKind.ABSOLUTE:
        margin = wording.with_unit(f"{found.margin.size:g}", unit)
        line += f": the margin of {margin} is {_decibels(worth, found.margin.size)}"
    if gap := _first_gap(found):
        line += f", and the gap between {gap[0]} and {gap[1]} is {_decibels(worth, gap[2])}"
    return [line + "."]


def _two(value: float) -> str:
    """A slope to two significant digits: more it never has."""
    return wording.number(value, 1 - int(f"{value:.1e}".split("e")[1]))


def _first_gap(found: Ranking) -> tuple[str, str, float] | None:
    """The leader and the first fan behind it, with their gap."""
    leader = _leader(found)
    behind = next((each for each in found.standings if each.verdict is StandingVerdict.BEHIND), None)
    if leader is None or behind is None:
        return None
    gap = abs(behind.value - leader.value)
    return wording.isolate(leader.fan), wording.isolate(behind.fan), gap


def _decibels(worth: Worth, gap: float) -> str:
    return wording.with_unit(wording.number(worth.in_decibels("", gap), 1), "dB")


def price_lines(found: Ranking) -> list[str]:
    """The cheapest of the best, what each step of price buys, and when prices were asked."""
    prices = found.prices
    if prices is None:
        return []
    unit = gap_unit(found.unit)
    lines = [dated_words(prices)]
    lines += [step_words(each, prices, unit) for each in prices.steps[:MOST]]
    if len(prices.steps) > MOST:
        lines.append(f"and {wording.plural(len(prices.steps) - MOST, 'step')} of price more in the data.")
    if prices.noticed is not None:
        lines.append(f"The first step that is sure: {step_words(prices.noticed, prices, unit)}")
    return lines


def dated_words(prices: PriceList) -> str:
    """When and where prices were asked, and which of the fans that may be the best is the cheapest."""
    first, last = prices.dates
    when = "" if not first else f" of {first}" if first == last else f" of {first} to {last}"
    undated = sum(not each.date for each in prices.fans)
    when += f" ({undated} without a date)" if undated else ""
    where = wording.listed(sorted({each.region for each in prices.fans if each.region}))
    currency = f" in {prices.currency}" if prices.currency else ", currency not told"
    several = f", {wording.count(prices.fans_each)} of each fan" if prices.fans_each > 1 else ""
    said = f"Prices{currency}{when}{f', {where}' if where else ''}{several}"
    if not prices.best:
        return f"{said}: none of the fans that may be the best has one."
    best = prices.price_of(prices.best)
    return f"{said}: cheapest of the fans that may be the best is {wording.isolate(best.fan)} at {money(best.price)}."


def money(price: float) -> str:
    """A price in print: two decimals."""
    return wording.number(price, 2)


def step_words(step: PriceStep, prices: PriceList, unit: str) -> str:
    """One step: "+12.00 EUR from Sedge to Bracken buys 0.4 K less, which you will not notice"."""
    extra = f"+{money(step.extra)}{f' {prices.currency}' if prices.currency else ''}"
    whom = f"from {wording.isolate(step.cheaper)} to {wording.isolate(step.dearer)}"
    told = math.isfinite(step.low) and math.isfinite(step.high)
    places = wording.places_for((step.high - step.low) / 2) if told and step.high > step.low else 1
    gain = _bought(_gain_words(step.gain, places, unit), prices.merit, unit)
    interval = f" ({wording.number(step.low, places)} to {wording.number(step.high, places)})" if told else ""
    if step.is_noticed:
        return f"{extra} {whom} {gain}{interval}."
    if step.verdict is Verdict.TIED:
        return f"{extra} {whom} {gain}, which you will not notice."
    small = "less than the margin and " if step.gain <= step.margin else ""
    more = f"; {words}" if (words := further_words(step.further)) else ""
    return f"{extra} {whom} {gain} as measured, {small}not resolved{interval}{more}."


def _bought(gain: str, merit: Merit, unit: str) -> str:
    """A gain with its direction: "buys 4 m³/h", "buys 0.8 K less", "saves 10 rpm"."""
    if merit is Merit.MORE:
        return f"buys {gain}"
    return f"saves {gain}" if unit in SAVED else f"buys {gain} less"


def _gain_words(gain: float, places: int, unit: str) -> str:
    """A gain to the place that its interval allows: "0.4 K"; "under 1 m³/h" where nothing is left of it there."""
    said = wording.number(gain, places)
    if any(each in "123456789" for each in said):
        return wording.with_unit(said, unit)
    return f"under {wording.with_unit(wording.number(10.0**-places, max(places, 0)), unit)}"


def gap_unit(unit: str) -> str:
    """The unit of a difference: that of levels is the decibel, whatever they are weighted by."""
    return "dB" if unit in ("dBA", "dBC", "dBZ") else unit


def margin_words(margin: Margin, unit: str) -> str:
    """A practical margin: "5 %", "1 dB", "0.4 K"."""
    return (
        f"{margin.size:g} {gap_unit(unit)}"
        if margin.kind is MarginKind.ABSOLUTE
        else f"{100.0 * margin.size:.3g} %"
    )
