"""What a person decides of findings: which are meant, and the records that keep it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.blocking import undecided
from stillroom.lab.book import Book
from stillroom.lab.exclusions import has_lapsed
from stillroom.lab.facts.kept_values import kept_values
from stillroom.lab.recipes import Graph
from stillroom.quality import Finding, grouped
from stillroom.records.acts import Decision
from stillroom.store.lab import Lab, now

ALL = "all"
"""Stands for all open findings that --rule, --fan and --maker choose."""

AGAIN = "again"
"""Stands for the open findings of which the same was decided before, when what they judge was another."""


@dataclass(frozen=True)
class Chosen:
    """Which findings are meant beside those named.

    Parameters
    ----------
    rule : a rule's number or short name, "" for any. fan, maker : names, "" for any.
    """

    rule: str = ""
    fan: str = ""
    maker: str = ""

    def __bool__(self) -> bool:
        """Whether anything is chosen."""
        return bool(self.rule or self.fan or self.maker)

    def of(self, found: Sequence[Finding], book: Book) -> list[Finding]:
        """The findings that are chosen.

        Raises
        ------
        UnknownThing : a fan or a maker that the lab doesn't know.
        """
        makers = {name: each.maker or "" for name, each in book.fans.items()}
        known = {
            "fan": {*makers, *(fan for each in found for fan in each.fans)},
            "maker": set(makers.values()),
        }
        for word, name in (("fan", self.fan), ("maker", self.maker)):
            if name and name not in known[word]:
                names = ", ".join(sorted(filter(None, known[word])))
                raise UnknownThing(word, found=repr(name), expected=names or f"a {word} of the lab")
        return [
            each for each in found
            if self.rule in ("", str(each.rule), each.name)
            and (not self.fan or self.fan in each.fans)
            and (not self.maker or (each.fans and {makers.get(fan, "") for fan in each.fans} == {self.maker}))
        ]  # fmt: skip


def meant(
    names: Sequence[str], chosen: Chosen, found: Sequence[Finding], book: Book
) -> list[Finding | Decision]:
    """The findings that are meant: named by their own names, by a group's, or all that are chosen; a finding that
    is no more by the decision that was made of it.

    Raises
    ------
    UnknownThing : a name that no finding, group or decision has. BadInput : nothing, or too much, is chosen.
    """
    open_ = undecided(found, book.decisions)
    if bool(chosen) != (ALL in names) or (ALL in names and len(names) > 1):
        raise BadInput(
            "findings", found=" ".join(names) + (" with a choice" if chosen else ""),
            expected="names from `review`, or 'all' with --rule, --fan or --maker",
        )  # fmt: skip
    if chosen:
        members = chosen.of(open_, book)
        if not members:
            raise UnknownThing("finding", found="none that is open and chosen so", expected="one of `review`")
        return list(members)
    known = {each.id: each for each in found}
    groups = {each.id: each.members for each in (*grouped(found), *grouped(open_)) if len(each.members) > 1}
    earlier = {each.finding: each for each in book.decisions.values()}
    wanted: dict[str, Finding | Decision] = {}
    for name in names:
        if name in groups:
            wanted |= {each.id: each for each in groups[name]}
        elif name in known:
            wanted[name] = known[name]
        elif name in earlier:
            wanted[name] = earlier[name]
        else:
            raise UnknownThing("finding", found=repr(name), expected="one of `stillroom review --all`")
    return list(wanted.values())


def as_before(
    lab: Lab, book: Book, graph: Graph, found: Sequence[Finding], action: str, reason: str, by: str
) -> list[Decision]:
    """The records of deciding anew, as before, where the same rule still finds fault with the same thing.

    A corrected calibration gives every curve another key, so that what was decided of it lapses; whoever looked at
    the findings again decides them as before, with the old reasons beside the new one.

    Raises
    ------
    UnknownThing : there is no such finding.
    """
    lapsed: dict[tuple[str, str], list[str]] = {}
    for each in book.decisions.values():
        if each.action == action and has_lapsed(each, found, graph):
            lapsed.setdefault((each.rule, each.subject), []).append(each.reason)
    open_ = [each for each in undecided(found, book.decisions) if (str(each.rule), each.subject) in lapsed]
    if not open_:
        raise UnknownThing(
            "finding",
            found=f"none of which {action!r} was decided before and lapsed",
            expected="one of `review`",
        )
    made = decisions(lab, book, graph, open_, action, reason, by)
    return [
        replace(each, reason=f"{'; '.join(dict.fromkeys(lapsed[each.rule, each.subject]))} (again: {reason})")
        for each in made
    ]


def decisions(
    lab: Lab, book: Book, graph: Graph, of: Sequence[Finding | Decision], action: str, reason: str, by: str
) -> list[Decision]:
    """The records of one decision on several findings.

    Raises
    ------
    BadInput : an exclusion of what is no measurement.
    """
    seen = kept_values(lab, book, graph)
    shown = {f"mounting:{each.subject}" for each in graph.mountings() if seen.rests_on(each.subject)}
    shown |= {f"run:{run.placed.run}" for each in graph.mountings() if f"mounting:{each.subject}" in shown
              for run in each.runs}  # fmt: skip
    heard = [each for each in graph.sounds if seen.rests_on(each.subject)]
    shown |= {f"mounting:{each.subject}" for each in heard}
    shown |= {f"run:{run.name}" for each in heard for run in each.members}
    return [
        replace(each, action=action, reason=reason, by=by, time=now())
        if isinstance(each, Decision)
        else _decision(each, action, reason, by, shown)
        for each in of
    ]


def _decision(finding: Finding, action: str, reason: str, by: str, shown: Collection[str]) -> Decision:
    if action not in finding.actions:
        raise BadInput(
            f"finding {finding.id}",
            found=f"about {finding.subject}, which is no measurement",
            expected="accept or repeat",
        )
    return Decision(
        finding=finding.id,
        rule=str(finding.rule),
        subject=finding.subject,
        key=finding.key,
        action=action,
        reason=reason,
        by=by,
        time=now(),
        after_ranking=(finding.subject in shown) if action == "exclude" else None,
    )
