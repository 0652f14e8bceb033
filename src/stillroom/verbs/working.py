"""The day's work: what stands open, reducing, reviewing, deciding."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from enum import StrEnum
from pathlib import Path

from stillroom import wording
from stillroom.errors import BadInput
from stillroom.lab.blocking import undecided
from stillroom.lab.book import Book, open_book, place_all
from stillroom.lab.deciding import AGAIN, Chosen, as_before, decisions, meant
from stillroom.lab.exclusions import excluded_by_maker, has_lapsed
from stillroom.lab.executor import Progress, silent
from stillroom.lab.intake.checking_in import not_used
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import Reduced, reduce_lab
from stillroom.lab.whole import worked_out
from stillroom.quality import Finding, Group, grouped
from stillroom.records.acts import Decision, Spread
from stillroom.records.fields import as_json
from stillroom.store.journal import WITHDRAWN, Note
from stillroom.store.lab import operator
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import BLOCKED, DONE, Said, Table


class Action(StrEnum):
    """What a person can decide of a finding."""

    ACCEPT = "accept"
    REPEAT = "repeat"
    EXCLUDE = "exclude"


def reduce(
    *, workers: int = 0, new_spread: bool = False, lab: Path | None = None, progress: Progress = silent
) -> Said:
    """Work out what is missing: points, characteristics, resistances, sound, heat. Nothing is computed twice.

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
    return Said(
        _reduced_words(done),
        lines=tuple(lines),
        data={
            "curves": done.curves,
            "made": done.made,
            "sounds": done.sounds,
            "sounds_made": done.sounds_made,
            "recordings": done.recordings,
            "recordings_made": done.recordings_made,
            "heats": done.heats,
            "heats_made": done.heats_made,
            "controls": done.controls,
            "controls_made": done.controls_made,
            "failed": done.failed,
            "unplaced": done.unplaced,
        },
    )


def _reduced_words(done: Reduced) -> str:
    """What was worked out: curves, recordings with the sounds that rest on them, and heat runs."""
    counts = {"curve": (done.made, done.curves)}
    if done.sounds:
        counts |= {
            "recording": (done.recordings_made, done.recordings),
            "sound": (done.sounds_made, done.sounds),
        }
    if done.heats:
        counts["heat run"] = (done.heats_made, done.heats)
    if done.controls:
        counts["control"] = (done.controls_made, done.controls)
    if len(counts) > 1 and not done.curves:
        del counts["curve"]
    if not any(made for made, _ in counts.values()):
        there = [wording.plural(every, what) for what, (_, every) in counts.items()]
        return f"Nothing to do: {wording.listed(there)} up to date."
    made_words = [
        f"{made} of {every} {what if every == 1 else what + 's'}" for what, (made, every) in counts.items()
    ]
    return f"{wording.listed(made_words)} worked out."


def review(
    *,
    all: bool = False,
    each: bool = False,
    rule: str = "",
    fan: str = "",
    maker: str = "",
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """The findings that nobody has decided yet, by consequence: first what the leaders of kept comparisons hang on,
    then what other published values do; in each, what blocks first. Findings of one cause are one line.

    Parameters
    ----------
    all : also those that were decided.
    each : one line for each finding, not one for each cause.
    rule : only those of a rule, by its number or short name.
    fan : only those that a fan's numbers hang on.
    maker : only those that the numbers of one maker's fans hang on.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    with open_lab(lab) as opened:
        _, book, graph, every = worked_out(opened, progress)
    found = Chosen(rule, fan, maker).of(every, book)
    open_ = undecided(found, book.decisions)
    shown = found if all else open_
    groups = [Group((one,)) for one in shown] if each else _groups(shown, open_)
    blocking = [one for one in open_ if one.blocks]
    some = wording.count(len(blocking)) if blocking else "none"
    title = f"{wording.plural(len(shown), 'finding')}, {some} of them blocking"
    lines = [*not_used(graph), *_exclusion_words(book, graph)]
    lapsed = [one.name for one in book.decisions.values() if has_lapsed(one, every, graph)]
    if all:
        files = _files(book)
        lines += [_decided_words(one, files, lapsed=one.name in lapsed) for one in book.decisions.values()]
    if blocking:
        lines.append(BLOCK_WORDS)
    if open_:
        lines.append("Decide with: stillroom decide FINDING accept|repeat|exclude --reason … --by …")
    return Said(
        wording.sentence(title),
        tables=(("", _finding_table(groups, open_, book.settings.units)),) if groups else (),
        lines=tuple(lines),
        data={
            "findings": [one.as_dict() | {"open": one in open_} for one in shown],
            "groups": [one.as_dict() for one in groups],
            "excluded": {name: asdict(one) for name, one in excluded_by_maker(book, graph).items()},
        },
        code=BLOCKED if blocking else DONE,
    )


def _groups(shown: Sequence[Finding], open_: Sequence[Finding]) -> list[Group]:
    """Findings by cause, those that are open apart from those that were decided."""
    decided = [one for one in shown if one not in open_]
    return [*grouped(one for one in shown if one in open_), *grouped(decided)]


def _exclusion_words(book: Book, graph: Graph) -> list[str]:
    """What was excluded so far, by maker, with the share of the maker's runs."""
    by_maker = excluded_by_maker(book, graph)
    if not by_maker:
        return []
    said = ", ".join(
        f"{name} {one.runs or 'none'} of {one.of} runs" + (f" ({one.share:.0%})" if one.runs else "")
        for name, one in by_maker.items()
    )
    return [f"Excluded so far, by maker: {said}"]


BLOCK_WORDS = (
    "What blocks keeps a number from publication until it is decided: rank, ask and chart still show it, with the mark"
    " “open finding”, and no spread is taken from it."
)
"""What an open block does, and what it doesn't."""


def _files(book: Book) -> dict[str, str]:
    """{subject of a run: its file as people name it}."""
    return {f"run:{each.run}": each.taken.words for each in place_all(book)}


def _decided_words(each: Decision, files: Mapping[str, str], *, lapsed: bool) -> str:
    """One decision in words, and whether it decides anything still."""
    past = {"accept": "accepted", "repeat": "to be repeated", "exclude": "excluded"}[each.action]
    what = f"{each.finding} {_subject(each.subject, files)} {past}"
    words = f"Decided {each.time[:10]}: {what} by {each.by}: {each.reason}"
    return words + (" (lapsed: what it judged is no more as it was)" if lapsed else "")


def _subject(subject: str, files: Mapping[str, str]) -> str:
    """What a decision speaks of: a run by its file, everything else by its name."""
    return files.get(subject) or subject.removeprefix("mounting:")


MEMBERS = 4
"""So many members of a group are named in a table."""


def _finding_table(groups: Sequence[Group], open_: Sequence[Finding], units: Mapping[str, str]) -> Table:
    rows = tuple(
        (
            each.id,
            each.first.severity.words + ("" if each.first in open_ else ", decided"),
            f"{each.first.rule} {each.first.title}",
            _where(each),
            wording.in_lab_units(f"{each.first.found}; expected {each.first.expected}", units)
            + (f"; and {len(each.members) - 1} more of this cause" if len(each.members) > 1 else ""),
            wording.in_lab_units(" — ".join(filter(None, (each.first.cause, each.first.test))), units),
        )
        for each in groups
    )
    return Table(("finding", "severity", "rule", "where", "what", "probable cause — one-minute test"), rows)


def _where(group: Group) -> str:
    if len(group.members) == 1:
        return group.first.place or group.first.subject
    places = list(dict.fromkeys(each.place or each.subject for each in group.members))
    more = f" and {len(places) - MEMBERS} more" if len(places) > MEMBERS else ""
    return f"{len(group.members)} findings: {', '.join(places[:MEMBERS])}{more}"


def decide(
    finding: str,
    action: Action,
    *more: str,
    reason: str,
    rule: str = "",
    fan: str = "",
    maker: str = "",
    by: str = "",
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Accept, repeat or exclude what findings speak of, with a reason and a name; one reason for many.

    Parameters
    ----------
    finding : a finding's or a group's short name from `review`; or all, with --rule, --fan or --maker; or again: what
        was decided before and lapsed since a calibration or the like moved, with the old reasons beside the new one.
    action : accept, repeat or exclude.
    more : further findings or groups that the same reason covers. A finding decided before can be decided anew.
    reason : why; it is published with the exclusions.
    rule : with all: the open findings of this rule, by its number or short name.
    fan : with all: those that this fan's numbers hang on.
    maker : with all: those that only this maker's fans hang on.
    by : who decides; the computer's user where none is given.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if not reason.strip():
        raise BadInput("--reason", found="no words", expected="why, in a few words")
    with open_lab(lab) as opened:
        _, book, graph, found = worked_out(opened, progress)
        who = by or operator()
        if finding == AGAIN and not (more or rule or fan or maker):
            decided = as_before(opened, book, graph, found, action.value, reason, who)
        else:
            wanted = meant((finding, *more), Chosen(rule, fan, maker), found, book)
            decided = decisions(opened, book, graph, wanted, action.value, reason, who)
        opened.write([Note(each.kind, each.name, as_json(each)) for each in decided], by=by)
    verb = {"accept": "accepted", "repeat": "to be repeated", "exclude": "excluded"}[action.value]
    files = _files(book)
    subjects = list(dict.fromkeys(_subject(each.subject, files) for each in decided))
    named = "; ".join(f"{each} {verb}" for each in subjects[:MEMBERS])
    more_words = f" and {len(subjects) - MEMBERS} more" if len(subjects) > MEMBERS else ""
    return Said(f"{named}{more_words}.", data={"decisions": [as_json(each) for each in decided]})
