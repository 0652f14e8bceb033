"""The spreads between mountings and samples with which a page's intervals are made, for each kind of question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import scipy

from stillroom.core.spread import PooledSpread, Spreads, variance_factor
from stillroom.lab.cases import brought_over
from stillroom.lab.field import Field
from stillroom.lab.question import spread_name
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.limited_field import limited
from stillroom.lab.spreads import spreads_of
from stillroom.lab.valuing import mounting_values

TRIALS = 2000


@dataclass(frozen=True)
class SpreadKind:
    """Spreads of one kind of question.

    Parameters
    ----------
    spreads : between mountings and between samples, relative to the value [1].
    mounting_factor, sample_factor : by how much their variances are greater over the trials, for few degrees of
    freedom [1]. mounting_t, sample_t : half-width of a 95 % interval in such standard deviations [1].
    """

    spreads: Spreads
    mounting_factor: float
    mounting_t: float
    sample_factor: float
    sample_t: float


def spread_kind(sounds: Sounds, field: Field, blocked: Mapping[str, str]) -> SpreadKind:
    """The spreads that a ranking of a field would use: those agreed, else those of its mountings.

    Parameters
    ----------
    field : all fans, of whatever size, under a question of the kind; a noise limit's is found here.
    """
    lab, book, graph = sounds.lab, sounds.book, sounds.graph
    name = spread_name(field.question.measure, field.question.condition)
    values = {}
    bridging = brought_over(lab, book, graph, Field(field.question, {}, (), None), {}, blocked)
    if name not in book.spreads:
        field = limited(sounds, field)
        nodes = [each for group in field.nodes.values() for each in group]
        values = mounting_values(lab, field.question, nodes)
        bridging = brought_over(lab, book, graph, field, values, blocked)
    spreads = spreads_of(
        book, field if values else Field(field.question, {}, (), None), values, blocked, bridging
    )
    mounting, mounting_t = _factors(spreads.mounting, f"{name}/mounting")
    sample, sample_t = _factors(spreads.sample, f"{name}/sample")
    return SpreadKind(spreads, mounting, mounting_t, sample, sample_t)


def _factors(spread: PooledSpread, identity: str) -> tuple[float, float]:
    factor = float(variance_factor(spread.dof, TRIALS, identity=identity).mean())
    return factor, float(scipy.special.stdtrit(spread.dof, 0.975))
