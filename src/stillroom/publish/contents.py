"""What a release says: its measures ranked, its claims checked, and what was decided; every maker takes it as it is."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from stillroom.compare.claims import ClaimCheck, held_back
from stillroom.compare.standing import Ranking
from stillroom.errors import NotPossible, StillroomError, UnknownThing
from stillroom.lab.blocking import open_blocks, unsettled
from stillroom.lab.book import Book
from stillroom.lab.claims import check_claims
from stillroom.lab.compared import compared
from stillroom.lab.disputes import marked
from stillroom.lab.exclusions import has_lapsed
from stillroom.lab.executor import Progress, shared_workers, silent
from stillroom.lab.field import Asked, as_written
from stillroom.lab.measure_words import asked_from, words_of
from stillroom.lab.registering import Registered, Registry
from stillroom.lab.whole import Whole, worked_out
from stillroom.measures import Measure
from stillroom.publish.release import Release, releases_of
from stillroom.quality import Finding
from stillroom.records.acts import Decision
from stillroom.records.settings import Settings
from stillroom.store.lab import Lab, now

ONE_SAMPLE_RULE = 42
"""The rule by which a box isn't said to fail while one sample says so."""

MOST_REFERENCES = 2
"""How many reference obstacles the usual measures go through."""


@dataclass(frozen=True)
class Published:
    """One measure under one condition as it is published.

    Parameters
    ----------
    slug : its name in files. asked : what was asked. ranking : in the units that the lab shows.
    findings : {fan: open findings that block its numbers}. registered : by which round, None where none names it.
    """

    slug: str
    asked: Asked
    ranking: Ranking
    findings: dict[str, tuple[Finding, ...]]
    registered: Registered | None = None

    @property
    def measure(self) -> Measure:
        """What is compared."""
        return self.asked.measure

    @property
    def words(self) -> str:
        """The line that asks for it: "airflow through rad27 at 35 dBA"."""
        return words_of(self.asked)

    @property
    def title(self) -> str:
        """The same as a title: "Airflow through rad27 at 35 dBA"."""
        return self.measure.title + self.words.removeprefix(self.measure.name)


@dataclass(frozen=True)
class Contents:
    """What a release is made of.

    Parameters
    ----------
    whole : the lab with everything worked out. name : of the release. date : of its making, ISO.
    highlight : the fan under review, "" for none. question : as told, "" for none. published : its measures.
    claims : what the boxes say, checked. accepted : decisions by which blocking or marking findings were accepted and
    that stand. excluded : those by which runs or mountings were left out and that stand.
    previous : the lab's last release before it. corrects : name of the release that it corrects, "" for none.
    """

    whole: Whole
    name: str
    date: str
    highlight: str
    question: str
    published: tuple[Published, ...]
    claims: tuple[ClaimCheck, ...]
    accepted: tuple[Decision, ...]
    excluded: tuple[Decision, ...]
    previous: Release | None = None
    corrects: str = ""

    @property
    def lab(self) -> Lab:
        """The open lab."""
        return self.whole.lab

    @property
    def book(self) -> Book:
        """All records of the lab."""
        return self.whole.book

    @property
    def settings(self) -> Settings:
        """What the lab decides for itself."""
        return self.book.settings

    @property
    def imprint(self) -> str:
        """Whose release it is: what stands on each sheet of its documents."""
        return f"{self.settings.name} · release {self.name}"

    @property
    def corrects_words(self) -> str:
        """Which release it corrects, as a sentence; "" for none."""
        return f"This release corrects {self.corrects}, which stays as it was." if self.corrects else ""

    @property
    def blocking(self) -> tuple[Finding, ...]:
        """The open findings that block what is published, each once."""
        found = (each for one in self.published for group in one.findings.values() for each in group)
        return tuple(dict.fromkeys(found))

    @property
    def fans(self) -> tuple[str, ...]:
        """The fans that stand in a published ranking, by name."""
        return tuple(sorted({each.fan for one in self.published for each in one.ranking.standings}))


@shared_workers()
def gather(
    lab: Lab,
    name: str,
    *,
    highlight: str = "",
    question: str = "",
    corrects: str = "",
    measures: Sequence[str] = (),
    date: str = "",
    progress: Progress = silent,
) -> Contents:
    """Work out all that a release says.

    Parameters
    ----------
    highlight : a fan, in capitals or not. question : "" for that of the round that registered a measure.
    corrects : the release that this one corrects. measures : as lines of words; else as the lab's settings, a round,
    or the usual list has them. date : today where none is given.

    Raises
    ------
    NotPossible : nothing that could be published. UnknownThing : a fan or a measure that there isn't.
    BadInput : a measure told wrongly.
    """
    whole = worked_out(lab, progress)
    told = _told(whole, measures)
    questions = [asked_from(each) for each in told] if told else list(_usual(whole))
    questions = list({words_of(each): each for each in questions}.values())  # the same twice is one
    published = _published(whole, questions, must=bool(told), progress=progress)
    whole = whole.again()
    if highlight:
        (highlight,) = as_written(whole.book, whole.graph, (highlight,))
        known = sorted({each.fan for one in published for each in one.ranking.standings})
        if highlight not in known:
            raise UnknownThing("fan to highlight", found=repr(highlight), expected=", ".join(known))
    standing = [
        each for each in whole.book.decisions.values() if not has_lapsed(each, whole.found, whole.graph)
    ]
    before = [each for each in releases_of(lab.path) if each.name != name]
    return Contents(
        whole=whole,
        name=name,
        date=date or now()[:10],
        highlight=highlight,
        question=" ".join((question or _question(published)).split()),
        published=published,
        claims=_claims(whole, progress),
        accepted=tuple(each for each in standing if each.action == "accept"),
        excluded=tuple(each for each in standing if each.action == "exclude"),
        previous=before[-1] if before else None,
        corrects=corrects,
    )


def _claims(whole: Whole, progress: Progress) -> tuple[ClaimCheck, ...]:
    """What the boxes say, checked; a failure that rests on one sample is held back (rule 42), unless accepted."""
    blocked = open_blocks(whole.found, whole.book.decisions)
    found = check_claims(whole.lab, whole.book, whole.graph, blocked=blocked, progress=progress)
    single = {
        fan
        for each in unsettled(whole.found, whole.book.decisions)
        if each.rule == ONE_SAMPLE_RULE
        for fan in each.fans
    }
    held = (each.falls_short and not each.is_failure and each.claim.fan in single for each in found)
    return tuple(held_back(each) if is_held else each for each, is_held in zip(found, held, strict=True))


def _told(whole: Whole, measures: Sequence[str]) -> list[str]:
    """The measures that somebody named, as lines: on the command line, in lab.toml, or in the last round."""
    if measures or whole.book.settings.publish.measures:
        return list(measures or whole.book.settings.publish.measures)
    rounds = list(whole.book.rounds.values())
    return [each.measure for each in rounds if each.round == rounds[-1].round]


def _question(published: Sequence[Published]) -> str:
    """What the round asked that registered one of the measures; "" for none."""
    asked = (each.registered.question for each in published if each.registered)
    return next((each for each in asked if each), "")


def _usual(whole: Whole) -> Iterator[Asked]:
    """What a lab usually publishes: airflow at each noise limit through its reference obstacles, free air, pressure,
    level, heat at each limit, and the least duty.
    """
    settings = whole.book.settings
    through = settings.references or tuple(
        sorted({each.obstacle for each in whole.graph.curves if each.obstacle})
    )
    limits = [f"{limit:g} dBA" for limit in settings.sound.limits]
    for each in through[:MOST_REFERENCES]:
        yield from (asked_from(f"airflow through {each} at {limit}") for limit in limits)
    for each in through[:MOST_REFERENCES]:
        yield asked_from(f"airflow through {each}")
    yield from map(asked_from, ("free-airflow", "maximum-pressure", "level"))
    yield from (asked_from(f"heat at {limit}") for limit in limits)
    yield from map(asked_from, ("free-power", "start-duty"))


def _published(
    whole: Whole, questions: Sequence[Asked], *, must: bool, progress: Progress
) -> tuple[Published, ...]:
    """Each question answered; of the usual ones those that at least two fans answer.

    Raises
    ------
    NotPossible : none of them could be, or one that was named has no fan.
    """
    made: list[Published] = []
    for at, asked in enumerate(questions):
        progress("comparing", at, len(questions))
        try:
            answer = compared(whole, asked)
        except StillroomError:
            if must:
                raise
            continue
        found = marked(whole.book, answer.ranking, words_of(asked))
        if must and not found.standings:
            why = "; ".join(f"{each.fan}: {each.why}" for each in found.excluded)
            raise NotPossible(
                f"measure {words_of(asked)!r}",
                found=f"no fan that could be ranked ({why})",
                expected="one or more",
            )
        if must or len([each for each in found.standings if each.rank]) > 1:
            findings = {fan: tuple(each) for fan, each in answer.findings.items()}
            slug = _slug(words_of(asked), {each.slug for each in made})
            made.append(Published(slug, asked, found, findings))
    progress("comparing", len(questions), len(questions))
    if not made:
        raise NotPossible(
            "release", found="no measure in which two fans could be ranked", expected="one or more"
        )
    registry = Registry(whole.lab, whole.again().book, whole.graph)
    return tuple(replace(each, registered=registry.of(each.asked)) for each in made)


def _slug(words: str, taken: set[str]) -> str:
    """A line of words as a plain name of a file, each once."""
    plain = unicodedata.normalize("NFKD", words.lower().replace("%", " percent"))
    base = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60] or "measure"
    slug, number = base, 1
    while slug in taken:
        number += 1
        slug = f"{base}-{number}"
    return slug
