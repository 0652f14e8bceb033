"""Fans in order under one condition, from the lab's records: who takes part, who can't, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from stillroom.compare.prices import price_list
from stillroom.compare.ranking import rank
from stillroom.compare.standing import Ranking
from stillroom.lab import legacy
from stillroom.lab.book import Book
from stillroom.lab.cases import brought_over, conditions_of, density_words, fan_cases, margin_of
from stillroom.lab.control.ranking import rank_control
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import Asked, field_of
from stillroom.lab.heat.ranking import fans_on_rig, is_by_heat, rank_heat
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.limited_field import limited
from stillroom.lab.sound.ranking import rank_sound
from stillroom.lab.spreads import agree_on_spread
from stillroom.lab.valuing import mounting_values
from stillroom.measures import Origin
from stillroom.store.lab import Lab
from stillroom.vocabulary import BY_NAME


def rank_fans(
    lab: Lab,
    book: Book,
    graph: Graph,
    asked: Asked,
    *,
    blocked: Mapping[str, str] | None = None,
    progress: Progress = silent,
    workers: int = 0,
) -> Ranking:
    """Put the fans in order, keep what was worked out, and agree on the spread where none was agreed.

    Prices that the lab knows stand beside it.

    Parameters
    ----------
    blocked : {mounting: rule} of open findings that block; their fans are marked and lend no spread.
    """
    found = _ranked(lab, book, graph, asked, blocked=blocked, progress=progress, workers=workers)
    each = fans_on_rig(graph, asked) or asked.condition.system.fans
    prices = price_list(found, book.prices.values(), asked.measure.merit, fans_each=each)
    return replace(found, prices=prices)


def _ranked(
    lab: Lab,
    book: Book,
    graph: Graph,
    asked: Asked,
    *,
    blocked: Mapping[str, str] | None,
    progress: Progress,
    workers: int,
) -> Ranking:
    if is_by_heat(asked):
        return rank_heat(lab, book, graph, asked, blocked=blocked or {})
    if asked.measure.origin is Origin.CONTROL:
        return rank_control(lab, book, graph, asked, blocked=blocked or {})
    if asked.measure.origin in (Origin.SOUND, Origin.LIMIT):
        return rank_sound(lab, book, graph, asked, blocked=blocked or {}, progress=progress, workers=workers)
    field = field_of(book, graph, asked)
    if asked.condition.is_limited:
        sounds = Sounds(lab, book, graph)
        book = book if asked.only else sounds.agree_on_spread(blocked or {})
        field = limited(sounds, field)
    nodes = [each for group in field.nodes.values() for each in group]
    values = mounting_values(lab, field.question, nodes, progress=progress, workers=workers)
    bridging = brought_over(lab, book, graph, field, values, blocked or {})
    if not asked.only:
        before, book = book, agree_on_spread(lab, book, field, values, blocked or {}, bridging)
        if book is not before:  # bridges lean on the spread too
            bridging = brought_over(lab, book, graph, field, values, blocked or {})
    cases, failed = fan_cases(lab, book, field, values, blocked or {}, bridging)
    numbers = {each.fan for each in field.legacy}
    told = [legacy.kept(each) for each in book.legacy.values() if each.fan in numbers]
    lab.put_results([*bridging.made, *told, *(each.kept for each in cases)])
    return rank(
        [each.candidate for each in cases],
        measure=asked.measure.name,
        definition=asked.measure.definition.replace("1.2 kg/m³", density_words(asked.condition.system)),
        version=str(asked.measure.version),
        unit=BY_NAME[asked.measure.quantity].unit,
        conditions=conditions_of(book, asked, field) | bridging.conditions,
        margin=margin_of(book, asked.measure),
        merit=asked.measure.merit,
        excluded=(*field.excluded, *failed),
        legacy=field.legacy,
        bridges=bridging.notes,
    )
