"""What decisions exclude, whether they still stand, and how much of each maker's data that is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from stillroom.lab.book import Book, place_all
from stillroom.lab.recipes import Graph
from stillroom.quality import Finding
from stillroom.records.acts import Decision


@dataclass(frozen=True)
class Exclusions:
    """How much of a maker's data is excluded: runs and mountings that decisions exclude, each counted once, and the
    runs that this leaves out of all its runs.
    """

    decisions: int
    runs: int
    of: int

    @property
    def share(self) -> float:
        """Share of the maker's runs that are excluded [1]."""
        return self.runs / self.of if self.of else 0.0


def has_lapsed(decision: Decision, found: Iterable[Finding], graph: Graph) -> bool:
    """Whether what a decision judged is no more as it was, so that it decides nothing now.

    Parameters
    ----------
    found : all findings of the lab as it stands.
    """
    if decision.action == "exclude":
        return (decision.subject, decision.key) not in graph.excluded
    return decision.finding not in {each.id for each in found}


def excluded_by_maker(book: Book, graph: Graph) -> dict[str, Exclusions]:
    """The exclusions of each maker's fans that stand, with their share of the maker's runs; makers without any are
    counted as 0.
    """
    placed = [each for each in place_all(book) if each.fan]
    maker = {each.fan: _maker(book, each.fan) for each in placed}
    fans = {f"mounting:{each.mounting}": each.fan for each in placed} | {
        f"run:{each.run}": each.fan for each in placed
    }
    known = dict.fromkeys((each.maker for each in book.fans.values() if each.maker), 0)
    counted, runs, gone = Counter(known), Counter(known), Counter(known)
    standing = [each for each in book.decisions.values()
                if each.action == "exclude" and not has_lapsed(each, (), graph)]  # fmt: skip
    subjects = {each.subject for each in standing}
    for subject in subjects:
        counted[maker.get(fans.get(subject, ""), UNTOLD)] += 1
    for each in placed:
        runs[maker[each.fan]] += 1
        gone[maker[each.fan]] += bool({f"mounting:{each.mounting}", f"run:{each.run}"} & subjects)
    return {name: Exclusions(counted[name], gone[name], runs[name])
            for name in sorted(known.keys() | counted.keys())}  # fmt: skip


UNTOLD = "maker not told"


def _maker(book: Book, fan: str) -> str:
    record = book.fans.get(fan)
    return (record.maker if record else None) or UNTOLD
