"""What people decided, and what was registered before, as open data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from stillroom.lab.book import place_all
from stillroom.lab.exclusions import excluded_by_maker
from stillroom.publish.data.cells import Cell, figures
from stillroom.publish.data.fields import AT_LEAST_ZERO, Field, Table, of_record, row_of
from stillroom.publish.data.shown import Shown
from stillroom.records.acts import Decision
from stillroom.records.publishing import Round

OF_A_DECISION = ("finding", "rule", "subject", "action", "reason", "by", "time", "after_ranking")
OF_A_ROUND = ("round", "measure", "question", "margin", "note")


def accepted(shown: Shown) -> Table:
    """Findings that a person accepted, with the reason."""
    words = "Findings that a person accepted: the numbers stand, with the reason beside them."
    return Table(
        "accepted", "Findings accepted", words, _fields(), _rows(shown, shown.contents.accepted), ("finding",)
    )


def exclusions(shown: Shown) -> Table:
    """Runs and mountings that a person excluded, with the reason."""
    words = "Runs and mountings that no published number rests on, with the reason and who decided."
    return Table(
        "exclusions", "Exclusions", words, _fields(), _rows(shown, shown.contents.excluded), ("finding",)
    )


def _fields() -> tuple[Field, ...]:
    fan = Field("fan", "fan", "Of whose data it is; empty where it is of a rig or of several fans.")
    what = Field("what", "what", "The file or the mounting that it speaks of.")
    return (*of_record(Decision, *OF_A_DECISION), fan, what)


def _rows(shown: Shown, decisions: Sequence[Decision]) -> tuple[dict[str, Cell], ...]:
    placed = place_all(shown.contents.book)
    runs = {f"run:{each.run}": (each.fan, each.taken.words) for each in placed}
    mountings = {f"mounting:{each.mounting}": (each.fan, each.mounting) for each in placed}
    told: list[dict[str, Cell]] = []
    for each in sorted(decisions, key=lambda one: (one.time, one.finding)):
        fan, what = (runs | mountings).get(each.subject, ("", ""))
        told.append(row_of(each, *OF_A_DECISION) | {"fan": fan or None, "what": what or None})
    return tuple(told)


def exclusions_by_maker(shown: Shown) -> Table:
    """How much of each maker's data is excluded."""
    fields = (
        Field("maker", "maker", "Of the fans.", constraints={"required": True}),
        Field("decisions", "decisions", "By how many decisions.", "integer", constraints=AT_LEAST_ZERO),
        Field("runs", "runs excluded", "Runs that are left out.", "integer", constraints=AT_LEAST_ZERO),
        Field("of", "of", "All runs of the maker’s fans.", "integer", constraints=AT_LEAST_ZERO),
        Field("share", "share", "Share of the runs that are left out.", "number", "1",
              constraints={"minimum": 0, "maximum": 1}),
    )  # fmt: skip
    words = "Exclusions counted by maker, so that anybody can see whether one was favoured."
    return Table(
        "exclusions-by-maker", "Exclusions by maker", words, fields, tuple(_makers(shown)), ("maker",)
    )


def _makers(shown: Shown) -> Iterable[dict[str, Cell]]:
    whole = shown.contents.whole
    for maker, each in excluded_by_maker(shown.contents.book, whole.graph).items():
        yield {
            "maker": maker,
            "decisions": each.decisions,
            "runs": each.runs,
            "of": each.of,
            "share": figures(each.share, 3),
        }


def rounds(shown: Shown) -> Table:
    """The measures that rounds registered."""
    told = sorted(shown.contents.book.rounds.values(), key=lambda each: each.name)
    words = (
        "Measures and margins written down for a round; the table of measures says which before their data."
    )
    rows = tuple(row_of(each, *OF_A_ROUND) for each in told)
    return Table("rounds", "Rounds", words, of_record(Round, *OF_A_ROUND), rows, ("round", "measure"))
