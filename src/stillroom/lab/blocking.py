"""What blocks: findings that nobody has decided, and the mountings whose numbers they hold back."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

from stillroom.lab.book import Book
from stillroom.lab.purposes import Purpose
from stillroom.lab.recipes import Graph
from stillroom.lab.through import through_of
from stillroom.quality import Finding
from stillroom.records.acts import Decision


def undecided(found: Iterable[Finding], decisions: Mapping[str, Decision]) -> list[Finding]:
    """The findings that nobody has decided. An id holds the key that was judged: when it moves, it is new."""
    return [each for each in found if each.id not in {one.finding for one in decisions.values()}]


def unsettled(found: Iterable[Finding], decisions: Mapping[str, Decision]) -> list[Finding]:
    """The findings that block and have been neither accepted nor excluded; one to be repeated goes on blocking."""
    settled = {each.finding for each in decisions.values() if each.action in {"accept", "exclude"}}
    return [each for each in found if each.blocks and each.id not in settled]


def open_blocks(
    found: Iterable[Finding],
    decisions: Mapping[str, Decision],
    through: Collection[str] = (),
    mountings: Collection[str] = (),
) -> dict[str, str]:
    """{mounting: rule in words} of what blocks and has been neither accepted nor excluded.

    A finding whose decision is "repeat" goes on blocking: the numbers are still those that were doubted.

    Parameters
    ----------
    through : obstacles that a comparison goes through; what is found of others blocks nothing in it.
    mountings : that take part in it; what blocks an obstacle blocks them all.
    """
    blocked: dict[str, str] = {}
    for each in unsettled(found, decisions):
        if each.through and each.through not in through:
            continue
        for mounting in each.mountings or (mountings if each.through else ()):
            blocked.setdefault(mounting, f"{each.title} (rule {each.rule})")
    return blocked


def open_blocks_of(
    found: Iterable[Finding],
    book: Book,
    graph: Graph,
    through: str,
    fans: Iterable[str],
    *,
    rests_on: Collection[Purpose],
) -> dict[str, list[Finding]]:
    """The open findings that block each fan's numbers in a comparison through obstacles; fans without any are left out.

    Parameters
    ----------
    through : as told in a question. fans : who takes part. rests_on : what the numbers rest on.
    """
    mountings = {
        fan: {each.blocked_as for purpose in rests_on for each in graph.nodes(purpose, fan)} for fan in fans
    }
    blocking: dict[str, list[Finding]] = {}
    for each in found:
        blocked = blocked_in([each], book, graph, through).keys() if each.blocks else ()
        for fan, own in mountings.items():
            if not own.isdisjoint(blocked):
                blocking.setdefault(fan, []).append(each)
    return blocking


def blocked_in(found: Iterable[Finding], book: Book, graph: Graph, through: str) -> dict[str, str]:
    """{mounting: rule in words} of what blocks a comparison through obstacles, told as in a question."""
    pieces = [each.subject for each in through_of(book, graph, through).nodes]
    every = [each.subject for each in graph.mountings()]
    return open_blocks(found, book.decisions, pieces, every)
