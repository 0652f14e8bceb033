"""The account of a release: all its sentences, as a document, as text and as data."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from stillroom import wording
from stillroom.lab.disputes import disputed
from stillroom.lab.executor import Progress
from stillroom.publish.account.beside import (
    accepted_by_fan,
    finding_sentences,
    left_out_sentences,
    mark_sentences,
    price_sentences,
    registered_sentence,
)
from stillroom.publish.account.ranked import Told, ranked_sentences
from stillroom.publish.account.sentences import Kind, Sentence
from stillroom.publish.account.whole_release import (
    accepted_sentences,
    claim_sentences,
    dispute_sentences,
    excluded_sentences,
)
from stillroom.publish.contents import Contents, Published
from stillroom.publish.document import Block, Bullets, Callout, CalloutKind, Document, Heading, Paragraph
from stillroom.publish.document.as_html import as_html
from stillroom.publish.document.as_text import as_text

SCHEMA = "stillroom/account/1"
"""Name and version of the JSON document; the number rises when a field changes its meaning or goes."""

NAME = "account"


@dataclass(frozen=True)
class Account:
    """What a release says in words.

    Parameters
    ----------
    sentences : in the order of the document. document : the same as a document.
    """

    sentences: tuple[Sentence, ...]
    document: Document

    def of(self, slug: str, *kinds: Kind) -> tuple[Sentence, ...]:
        """The sentences about one published measure, of some kinds where these are named."""
        return tuple(
            each for each in self.sentences if each.slug == slug and (not kinds or each.kind in kinds)
        )

    def about(self, fan: str) -> tuple[Sentence, ...]:
        """The sentences that name a fan."""
        return tuple(each for each in self.sentences if fan in each.fans)


def account_of(contents: Contents) -> Account:
    """Say in words what the release bears out: of each published measure, and of the release as a whole."""
    measured = {each.slug: tuple(_of_measure(contents, each)) for each in contents.published}
    whole = tuple(_of_release(contents))
    sentences = tuple(each for group in (*measured.values(), whole) for each in group)
    return Account(sentences, _document(contents, measured, whole))


def write_account(contents: Contents, folder: Path, progress: Progress) -> list[Path]:
    """Write the account as a page, as text and as JSON.

    Parameters
    ----------
    folder : for the release's documents. progress : told how far it is.

    Returns
    -------
    list[Path] : account.html, account.txt and account.json.
    """
    progress(NAME, 0, 1)
    account = account_of(contents)
    told = {
        "schema": SCHEMA,
        "release": contents.name,
        "date": contents.date,
        "sentences": [each.as_dict() for each in account.sentences],
    }
    files = {
        "html": as_html(account.document),
        "txt": as_text(account.document),
        "json": json.dumps(told, ensure_ascii=False, indent=1, allow_nan=False) + "\n",
    }
    folder.mkdir(parents=True, exist_ok=True)
    for ending, words in files.items():
        (folder / f"{NAME}.{ending}").write_text(words, encoding="utf-8", newline="\n")
    progress(NAME, 1, 1)
    return [folder / f"{NAME}.{ending}" for ending in files]


def _of_measure(contents: Contents, published: Published) -> Iterator[Sentence]:
    told = Told(published.ranking, published.slug, published.title)
    fans = [each.fan for each in published.ranking.standings]
    marks = {fan: disputed(contents.book, fan, published.words) for fan in fans}
    accepted = accepted_by_fan(contents.whole, published.asked, fans, contents.accepted)
    yield from ranked_sentences(told, contents.highlight)
    yield from price_sentences(told)
    yield from left_out_sentences(told)
    yield from mark_sentences(told, {fan: mark for fan, mark in marks.items() if mark})
    yield from finding_sentences(told, published.findings, accepted)
    yield registered_sentence(told, published.registered)


def _of_release(contents: Contents) -> Iterator[Sentence]:
    shown = {each.fan for one in contents.published for each in one.ranking.standings}
    yield from claim_sentences(each for each in contents.claims if each.claim.fan in shown)
    yield from accepted_sentences(contents.accepted, contents.whole.found, contents.book)
    yield from excluded_sentences(contents.excluded, contents.book, contents.whole.graph)
    yield from dispute_sentences(contents.book, sorted(shown))


# --- as a document -----------------------------------------------------------------------------------------------


def _document(
    contents: Contents, measured: dict[str, tuple[Sentence, ...]], whole: Sequence[Sentence]
) -> Document:
    blocks: list[Block] = [Paragraph(_PREFACE)]
    if contents.question:
        blocks.insert(0, Paragraph(f"The question: {contents.question}"))
    for each in contents.published:
        blocks.append(Heading(1, each.title))
        blocks += _blocks(measured[each.slug])
    for kind, title in _TITLES.items():
        own = [each for each in whole if each.kind is kind]
        if own:
            blocks += [Heading(1, title), *_blocks(own)]
    return Document(
        title="What may be said",
        subtitle=f"{contents.name}: {wording.plural(len(contents.published), 'measure')} in words",
        date=contents.date,
        blocks=tuple(blocks),
        footer=contents.imprint,
    )


_PREFACE = (
    "Every sentence here follows from the release's numbers. “Ahead of” is said only where the 95 % interval of the"
    " difference lies beyond zero and the difference beyond the margin; all else is too close to call. In brackets"
    " stand 95 % intervals. A place, as “1st to 4th”, holds for all fans at once: it can be wider than a"
    " verdict between two."
)

_TITLES = {
    Kind.CLAIM: "What boxes claim",
    Kind.ACCEPTED: "Findings that were accepted",
    Kind.EXCLUDED: "What was excluded",
    Kind.DISPUTE: "Under dispute",
}

_TOGETHER = (Kind.BEST, Kind.AHEAD, Kind.ALIKE, Kind.UNRESOLVED, Kind.LEGACY)
"""Kinds whose sentences make the first paragraph of a measure, in this order."""


def _blocks(said: Sequence[Sentence]) -> Iterator[Block]:
    """Sentences as blocks: who is ahead first, the fan under review, then what stands beside it as a list."""
    for kinds in (_TOGETHER, (Kind.PLACE,)):
        words = " ".join(each.text for kind in kinds for each in said if each.kind is kind)
        if words:
            yield Paragraph(words)
    rest = [each for each in said if each.kind not in (*_TOGETHER, Kind.PLACE)]
    for each in rest:
        if each.kind in _CALLOUTS:
            yield _CALLOUTS[each.kind](each.text)
    items = tuple(each.text for each in rest if each.kind not in _CALLOUTS)
    if items:
        yield Bullets(items)


_CALLOUTS: dict[Kind, Callable[[str], Block]] = {
    Kind.ACCEPTED: lambda text: Callout(CalloutKind.ACCEPTED, text),
    Kind.OPEN: lambda text: Callout(CalloutKind.CAUTION, text),
}
