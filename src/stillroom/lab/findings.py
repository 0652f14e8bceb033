"""What a person should look at: facts gathered, rules asked, findings kept per fan by key.

Findings never change data. What was decided of one stands as long as the data that it judged.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

from stillroom.lab.book import Book, place_all
from stillroom.lab.facts import CHECK, check_key, fan_facts, instrument_facts
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.quality import VERSION, Finding, check_fan, check_instruments
from stillroom.records.acts import Decision
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


def findings(lab: Lab, book: Book, graph: Graph) -> list[Finding]:
    """All findings of a lab that is reduced, ordered by consequence; what is known already is not redone.

    Ordered: what blocks before what marks, then what more fans hang on, then by mountings, rule and subject.
    """
    fans = {each.fan for each in graph.mountings()} | set(book.fans)
    found = check_instruments(instrument_facts(book, graph)) + _of_fans(lab, book, graph, fans)
    return sorted(found, key=_consequence)


def findings_of(lab: Lab, book: Book, graph: Graph, fans: Collection[str]) -> list[Finding]:
    """The findings of some fans only, right after their files came in; ordered as those of the whole lab.

    Parameters
    ----------
    fans : their names; a fan whose curves are not worked out yet has no findings.
    """
    used = [each for each in check_instruments(instrument_facts(book, graph)) if set(each.fans) & set(fans)]
    return sorted(used + _of_fans(lab, book, graph, fans), key=_consequence)


def _of_fans(lab: Lab, book: Book, graph: Graph, fans: Collection[str]) -> list[Finding]:
    found: list[Finding] = []
    made: list[Result] = []
    for fan in sorted(fans):
        nodes = graph.mountings(fan)
        if not nodes and fan not in book.fans:
            continue
        key = check_key(book, fan, nodes)
        kept = results.get(lab.database, key)
        if kept is None and _reduced(lab, nodes):
            facts = fan_facts(lab, book, fan, nodes)
            body = {"findings": [each.as_dict() for each in check_fan(facts)]}
            kept = Result(key, CHECK, fan, {"curves": [each.key for each in nodes]},
                          f"findings {VERSION}", False, body)  # fmt: skip
            made.append(kept)
        if kept is not None:
            found += [Finding.from_dict(each) for each in kept.body["findings"]]
    if made:
        lab.put_results(made)
    return found


def _consequence(finding: Finding) -> tuple[bool, int, int, int, str, str]:
    return (not finding.blocks, -len(finding.fans), -len(finding.mountings), finding.rule, finding.subject,
            finding.found)  # fmt: skip


def _reduced(lab: Lab, nodes: Sequence[CurveNode]) -> bool:
    """Whether every curve of a fan has been worked out."""
    wanted = {each.key for each in nodes}
    return results.known(lab.database, lab.path, wanted) == wanted


def undecided(found: Iterable[Finding], decisions: Mapping[str, Decision]) -> list[Finding]:
    """The findings that nobody has decided. An id holds the key that was judged: when it moves, it is new."""
    return [each for each in found if each.id not in {one.finding for one in decisions.values()}]


def open_blocks(found: Iterable[Finding], decisions: Mapping[str, Decision]) -> dict[str, str]:
    """{mounting: rule in words} of what blocks and has been neither accepted nor excluded.

    A finding whose decision is "repeat" goes on blocking: the numbers are still those that were doubted.
    """
    settled = {each.finding for each in decisions.values() if each.action in {"accept", "exclude"}}
    blocked: dict[str, str] = {}
    for each in found:
        if each.blocks and each.id not in settled:
            for mounting in each.mountings:
                blocked.setdefault(mounting, f"{each.title} (rule {each.rule})")
    return blocked


def exclusions_by_maker(book: Book) -> dict[str, int]:
    """How many exclusions each maker's fans have, {maker: count}; makers without any are counted as 0."""
    fans: dict[str, str] = {}
    for placed in place_all(book):
        fans |= {f"mounting:{placed.mounting}": placed.fan, f"run:{placed.run}": placed.fan}
    counted = Counter({each.maker: 0 for each in book.fans.values() if each.maker})
    for decision in book.decisions.values():
        if decision.action == "exclude":
            record = book.fans.get(fans.get(decision.subject, ""))
            counted[(record.maker if record else None) or "maker not told"] += 1
    return dict(sorted(counted.items()))
