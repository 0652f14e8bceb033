"""The bars of a published ranking, as many as a page holds, chosen by the rule."""

from __future__ import annotations

from dataclasses import replace

from stillroom.charts.series import Bar, RankedBars
from stillroom.lab.pictures import pictures
from stillroom.publish.contents import Contents, Published
from stillroom.publish.pack.choosing import chosen


def bars(contents: Contents, one: Published, most: int) -> tuple[RankedBars, str]:
    """A ranking as bars, at most so many, and what stands on the page about the choice; "" where all are shown.

    The title tells the whole ranking's finding, whatever the page has room for. Fans that can't run so quiet stand at
    the foot while there is room.
    """
    found, fan = one.ranking, contents.highlight
    choice = chosen([each.fan for each in found.standings], found.best, fan, most)
    few = replace(found, standings=tuple(each for each in found.standings if each.fan in choice.names))
    obstacle = one.asked.condition.obstacle or str(found.conditions["obstacle"] or "")
    through = pictures.described(contents.book, obstacle)
    is_ranked = fan in choice.names
    picture, _ = pictures.bars(contents.settings, few, one.measure, fan if is_ranked else "", most, through)
    note = choice.words
    return replace(
        picture,
        title=pictures.ranking_words(found, one.measure).rstrip("."),
        bars=tuple(_reviewed(each, fan) for each in picture.bars),
        notes=(*([note] if note else []), *picture.notes, *_registered(one)),
        alt=f"{picture.alt} {note}".strip(),
    ), note


def _reviewed(bar: Bar, fan: str) -> Bar:
    """A bar with the accent where it is the fan under review, ranked or not."""
    return replace(bar, accent=True) if fan and bar.label == fan else bar


def _registered(one: Published) -> list[str]:
    """That a round named the measure, and when."""
    return [f"{one.registered.words[0].upper()}{one.registered.words[1:]}."] if one.registered else []
