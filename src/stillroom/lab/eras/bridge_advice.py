"""What would bridge the eras of a rig: said where a fan is left out, in findings, and when an event is noted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from stillroom.core.bridging import runs_wanted
from stillroom.core.spread import FIRST_YEAR_MOUNTING_HEAT, FIRST_YEAR_MOUNTING_LEVEL, FIRST_YEAR_MOUNTING_SD
from stillroom.lab.book import Book
from stillroom.lab.eras.eras import Era, Eras, era_number
from stillroom.lab.eras.reference import reference_name
from stillroom.lab.eras.rig_nodes import rig_nodes
from stillroom.lab.recipes import Graph, build_graph
from stillroom.records.acts import Event

SPREADS: Mapping[str, tuple[float, float]] = {
    "mounting": (FIRST_YEAR_MOUNTING_SD, 0.025),
    "sound": (FIRST_YEAR_MOUNTING_LEVEL, 0.5),
    "heat": (FIRST_YEAR_MOUNTING_HEAT, 0.2),
}
"""By kind of result: the spread between mountings of the first year, and the half-width of a bridge's 95 % interval
that is aimed at when runs are proposed: half the usual margin; shares of airflow, dB of level, K of a rise.
"""


def advice(book: Book, graph: Graph, era: Era, target: Era, eras: Eras, sd: float | None = None) -> str:
    """What would bridge an era with the target: runs of the reference fan, else of a sample that was there.

    Parameters
    ----------
    sd : spread between mountings; that of the first year where None.
    """
    there = [each for each in rig_nodes(graph) if each.rig == target.rig and eras.of(each) == era]
    usual, goal = SPREADS[there[0].kind if there else "mounting"]
    spread, name = sd or usual, reference_name(book, graph)
    times = sum(f"{each.fan}/{each.sample}" == name for each in there)
    if times:
        return f"run the reference fan {name} on {target.rig} {runs_wanted(times, spread, goal)} times"
    sample = min((f"{each.fan}/{each.sample}" for each in there), default=name)
    return f"mount {sample} on {target.rig} {runs_wanted(1, spread, goal)} times more"


@dataclass(frozen=True)
class NewEra:
    """An era that an event has begun, and what would bridge it ("" where nothing was measured before)."""

    era: Era
    wanted: str

    @property
    def lines(self) -> tuple[str, ...]:
        """In words, as the answer to the note."""
        rig = self.era.rig or "the rig"
        said = f"Era {self.era.number} of {rig} begins: values from before it are ranked with those since over a bridge"
        return (f"{said}.", f"To bridge it: {self.wanted}.") if self.wanted else (f"{said}.",)

    def as_dict(self) -> dict[str, str | int]:
        """As a JSON object."""
        return {
            "rig": self.era.rig,
            "era": self.era.number,
            "since": self.era.began,
            "to_bridge": self.wanted,
        }


def new_eras(book: Book, event: Event) -> tuple[NewEra, ...]:
    """The eras that an event begins, of its rig or of all rigs in use, each with what would bridge it."""
    if not event.changes_results:
        return ()
    graph, eras = build_graph(book), Eras(book)
    used = sorted({each.rig for each in rig_nodes(graph)} | ({event.rig} if event.rig else set()))
    found = []
    for rig in used:
        own = [each for each in eras.of_rig(rig) if (each.began, each.why) == (event.time, event.text)]
        before = [eras.of(each) for each in rig_nodes(graph) if each.rig == rig]
        for era in own:
            last = max((each for each in before if each.number < era.number), key=era_number, default=None)
            wanted = advice(book, graph, last, era, eras) if last else ""
            found.append(NewEra(era, wanted))
    return tuple(found)
