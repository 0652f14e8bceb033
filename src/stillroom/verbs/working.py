"""The day's work: what stands open, reducing, reviewing, deciding."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from pathlib import Path

from stillroom import wording
from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.executor import Progress, silent
from stillroom.lab.findings import exclusions_by_maker, undecided
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.quality import Finding
from stillroom.records.acts import Decision, Spread
from stillroom.records.fields import as_json
from stillroom.store.journal import WITHDRAWN, Note
from stillroom.store.lab import now, operator
from stillroom.verbs.doors import open_lab, up_to_date
from stillroom.verbs.said import BLOCKED, DONE, Said, Table


class Action(StrEnum):
    """What a person can decide of a finding."""

    ACCEPT = "accept"
    REPEAT = "repeat"
    EXCLUDE = "exclude"


def reduce(
    *, workers: int = 0, new_spread: bool = False, lab: Path | None = None, progress: Progress = silent
) -> Said:
    """Work out what is missing: points, characteristics, resistances. Nothing is computed twice.

    Parameters
    ----------
    workers : number of processes; 0 for one a core.
    new_spread : let go of the agreed spreads; the next ranking agrees on new ones, dated.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if workers < 0:
        raise BadInput("--workers", found=str(workers), expected="0 for one a core, or a number of processes")
    with open_lab(lab) as opened:
        if new_spread:
            let_go = opened.current(Spread)
            opened.write([Note(WITHDRAWN, name, {"kind": Spread.kind}) for name in let_go])
        graph = build_graph(open_book(opened))
        done = reduce_lab(opened, graph, workers=workers, progress=progress)
    lines = [f"{name}: could not be had: {why}" for name, why in done.failed.items()]
    lines += [f"{file}: not used: {why}" for file, why in done.unplaced.items()]
    made = f"{done.made} of {done.curves} {'curve' if done.curves == 1 else 'curves'} worked out"
    return Said(
        f"{made}." if done.made else f"Nothing to do: {wording.plural(done.curves, 'curve')} up to date.",
        lines=tuple(lines),
        data={
            "curves": done.curves,
            "made": done.made,
            "failed": done.failed,
            "unplaced": done.unplaced,
        },
    )


def review(*, all: bool = False, lab: Path | None = None, progress: Progress = silent) -> Said:
    """The findings that nobody has decided yet, by consequence: what blocks first.

    Parameters
    ----------
    all : also those that were decided.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    with open_lab(lab) as opened:
        book, _, found = up_to_date(opened, progress)
    open_ = undecided(found, book.decisions)
    shown = found if all else open_
    blocking = [each for each in open_ if each.blocks]
    some = wording.count(len(blocking)) if blocking else "none"
    title = f"{wording.plural(len(shown), 'finding')}, {some} of them blocking"
    by_maker = exclusions_by_maker(book)
    lines = (
        [f"Excluded so far, by maker: {', '.join(f'{m} {n}' for m, n in by_maker.items())}"]
        if by_maker
        else []
    )
    if all:
        lines += [_decided_words(each) for each in book.decisions.values()]
    if blocking:
        lines.append("Decide with: stillroom decide FINDING accept|repeat|exclude --reason … --by …")
    return Said(
        wording.sentence(title),
        tables=(("", _finding_table(shown, open_)),) if shown else (),
        lines=tuple(lines),
        data={"findings": [each.as_dict() | {"open": each in open_} for each in shown]},
        code=BLOCKED if blocking else DONE,
    )


def _decided_words(each: Decision) -> str:
    """One decision in words, with what takes it back."""
    past = {"accept": "accepted", "repeat": "to be repeated", "exclude": "excluded"}[each.action]
    return f"Decided {each.time[:10]}: {each.finding} {each.subject} {past} by {each.by}: {each.reason}"


def _finding_table(shown: list[Finding], open_: list[Finding]) -> Table:
    rows = tuple(
        (
            each.id,
            each.severity.words + ("" if each in open_ else ", decided"),
            f"{each.rule} {each.title}",
            each.place or each.subject,
            f"{each.found}; expected {each.expected}",
            f"{each.cause} — {each.test}",
        )
        for each in shown
    )
    return Table(("finding", "severity", "rule", "where", "what", "probable cause — one-minute test"), rows)


def decide(
    finding: str,
    action: Action,
    *more: str,
    reason: str,
    by: str = "",
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Accept, repeat or exclude what a finding speaks of, with a reason and a name.

    Parameters
    ----------
    finding : the finding's short name from `review`.
    action : accept, repeat or exclude.
    more : further findings that the same reason covers. A finding decided before can be decided anew.
    reason : why; it is published with the exclusions.
    by : who decides; the computer's user where none is given.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if not reason.strip():
        raise BadInput("--reason", found="no words", expected="why, in a few words")
    with open_lab(lab) as opened:
        _, _, found = up_to_date(opened, progress)
        known = {each.id: each for each in found}
        earlier = {each.finding: each for each in opened.current(Decision).values()}
        wanted = list(dict.fromkeys((finding, *more)))
        for each in wanted:
            if each not in known and each not in earlier:
                raise UnknownThing("finding", found=repr(each), expected="one of `stillroom review --all`")
        decided = [
            _decision(known[each], action, reason, by or operator())
            if each in known
            else replace(earlier[each], action=action.value, reason=reason, by=by or operator(), time=now())
            for each in wanted
        ]
        opened.write([Note(each.kind, each.name, as_json(each)) for each in decided], by=by)
    verb = {"accept": "accepted", "repeat": "to be repeated", "exclude": "excluded"}[action.value]
    return Said(
        "; ".join(f"{each.subject} {verb}" for each in decided) + ".",
        data={"decisions": [as_json(each) for each in decided]},
    )


def _decision(finding: Finding, action: Action, reason: str, by: str) -> Decision:
    if action.value not in finding.actions:
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
        action=action.value,
        reason=reason,
        by=by,
        time=now(),
    )
