"""Quality rules: thresholds, those that the lab set otherwise, what was found, what people decided, exclusions."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator

from stillroom import wording
from stillroom.lab.blocking import undecided
from stillroom.lab.exclusions import excluded_by_maker, has_lapsed
from stillroom.lab.purposes import Purpose
from stillroom.publish.document import (
    Block,
    Bullets,
    Callout,
    CalloutKind,
    Grid,
    Heading,
    Paragraph,
    Span,
    emphasis,
)
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.words import several, share_words, told
from stillroom.quality.rules import BY_NUMBER, RULES, Rule
from stillroom.records.acts import Decision
from stillroom.records.limits import told_of

TITLE = "Quality rules, findings and exclusions"


def rules_and_findings(facts: Facts) -> Iterator[Block]:
    """Rules with their thresholds, what they found, and what was decided of it."""
    yield Heading(1, TITLE)
    yield Paragraph(
        "Rules look at every file, mounting and number. A finding never changes data: a person accepts it, has the"
        " measurement repeated, or excludes it, with a reason and a name. What a laboratory doesn’t have is a mark;"
        " what contradicts itself stops publication until it is decided. Every threshold is the larger of the stated"
        " one and twice the standard uncertainty."
    )
    yield Heading(2, "Thresholds set by this laboratory")
    yield from _changed(facts)
    yield Heading(2, "Rules and what they found")
    yield from _rules(facts)
    yield Heading(2, "Accepted findings")
    yield from _accepted(facts)
    yield Heading(2, "Measurements to be repeated")
    yield from _repeated(facts)
    yield Heading(2, "Exclusions")
    yield from _excluded(facts)


def _changed(facts: Facts) -> Iterator[Block]:
    changed = facts.contents.settings.limits.changed()
    if not changed:
        yield Paragraph("None: all rules have their usual thresholds.")
        return
    limits = ((told_of(name), mine, usual) for name, (mine, usual) in changed.items())
    yield Grid(
        ("Rule", "Threshold", "Here", "Usually"),
        tuple(
            (str(each.rule), each.words, each.text(mine), each.text(usual)) for each, mine, usual in limits
        ),
        right=(2, 3),
        caption="Thresholds that differ from the usual ones",
    )


OF = {
    Purpose.SOUND: frozenset(range(5, 19)),
    Purpose.HEAT: frozenset({34, 35, 36, 37, 38, 52}),
    Purpose.CONTROL: frozenset({51}),
    Purpose.AIRFLOW: frozenset({22, 23, 24, 25, 26, 27, 28, 30, 31, 32, 33}),
}
"""The rules that look at one kind of measurement alone; the others look at whatever there is."""


OF_NOZZLES = frozenset({22, 23, 24})
"""Of the rules of airflow those that look at nozzles."""


def rules_for(purposes: Collection[Purpose], *, with_nozzles: bool = True) -> tuple[Rule, ...]:
    """The rules that have something to look at where things were measured for some purposes."""
    idle = {number for purpose, numbers in OF.items() if purpose not in purposes for number in numbers}
    idle |= set() if with_nozzles else OF_NOZZLES
    return tuple(each for each in RULES if each.number not in idle)


def _rules(facts: Facts) -> Iterator[Block]:
    """What was found by which rule, then all rules with their usual thresholds."""
    whole = facts.contents.whole
    found = Counter(each.rule for each in whole.found)
    stops = Counter(each.rule for each in whole.found if each.blocks)
    open_ = Counter(each.rule for each in undecided(whole.found, facts.book.decisions))
    if found:
        yield Grid(
            ("Rule", "What it is about", "Found", "Of these stop", "Not decided"),
            tuple(
                (str(number), BY_NUMBER[number].title,
                 *(wording.number(each[number]) for each in (found, stops, open_)))
                for number in sorted(found)
            ),
            right=(0, 2, 3, 4),
            caption="Findings at the time of this release",
        )  # fmt: skip
    else:
        yield Paragraph("No rule found anything.")
    moved = {told_of(name).rule for name in facts.contents.settings.limits.changed()}
    yield Grid(
        ("Rule", "What it is about, and its usual threshold", "Source"),
        tuple(
            (
                str(each.number),
                (
                    emphasis(f"{each.title}: "),
                    Span(each.limit),
                    *([Span(f" ({CHANGED})")] if each.number in moved else []),
                ),
                each.source,
            )
            for each in rules_for(facts.by_purpose, with_nozzles=bool(facts.nozzles))
        ),
        right=(0,),
        caption="The rules that had something to look at",
    )


CHANGED = "set otherwise here"


def _accepted(facts: Facts) -> Iterator[Block]:
    accepted = facts.contents.accepted
    if not accepted:
        yield Paragraph("None.")
    for each in accepted:
        yield Callout(CalloutKind.ACCEPTED, f"{_what(facts, each)}: {_reason(each)}")


def _repeated(facts: Facts) -> Iterator[Block]:
    whole = facts.contents.whole
    own = [
        each
        for each in facts.book.decisions.values()
        if each.action == "repeat" and not has_lapsed(each, whole.found, whole.graph)
    ]
    if own:
        yield Bullets(tuple(f"{_what(facts, each)}: {_reason(each)}" for each in own))
    else:
        yield Paragraph("None.")


def _excluded(facts: Facts) -> Iterator[Block]:
    excluded = facts.contents.excluded
    if not excluded:
        yield Paragraph("Nothing was excluded by a decision.")
    else:
        yield Paragraph(
            f"{wording.sentence(several(len(excluded), 'decision'))} Each leaves out a file or a mounting; what was"
            " left out is kept, and in the laboratory’s journal."
        )
        yield Grid(
            ("Left out", "Reason", "Decided"),
            tuple(_exclusion(facts, each) for each in excluded),
            caption="Exclusions with their reasons",
            notes=(NOT_SEEN,) if any(each.after_ranking is None for each in excluded) else (),
        )
    by_maker = excluded_by_maker(facts.book, facts.contents.whole.graph)
    if by_maker:
        yield Grid(
            ("Maker", "Decisions", "Files left out", "Of all files", "Share"),
            tuple(
                (maker, *(wording.number(each) for each in (one.decisions, one.runs, one.of)),
                 share_words(one.share))
                for maker, one in by_maker.items()
            ),
            right=(1, 2, 3, 4),
            caption="Exclusions of each maker’s fans",
            notes=("Files of a mounting count each.",),
        )  # fmt: skip


NO_FAN = "no fan’s: of the room or the rig"
"""Under whom exclusions are counted that concern no fan."""


def _exclusion(facts: Facts, each: Decision) -> tuple[str, ...]:
    decided = f"by {told(each.by)} on {each.time[:10]}{SEEN[each.after_ranking]}"
    return subject_words(facts, each), f"rule {each.rule}: {told(each.reason)}", decided


SEEN = {
    True: ", after a ranking with it was seen",
    False: ", before a ranking with it was seen",
    None: "",
}
"""When an exclusion was decided, by what is kept of it."""

NOT_SEEN = "Where nothing is said of it, nobody kept whether a ranking with it had been seen by then."


def _what(facts: Facts, each: Decision) -> str:
    rule = BY_NUMBER.get(int(each.rule)) if each.rule.isdigit() else None
    title = f"{rule.title} (rule {rule.number})" if rule else f"rule {each.rule}"
    return f"{subject_words(facts, each)}, {title[0].lower()}{title[1:]}"


def _reason(each: Decision) -> str:
    return f"{wording.stopped(told(each.reason))} Decided by {told(each.by)} on {each.time[:10]}."


def subject_words(facts: Facts, each: Decision) -> str:
    """What was judged, as people name it: a file by its path, a mounting by its name."""
    kind, _, name = each.subject.partition(":")
    if kind == "run":
        file = next((one.words for one in facts.book.taken.values() if one.run == name), name)
        return f"file {wording.isolate(file)}"
    return f"{kind} {wording.isolate(name)}" if name else wording.isolate(kind)
