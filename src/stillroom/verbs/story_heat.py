"""What the demo tells of heat: fans at the same noise on the same loop, a plain spreadsheet and the truth beside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from stillroom import wording
from stillroom.compare.standing import Ranking, Standing
from stillroom.demo.heat.plan import RIG
from stillroom.demo.heat.truth import HeatTruth
from stillroom.demo.truth import Truth
from stillroom.lab.book import Book
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked
from stillroom.lab.pictures import pictures
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph
from stillroom.measures import Condition, measure_named
from stillroom.measures.heat import HEAT
from stillroom.quality import Finding
from stillroom.store.lab import Lab
from stillroom.verbs.said import Table
from stillroom.verbs.story_sound import LIMIT

UNIT = "K"
SHOWN = 8
"""Fans on the chart at most, coolest first."""


@dataclass(frozen=True)
class HeatAtSameNoise:
    """The demo's fans on the heat rig at the same noise.

    Parameters
    ----------
    book, graph : as they stand at one moment of the story. blocked : {mounting: rule} of what is open then.
    """

    lab: Lab
    truth: Truth
    book: Book
    graph: Graph
    blocked: Mapping[str, str]
    progress: Progress

    @cached_property
    def ranked(self) -> Ranking:
        """The temperature rise at the headline's limit."""
        asked = Asked(measure_named(HEAT), Condition(noise=LIMIT, rig=RIG))
        return rank_fans(
            self.lab, self.book, self.graph, asked, blocked=self.blocked, progress=self.progress
        ).in_unit(UNIT)

    @property
    def heading(self) -> str:
        """Over the table."""
        return (
            f"On the heat rig at {LIMIT:g} dBA: the same heat, the same loop, only the fan changed "
            f"(temperature rise at {self._heat.nominal:g} W)"
        )

    def table(self) -> Table:
        """A plain spreadsheet's ranking beside ours, and the truth beside our intervals."""
        ours = {each.fan: each for each in self.ranked.standings}
        rows = []
        for plain in self._heat.plain:
            true = self._heat.delta(plain.fan, f"{LIMIT:g} dBA").delta
            cells = _ours(ours.get(plain.fan), true)
            rows.append((str(plain.rank), plain.fan, f"{plain.rise:.2f}", *cells, f"{true:.2f}"))
        headers = ("spreadsheet's place", "fan", f"spreadsheet [{UNIT}]", "ours, with 95 %", "our place", "ours says",
                   "the truth lies", f"truth [{UNIT}]")  # fmt: skip
        return Table(headers, tuple(rows), right=(2, 7))

    def charts(self, folder: Path) -> tuple[Path, ...]:
        """The bars at the limit; their files."""
        picture, name = pictures.bars(self.lab.settings, self.ranked, measure_named(HEAT), "", SHOWN)
        return pictures.save(picture, folder, name)

    @property
    def _heat(self) -> HeatTruth:
        assert self.truth.heat is not None
        return self.truth.heat


def _ours(each: Standing | None, true: float) -> tuple[str, str, str, str]:
    if each is None:
        return ("not ranked", "", "", "")
    inside = "inside" if each.low <= true <= each.high else "outside"
    told = wording.with_interval(each.value, each.low, each.high, UNIT)
    return (told, wording.places(each.rank), each.verdict.value, inside)


def is_of_heat(graph: Graph, finding: Finding) -> bool:
    """Whether a finding is of a mounting on the heat rig."""
    kind, _, name = finding.subject.partition(":")
    return kind == "mounting" and name in {each.subject for each in graph.heating()}


def heat_numbers(
    graph: Graph, finding: Finding, moments: Sequence[HeatAtSameNoise]
) -> tuple[str, str] | None:
    """The rise of a doubted run's fan at the two moments of the story; None where the finding is of another rig."""
    if not is_of_heat(graph, finding):
        return None
    before, after = (_rise(each.ranked, finding.fans) for each in moments)
    return before, after


def _rise(ranked: Ranking, fans: tuple[str, ...]) -> str:
    values = {each.fan: each.value for each in ranked.standings}
    return ", ".join(f"{values[each]:.2f} {UNIT}" for each in fans if each in values) or "none"
