"""What must be said beside the numbers of a published measure: when it was registered, who is left out, what marks
they carry, what prices say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from stillroom import wording
from stillroom.compare.candidates import How
from stillroom.compare.priced import PriceList, PriceStep
from stillroom.core.multiple import Verdict
from stillroom.lab.field import Asked, rests_on
from stillroom.lab.ranking_words import MOST, NEEDED, dated_words, gap_unit, step_words
from stillroom.lab.registering import NOT_REGISTERED, Registered
from stillroom.lab.through import through_of
from stillroom.lab.whole import Whole
from stillroom.publish.account.ranked import Told
from stillroom.publish.account.sentences import Kind, Sentence
from stillroom.quality import Finding
from stillroom.records.acts import Decision


def registered_sentence(told: Told, registered: Registered | None) -> Sentence:
    """When the measure was registered, and what had been seen by then."""
    if registered is None:
        return told.sentence(Kind.REGISTERED, (), f"{told.title} was {NOT_REGISTERED}")
    more = f"; {words}" if (words := registered.margin_words) else ""
    fans = (*registered.late, *registered.earlier)
    return told.sentence(Kind.REGISTERED, fans, f"{told.title} was {registered.words}{more}")


# --- prices ----------------------------------------------------------------------------------------------------


def price_sentences(told: Told) -> Iterator[Sentence]:
    """The cheapest of the best, what each step of price buys, and whether anyone would notice."""
    prices = told.ranking.prices
    if prices is None:
        return
    yield told.sentence(Kind.PRICE, [prices.best] if prices.best else [], dated_words(prices))
    for step in prices.steps[:MOST]:
        yield _step(told, step, prices)
    if prices.noticed is not None:
        yield _step(told, prices.noticed, prices)


def _step(told: Told, step: PriceStep, prices: PriceList) -> Sentence:
    """One step of price; where the list doesn't say that the dearer fan is ahead, the step doesn't either."""
    if step.is_noticed and told.verdict(step.dearer, step.cheaper) is not Verdict.AHEAD:
        step = replace(step, verdict=Verdict.NOT_RESOLVED)
    text = step_words(step, prices, gap_unit(told.ranking.unit))
    return told.sentence(Kind.PRICE, [step.cheaper, step.dearer], text)


# --- who is left out, and what stands beside numbers -------------------------------------------------------------


def left_out_sentences(told: Told) -> Iterator[Sentence]:
    """Why fans are not ranked, those with one reason together."""
    by_reason: dict[str, list[str]] = {}
    for each in told.ranking.excluded:
        by_reason.setdefault(each.why, []).append(each.fan)
    for why, fans in by_reason.items():
        reason, _, needed = why.partition(NEEDED)
        more = f"; needed: {needed}" if needed else ""
        yield told.sentence(Kind.LEFT_OUT, fans, f"Not ranked, {wording.listed(fans)}: {reason}{more}")


def mark_sentences(told: Told, disputed: Mapping[str, str]) -> Iterator[Sentence]:
    """What a reader must know of each number: one sample only, modelled, its marks; fans with one mark together.

    Parameters
    ----------
    disputed : {fan: the mark of a dispute} of this measure.
    """
    singles = [each.fan for each in told.ranked if each.samples == 1]
    if singles:
        yield told.sentence(
            Kind.MARK, singles,
            f"One sample only, so that another unit may do otherwise: {wording.listed(singles)}",
        )  # fmt: skip
    modelled = [each.fan for each in told.ranked if each.how is How.MODELLED]
    if modelled:
        text = f"Modelled from measurements, not measured as it stands: {wording.listed(modelled)}"
        yield told.sentence(Kind.MARK, modelled, text)
    by_mark: dict[str, list[str]] = {}
    for each in told.ranked:
        for mark in dict.fromkeys(each.marks):
            if mark != disputed.get(each.fan):
                by_mark.setdefault(mark, []).append(each.fan)
    for mark, fans in by_mark.items():
        yield told.sentence(Kind.MARK, fans, f"Marked “{mark}”: {wording.listed(fans)}")
    for fan, mark in disputed.items():
        yield told.sentence(Kind.DISPUTE, [fan], f"The number of {wording.isolate(fan)} is {mark}")


def finding_sentences(
    told: Told, blocking: Mapping[str, Sequence[Finding]], accepted: Mapping[str, Sequence[Finding]]
) -> Iterator[Sentence]:
    """Fans whose numbers an open finding holds back, and those that stand here though a person accepted one.

    Parameters
    ----------
    blocking, accepted : {fan: findings about what its number rests on}.
    """
    for fan, found in blocking.items():
        if found:
            what = wording.plural(len(found), "open finding")
            text = f"Of {wording.isolate(fan)}, {what} would stop the publication: {_rules(found)}"
            yield told.sentence(Kind.OPEN, [fan], text)
    for fan, found in accepted.items():
        what = "an accepted finding" if len(found) == 1 else "accepted findings"
        text = f"The number of {wording.isolate(fan)} stands with {what} of {_rules(found)}"
        yield told.sentence(Kind.MARK, [fan], text)


def _rules(found: Sequence[Finding]) -> str:
    return wording.listed(
        [f"rule {rule} ({title})" for rule, title in {each.rule: each.title for each in found}.items()]
    )


def accepted_by_fan(
    whole: Whole, asked: Asked, fans: Sequence[str], accepted: Iterable[Decision]
) -> dict[str, list[Finding]]:
    """{fan: blocking findings about what its number rests on, that a person accepted}."""
    ids = {each.finding for each in accepted}
    settled = [each for each in whole.found if each.blocks and each.id in ids]
    pieces = {each.subject for each in through_of(whole.book, whole.graph, asked.condition.obstacle).nodes}
    found: dict[str, list[Finding]] = {}
    for fan in fans if settled else ():
        own = {node.blocked_as for purpose in rests_on(asked) for node in whole.graph.nodes(purpose, fan)}
        found[fan] = [each for each in settled if each.through in pieces or own & set(each.mountings)]
    return {fan: each for fan, each in found.items() if each}
