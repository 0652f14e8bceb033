"""Which of a fan's numbers somebody disputes, and the mark that stands beside them."""

from __future__ import annotations

from dataclasses import replace

from stillroom.compare.standing import Ranking
from stillroom.errors import StillroomError
from stillroom.lab.book import Book, fans_known
from stillroom.lab.field import written_among
from stillroom.lab.measure_words import asked_from, measure_alone, words_of
from stillroom.records.publishing import Dispute

MARK = "under dispute since"


def disputed(book: Book, fan: str, measure: str = "") -> str:
    """The mark that stands beside a fan's number: "under dispute since 2026-11-20"; "" where nobody disputes it.

    Parameters
    ----------
    fan : its name. measure : the published measure in words ("airflow through rad27 at 35 dBA"); "" for a place that
    speaks of the fan as a whole, where any dispute counts.
    """
    days = [each.since for each in standing_disputes(book, fan, measure)]
    return f"{MARK} {min(days)}" if days else ""


def standing_disputes(book: Book, fan: str = "", measure: str = "") -> list[Dispute]:
    """The disputes that aren't settled, oldest first; of one fan, and about one measure, where these are named.

    A dispute without a measure is about all of the fan's numbers; one that names a measure without a condition
    ("airflow") about all numbers of that measure.
    """
    return [
        each
        for each in disputes_of(book, fan)
        if not each.settled and (not measure or _is_about(each.measure or "", measure))
    ]


def disputes_of(book: Book, fan: str = "") -> list[Dispute]:
    """All disputes, settled or not, oldest first; of one fan where it is named, whatever the case of either name."""
    known = {*book.fans, *fans_known(book).values(), *(each.fan for each in book.legacy.values())}
    whom = written_among(known, fan)
    found = [each for each in book.disputes.values() if not fan or written_among(known, each.fan) == whom]
    return sorted(found, key=lambda each: (each.since, each.name))


def _is_about(told: str, measure: str) -> bool:
    plain = " ".join(told.split())
    if not plain:
        return True
    try:
        asked, alone = asked_from(measure), measure_alone(plain)
        return alone.name == asked.measure.name if alone else words_of(asked_from(plain)) == words_of(asked)
    except StillroomError:
        return plain.casefold() == measure.casefold()


def marked(book: Book, ranking: Ranking, measure: str) -> Ranking:
    """A ranking whose disputed numbers carry the mark.

    Parameters
    ----------
    measure : what it compares, in words ("airflow through rad27 at 35 dBA").
    """
    marks = {each.fan: disputed(book, each.fan, measure) for each in ranking.standings}
    return replace(
        ranking,
        standings=tuple(
            replace(each, marks=(*each.marks, marks[each.fan])) if marks[each.fan] else each
            for each in ranking.standings
        ),
    )
