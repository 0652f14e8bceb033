"""The spread between mountings and between samples: agreed once, dated, and used by all rankings after it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from stillroom.core.spread import (
    FIRST_YEAR_MOUNTING_HEAT,
    FIRST_YEAR_MOUNTING_LEVEL,
    FIRST_YEAR_MOUNTING_SD,
    FIRST_YEAR_SAMPLE_HEAT,
    FIRST_YEAR_SAMPLE_LEVEL,
    FIRST_YEAR_SAMPLE_SD,
    MountingValue,
    PooledSpread,
    Spreads,
    pooled_spreads,
)
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.book import Book
from stillroom.lab.eras.bridges import Bridging
from stillroom.lab.field import Field
from stillroom.measures import Measure
from stillroom.records.acts import Spread
from stillroom.records.fields import as_json
from stillroom.store.journal import Note
from stillroom.store.lab import Lab, now
from stillroom.store.results import Result


def spreads_of(
    book: Book,
    field: Field,
    values: Mapping[str, Result],
    blocked: Mapping[str, str],
    bridging: Bridging,
) -> Spreads:
    """The agreed spread of such values; where none is agreed, that of the mountings that nothing blocks."""
    own = (
        MountingValue(
            node.fan,
            node.sample,
            node.subject,
            float(values[node.subject].body["value"]) * bridging.carried.ratio(node.subject),
        )
        for node in _sound(_taking(field, bridging), values, blocked)
    )
    return pooled_of(book, field.question.spread_name, field.question.measure, own)


PRIORS = {
    "level": (FIRST_YEAR_SAMPLE_LEVEL, FIRST_YEAR_MOUNTING_LEVEL),
    "loudness": (0.05, 0.03),
    "sharpness": (0.02, 0.01),
    "heat": (FIRST_YEAR_SAMPLE_HEAT, FIRST_YEAR_MOUNTING_HEAT),
    "conductance": (0.017, 0.01),
    "heat-power": (0.03, 0.02),
}
"""Between samples and between mountings, assumed before the lab has its own: in dB for levels, in K for a
temperature rise, else relative [1]. That of a conductance follows from that of a rise of about 12 K, that of the
loudness from that of the level: a decibel is about 7 % of a loudness."""


def pooled_of(book: Book, name: str, measure: Measure, values: Iterable[MountingValue]) -> Spreads:
    """The spread agreed under a name, else that of some values of mountings; absolute where the measure's is."""
    agreed = book.spreads.get(name)
    if agreed is not None:
        return Spreads(
            PooledSpread.agreed(agreed.mounting, agreed.mounting_dof),
            PooledSpread.agreed(agreed.sample, agreed.sample_dof),
        )
    sample, mounting = PRIORS.get(measure.name, (FIRST_YEAR_SAMPLE_SD, FIRST_YEAR_MOUNTING_SD))
    return pooled_spreads(
        values, prior_sample_sd=sample, prior_mounting_sd=mounting, relative=not measure.absolute
    )


def agree_on(lab: Lab, book: Book, name: str, spreads: Spreads, fans: int) -> Book:
    """Agree on a spread, dated, where none is agreed and data speak for it; the book as it then is."""
    if name in book.spreads or spreads.mounting.data_dof <= 0:
        return book
    agreed = _spread(name, spreads, fans)
    lab.write([Note(Spread.kind, agreed.name, as_json(agreed))])
    return replace(book, spreads=lab.current(Spread))


def agree_on_spread(
    lab: Lab,
    book: Book,
    field: Field,
    values: Mapping[str, Result],
    blocked: Mapping[str, str],
    bridging: Bridging,
) -> Book:
    """Agree on the spread, dated, where none is agreed and nothing of the whole field is blocked.

    Returns
    -------
    The book as it stands then: all that leans on the spread is worked out from it, now and later.
    """
    agreed = spread_to_agree_on(book, field, values, blocked, bridging)
    if agreed is None:
        return book
    lab.write([Note(Spread.kind, agreed.name, as_json(agreed))])
    return replace(book, spreads=lab.current(Spread))


def spread_to_agree_on(
    book: Book,
    field: Field,
    values: Mapping[str, Result],
    blocked: Mapping[str, str],
    bridging: Bridging,
) -> Spread | None:
    """The spread that a ranking of the whole field would agree on; None where one is agreed, or none can be yet."""
    name = field.question.spread_name
    taking = _taking(field, bridging)
    if name in book.spreads or len(_sound(taking, values, blocked)) < len(taking):
        return None
    spreads = spreads_of(book, field, values, blocked, bridging)
    if spreads.mounting.data_dof <= 0:
        return None
    return _spread(name, spreads, len({each.fan for each in taking}))


def _taking(field: Field, bridging: Bridging) -> list[CurveNode]:
    nodes = (each for group in field.nodes.values() for each in group)
    return [each for each in nodes if each.subject not in bridging.unbridged]


def _sound(
    nodes: list[CurveNode], values: Mapping[str, Result], blocked: Mapping[str, str]
) -> list[CurveNode]:
    return [each for each in nodes if each.subject not in blocked and not values[each.subject].failed]


def _spread(name: str, spreads: Spreads, fans: int) -> Spread:
    return Spread(
        measure=name,
        date=now()[:10],
        mounting=spreads.mounting.sd,
        mounting_dof=spreads.mounting.dof,
        sample=spreads.sample.sd,
        sample_dof=spreads.sample.dof,
        fans=fans,
    )
