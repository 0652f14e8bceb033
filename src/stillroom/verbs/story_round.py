"""What the demo tells of the whole round alone: eras, a swapped radiator, claims, numbers without readings."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from stillroom.compare.standing import BridgeNote, Ranking
from stillroom.demo.truth import Truth
from stillroom.lab.book import Book
from stillroom.lab.claims import check_claims
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked
from stillroom.lab.pictures import multiples, pictures
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph
from stillroom.lab.versions import AT, bare
from stillroom.measures import Condition
from stillroom.quality import Finding
from stillroom.store.lab import Lab
from stillroom.verbs.said import Table

UNIT = "m³/h"
BESIDE = ("mesh", "dense")
"""Obstacles that stand beside the reference radiator in the small multiples."""
CHECK_RULE = 3
SHOWN = 8
"""Fans in each of the small multiples."""

Row = tuple[str, str, str]


@dataclass(frozen=True)
class RestOfTheRound:
    """What befell the round beyond its faults, and what became of it.

    Parameters
    ----------
    ranked : the answer to `asked`. blocked : {mounting: rule} of what is still open.
    found : all findings before anything was decided. warm : the answers of the heat rig.
    """

    lab: Lab
    truth: Truth
    book: Book
    graph: Graph
    asked: Asked
    ranked: Ranking
    blocked: Mapping[str, str]
    found: Sequence[Finding]
    progress: Progress
    warm: Sequence[Ranking] = ()

    def table(self) -> Table:
        """One line for each thing that befell."""
        rows = (*self._drifts(), *self._eras(), self._swapped(), self._claims(), self._legacy())
        return Table(("what befell", "what was done", "what it comes to"), rows)

    def panels(self, folder: Path) -> tuple[Path, ...]:
        """The small multiples: the same fans through three obstacles; their files."""
        found = [self.ranked, *(self._through(name) for name in BESIDE)]
        picture, name = multiples.panels(self.book, found, self.asked.measure, fans=SHOWN)
        return pictures.save(picture, folder, name)

    def _through(self, obstacle: str) -> Ranking:
        asked = replace(self.asked, condition=Condition(obstacle=obstacle))
        found = rank_fans(
            self.lab, self.book, self.graph, asked, blocked=self.blocked, progress=self.progress
        )
        return found.in_unit(UNIT)

    def _drifts(self) -> tuple[Row, ...]:
        """What the reference fan says of its rig: by rule 3, where a check was made."""
        return tuple(
            (each.found, f"kept; the day's runs are marked: {', '.join(each.fans)}", each.cause)
            for each in self.found
            if each.rule == CHECK_RULE and each.subject.startswith("mounting:")
        )

    def _eras(self) -> tuple[Row, ...]:
        rows = []
        for each in (*self.ranked.bridges, *(one for ranked in self.warm for one in ranked.bridges)):
            before, after = each.mountings
            done = f"bridged by {len(each.samples)} samples: {before} mountings before, {after} after"
            rows.append((f"{each.event} ({each.rig})", done, f"values before {_change(each)}"))
        return tuple(rows)

    def _swapped(self) -> Row:
        """The leader's airflow through the radiator that was there first, and through the one after it."""
        name = self.truth.reference_obstacle
        before = {each.fan: each.value for each in self._through(f"{bare(name)}{AT}1").standings}
        measured = {each.fan for each in self.truth.fans} & before.keys()
        leader = next((each for each in self.ranked.standings if each.fan in measured), None)
        said = "none in both"
        if leader is not None:
            said = f"{leader.fan}: {before[leader.fan]:.1f} {UNIT}, now {leader.value:.1f} {UNIT}"
        what = f"{bare(name)} leaked and was exchanged"
        return what, f"measured anew as {name}; versions are never mixed", said

    def _claims(self) -> Row:
        checks = check_claims(self.lab, self.book, self.graph, blocked=self.blocked, progress=self.progress)
        counted = Counter(each.verdict.value for each in checks)
        said = ", ".join(f"{count} {verdict}" for verdict, count in counted.most_common())
        failed = sorted({each.claim.fan for each in checks if each.is_failure})
        said += f"; failing with two samples: {', '.join(failed)}" if failed else ""
        return f"{len(checks)} claims on the boxes", "each checked under its own condition", said

    def _legacy(self) -> Row:
        fans = ", ".join(sorted({each.fan for each in self.book.legacy.values()}))
        return "numbers of earlier rounds without readings", "kept, and marked wherever they stand", fans


def _change(bridge: BridgeNote) -> str:
    if bridge.unit:
        return f"{bridge.change:+.2f} {bridge.unit} (95 %: {bridge.low:+.2f} to {bridge.high:+.2f})".replace(
            "-", "−"
        )
    return f"× {bridge.change:.3f} (95 %: {bridge.low:.3f} to {bridge.high:.3f})"
