"""What is said of a release as a whole: claims on boxes, findings that were accepted, exclusions, disputes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from stillroom import wording
from stillroom.compare.claims import ClaimCheck
from stillroom.lab.book import Book, place_all
from stillroom.lab.disputes import standing_disputes
from stillroom.lab.exclusions import excluded_by_maker
from stillroom.lab.recipes import Graph
from stillroom.publish.account.sentences import Kind, Sentence
from stillroom.quality import Finding
from stillroom.records.acts import Decision
from stillroom.vocabulary import from_si, is_unit


def flat(told: str) -> str:
    """A name within a sentence: on one line."""
    return " ".join(told.split())


def one_line(told: str) -> str:
    """A lab's words within a sentence: on one line, without a full stop of their own."""
    return " ".join(told.split()).rstrip(".")


def claim_sentences(claims: Iterable[ClaimCheck]) -> Iterator[Sentence]:
    """Each claim with what was measured and its verdict; a failure only by enough samples."""
    for each in claims:
        claim = each.claim
        printed = f"{wording.with_unit(f'{claim.value:g}', claim.unit)}"
        condition = f" ({one_line(claim.condition)})" if claim.condition else ""
        text = (
            f"{wording.isolate(claim.fan)}, {each.title} of {printed}{condition} on the box:"
            f" {_measured_words(each)}{each.words}"
        )
        yield Sentence("", Kind.CLAIM, (claim.fan,), wording.stopped(text))


def _measured_words(each: ClaimCheck) -> str:
    """ "measured 96.1 m³/h (94.9 to 97.2), " in the claim's unit, or "" where it can't be checked."""
    found, symbol = each.measured, each.claim.unit
    if found is None:
        return ""
    value, low, high = (
        from_si(number, symbol) if is_unit(symbol) and not each.is_level else number
        for number in (found.value, found.low, found.high)
    )
    samples = wording.plural(found.samples, "sample")
    return f"measured {wording.with_interval(value, low, high, symbol)} on {samples}; "


def accepted_sentences(
    accepted: Sequence[Decision], found: Iterable[Finding], book: Book
) -> Iterator[Sentence]:
    """The findings that a person accepted, each with why."""
    by_id, known = {each.id: each for each in found}, subjects_of(book)
    for each in accepted:
        finding = by_id.get(each.finding)
        title = f" ({finding.title})" if finding else ""
        said = f": {one_line(finding.found)}" if finding else ""
        about = _subject(each.subject, known).words
        text = (
            f"Published with an accepted finding of rule {each.rule}{title} about {about}{said};"
            f" accepted on {each.time[:10]} by {flat(each.by)}: “{one_line(each.reason)}”"
        )
        yield Sentence("", Kind.ACCEPTED, finding.fans if finding else (), wording.stopped(text))


def excluded_sentences(excluded: Sequence[Decision], book: Book, graph: Graph) -> Iterator[Sentence]:
    """What was excluded, why, by whom, whether a ranking with it had been seen, and how much of each maker's data."""
    known = subjects_of(book)
    groups: dict[tuple[str, str, str, str, bool | None], list[str]] = {}
    for each in excluded:
        subject = _subject(each.subject, known)
        group = (subject.fan, one_line(each.reason), flat(each.by), each.time[:10], each.after_ranking)
        groups.setdefault(group, []).append(subject.words)
    for (fan, reason, by, day, after), subjects in groups.items():
        of = f"of {wording.isolate(fan)}, " if fan else ""
        when = {
            True: ", after a ranking with it had been kept",
            False: ", before any ranking with it",
            None: "",
        }
        text = f"Excluded, {of}{wording.listed(subjects)}: “{reason}”, by {by} on {day}{when[after]}"
        yield Sentence("", Kind.EXCLUDED, (fan,) if fan else (), wording.stopped(text))
    if excluded:
        yield _by_maker(book, graph)


def _by_maker(book: Book, graph: Graph) -> Sentence:
    """How much of each maker's data that is."""
    counted = excluded_by_maker(book, graph)
    said = [
        f"{wording.isolate(maker)} {each.runs} of {each.of}" for maker, each in counted.items() if each.of
    ]
    return Sentence("", Kind.EXCLUDED, (), wording.stopped(f"Runs excluded, by maker: {'; '.join(said)}"))


def dispute_sentences(book: Book, fans: Iterable[str]) -> Iterator[Sentence]:
    """The disputes that stand about the fans of the release, with the laboratory's reply."""
    for fan in fans:
        for each in standing_disputes(book, fan):
            what = f"The number of {wording.isolate(fan)} for {one_line(each.measure)} is" if each.measure else (
                f"The numbers of {wording.isolate(fan)} are")  # fmt: skip
            by = f" by {flat(each.by)}" if each.by else ""
            reply = (
                f"; the laboratory replied{f' on {each.reply_date}' if each.reply_date else ''}: “"
                if each.reply
                else ""
            )
            reply += f"{one_line(each.reply)}”" if each.reply else ""
            text = f"{what} under dispute since {each.since}{by}{reply}"
            yield Sentence("", Kind.DISPUTE, (fan,), wording.stopped(text))


@dataclass(frozen=True)
class Subject:
    """What a finding or a decision is about: in words, and the fan that it is of, "" where it is of none."""

    words: str
    fan: str = ""


def subjects_of(book: Book) -> Mapping[str, Subject]:
    """{subject of a finding or decision: what it is} of mountings and runs."""
    found: dict[str, Subject] = {}
    for each in place_all(book):
        file = PurePosixPath(each.taken.file).name
        part = f", part {each.taken.part}" if each.taken.part else ""
        found[f"run:{each.run}"] = Subject(f"run {file}{part}", each.fan)
        if each.fan:
            found[f"mounting:{each.mounting}"] = Subject(f"mounting {each.mounting}", each.fan)
    return found


def _subject(subject: str, known: Mapping[str, Subject]) -> Subject:
    kind, _, name = subject.partition(":")
    plain = Subject(f"{kind} {name}" if name else subject, name if kind == "fan" else "")
    return known.get(subject, plain)
