"""Uncertainty: the budget of each published measure, and the agreed spreads between mountings and samples."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from stillroom import wording
from stillroom.core.multiple import PROBABILITY
from stillroom.lab.ranking_words import gap_unit
from stillroom.lab.source_words import source_in_words
from stillroom.measures import measure_named
from stillroom.publish.contents import Published
from stillroom.publish.document import Block, Grid, Heading, Paragraph
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.words import percent, share_words, two_digits
from stillroom.records.acts import Spread
from stillroom.store.results import Result
from stillroom.vocabulary import unit

TITLE = "Uncertainty"

LEADERS = 3
"""Of so many fans, the leader first, the budget of each measure is written."""

LEAST_SHARE = 0.01
"""Sources of a smaller share of every leader's variance are summed up [1]."""


def uncertainty(facts: Facts) -> Iterator[Block]:
    """How intervals are made, spreads, and the budget of each published measure."""
    trials = wording.number(facts.contents.settings.trials)
    yield Heading(1, TITLE)
    yield Paragraph(
        f"Each number carries {trials} draws of every source of error. An interval is the middle"
        f" {percent(PROBABILITY)} of the values that the draws give. The shares below are parts of the variance (the"
        " squared standard uncertainty) of a fan’s own number. What fans share falls away when two are compared, so a"
        " difference can be known better than either number. They are of the linear budget (JCGM 100). The interval is"
        " that of the draws and can be wider than twice its standard uncertainty: a spread that rests on few degrees of"
        " freedom widens it, and near a resonance or a fan’s full speed it reaches over to the other side, which no"
        " linear share shows."
    )
    yield Heading(2, "Spread between mountings and between samples")
    yield from _spreads(facts)
    yield Heading(2, "Budgets")
    budgets = [each for one in facts.contents.published for each in _budget(facts, one)]
    yield from budgets
    if not budgets:
        yield Paragraph(
            "No budget could be written: the numbers that are published have no readings behind them."
        )


def _spreads(facts: Facts) -> Iterator[Block]:
    yield Paragraph(
        "How much the same sample reads otherwise when it is mounted again, and how much samples of one fan differ, is"
        " pooled over all fans and agreed once, with a date: numbers that were published don’t move with whoever is in"
        " the laboratory today. Before there are data, a usual spread is assumed, worth four degrees of freedom."
    )
    spreads = facts.book.spreads.values()
    if spreads:
        yield Grid(
            ("Measure", "Between mountings", "Between samples", "Fans", "Agreed"),
            tuple(_spread(each) for each in spreads),
            right=(1, 2, 3),
            caption="Agreed spreads, as standard deviations, with their degrees of freedom",
        )
    else:
        yield Paragraph("None is agreed yet: the assumed ones stand.")


def _spread(each: Spread) -> tuple[str, ...]:
    symbol = measure_named(each.measure.partition(",")[0]).spread_unit
    told = ((each.mounting, each.mounting_dof), (each.sample, each.sample_dof))
    sizes = (two_digits(value if symbol else 100.0 * value, symbol or "%") for value, _ in told)
    cells = (f"{size} ({wording.number(dof)})" for size, (_, dof) in zip(sizes, told, strict=True))
    return each.measure, *cells, wording.number(each.fans), each.date


OWN = {
    "sample": "samples standing for all of their kind",
    "mounting": "how samples were mounted",
    "limit": "the fan’s own sound: mountings, samples and readings",
    "day": "the day in the quiet room",
    "calibration": "the readings of the calibrator",
    "readings": "the scatter of the readings",
}
"""Sources of which each fan, sample or day has its own, by the first word of their identity: summed up in a budget."""


def _budget(facts: Facts, published: Published) -> Iterator[Block]:
    """The sources of a measure's leading fans, as shares of the variance."""
    ranked = [each for each in published.ranking.standings if each.rank][:LEADERS]
    kept = {
        each.fan: found for each in ranked if (found := facts.published(each.key)) and found.kind == "value"
    }
    if not kept:
        return
    shares = {fan: by_source(each.body["contributions"]) for fan, each in kept.items()}
    greatest = {
        name: max(each.get(name, 0.0) for each in shares.values())
        for each in shares.values()
        for name in each
    }
    large = sorted(
        (name for name in greatest if greatest[name] >= LEAST_SHARE), key=lambda name: -greatest[name]
    )
    rows = [(name, *(share_words(each.get(name, 0.0)) for each in shares.values())) for name in large]
    rest = (max(0.0, 1.0 - sum(each.get(name, 0.0) for name in large)) for each in shares.values())
    rows.append(("all else", *map(share_words, rest)))
    yield Grid(
        ("Source", *kept),
        (
            ("standard uncertainty", *(_standard(each, published.ranking.unit) for each in kept.values())),
            *rows,
        ),
        right=tuple(range(1, len(kept) + 1)),
        caption=published.title,
    )


def by_source(contributions: Mapping[str, float]) -> dict[str, float]:
    """Shares by source in words; what each fan or day has of its own is summed up."""
    found: dict[str, float] = {}
    for identity, share in contributions.items():
        name = OWN.get(identity.partition("/")[0]) or source_in_words(identity)
        found[name] = found.get(name, 0.0) + share
    return found


def _standard(result: Result, symbol: str) -> str:
    """The standard uncertainty of a value, in the unit that is shown."""
    return two_digits(float(result.body["standard_uncertainty"]) / unit(symbol).factor, gap_unit(symbol))
