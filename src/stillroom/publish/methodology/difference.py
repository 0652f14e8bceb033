"""What changed in the methodology since the last release: sections, lines, thresholds and versions, old and new."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from stillroom import wording
from stillroom.publish.document import Block, Bullets, Document, Grid, Heading, Paragraph
from stillroom.publish.document.as_data import as_data
from stillroom.publish.methodology.lines import Data, Line, lines_of, sections_of
from stillroom.publish.methodology.versions_used import FOLLOWING
from stillroom.publish.methodology.words import several
from stillroom.publish.release import Release

TITLE = "What changed in the method"

FIRST = "This is the first release of this laboratory that has a methodology: there is nothing to compare it with."

NOTHING = "Nothing changed: the methodology reads as it did."

ALIKE = 0.6
"""From which likeness on two sentences are one that was changed [1]."""

MOST_PAIRS = 400
"""Sentences of a section are only held against each other one by one up to so many pairs."""


@dataclass(frozen=True)
class Changed:
    """One thing that reads otherwise: where, of what, before and now."""

    section: tuple[str, ...]
    what: str
    before: str
    now: str


@dataclass(frozen=True)
class Changes:
    """What changed between two documents, by section; nothing where both read the same.

    Parameters
    ----------
    new_sections, gone_sections : headings. changed, added, removed : lines. order : of all sections.
    """

    new_sections: tuple[tuple[str, ...], ...]
    gone_sections: tuple[tuple[str, ...], ...]
    changed: tuple[Changed, ...]
    added: tuple[Line, ...]
    removed: tuple[Line, ...]
    order: tuple[tuple[str, ...], ...] = ()

    def __bool__(self) -> bool:
        """Whether anything changed."""
        return any((self.new_sections, self.gone_sections, self.changed, self.added, self.removed))

    @property
    def sections(self) -> tuple[tuple[str, ...], ...]:
        """The sections in which a line changed, was added or removed, in their order."""
        touched = {each.section for each in self.changed} | {
            each.section for each in (*self.added, *self.removed)
        }
        return tuple(each for each in self.order if each in touched)


def changes_since(previous: Release | None, document: Document) -> Document:
    """What changed in the methodology since another release.

    Parameters
    ----------
    previous : the other release, None for none. document : the methodology now.

    Returns
    -------
    A document in words; that it is the first one where there is no other.

    Raises
    ------
    LabDamaged : the other release's methodology can't be read.
    """
    if previous is None or "documents/methodology.json" not in previous.manifest:
        return _document(document, "", [Paragraph(FIRST)])
    found = changes_between(previous.methodology(), as_data(document))
    since = f"{previous.name} of {previous.date}"
    return _document(document, since, list(_blocks(found)) if found else [Paragraph(NOTHING)])


def _document(document: Document, since: str, blocks: Sequence[Block]) -> Document:
    return Document(
        title=TITLE,
        subtitle=f"{document.subtitle}, against the release {since}" if since else document.subtitle,
        date=document.date,
        blocks=tuple(blocks),
        footer=document.footer.replace("methodology", "changes"),
        language=document.language,
    )


def changes_between(old: Data, new: Data) -> Changes:
    """What changed between two documents, as `as_data` gives them."""
    before, now = sections_of(old), sections_of(new)
    order = _merged(now, before)
    lines_before, lines_now = (_compared(lines_of(each)) for each in (old, new))
    changed: list[Changed] = []
    added: list[Line] = []
    removed: list[Line] = []
    for section in order:
        gone = [each for each in lines_before if each.section == section]
        came = [each for each in lines_now if each.section == section]
        _compare(gone, came, changed, added, removed)
    return Changes(
        tuple(each for each in now if each not in before),
        tuple(each for each in before if each not in now),
        tuple(changed),
        tuple(added),
        tuple(removed),
        tuple(order),
    )


NOT_COMPARED = frozenset({FOLLOWING})
"""Tables whose lines tell nothing of the method: keys move with every reading."""


def _compared(lines: list[Line]) -> list[Line]:
    return [each for each in lines if each.table not in NOT_COMPARED]


def _merged(now: Sequence[tuple[str, ...]], before: Sequence[tuple[str, ...]]) -> list[tuple[str, ...]]:
    """All sections in the order of the document now; those that are gone stand after what they stood after."""
    order: list[tuple[str, ...]] = [(), *now]
    last: tuple[str, ...] = ()
    for each in before:
        if each not in order:
            order.insert(order.index(last) + 1, each)
        last = each
    return order


def _compare(
    gone: list[Line], came: list[Line], changed: list[Changed], added: list[Line], removed: list[Line]
) -> None:
    """Compare the lines of one section: rows and formulas by what names them, sentences by what they say."""
    named = {(each.table, each.name): each for each in gone if each.name}
    here = {(each.table, each.name): each for each in came if each.name}
    for key, each in here.items():
        if key in named:
            changed.extend(_cells(named[key], each))
        else:
            added.append(each)
    removed.extend(each for key, each in named.items() if key not in here)
    _sentences([each for each in gone if not each.name], [each for each in came if not each.name],
               changed, added, removed)  # fmt: skip


def _cells(before: Line, now: Line) -> Iterator[Changed]:
    """The cells of a row, or the parts of a formula, that read otherwise."""
    what = f"{now.table}, {now.name}" if now.table else now.name
    for header in dict.fromkeys((*now.cells, *before.cells)):
        old, new = before.cells.get(header, ""), now.cells.get(header, "")
        if old != new:
            yield Changed(now.section, f"{what}: {header}" if header else what, old, new)


def _sentences(
    gone: list[Line], came: list[Line], changed: list[Changed], added: list[Line], removed: list[Line]
) -> None:
    """Sentences that are not the same: those that are alike were changed, the others came or went."""
    old = [each for each in gone if each.words not in {one.words for one in came}]
    new = [each for each in came if each.words not in {one.words for one in gone}]
    if len(old) * len(new) <= MOST_PAIRS:
        pairs = [
            (_likeness(one.words, two.words), i, j) for i, one in enumerate(old) for j, two in enumerate(new)
        ]
        for likeness, i, j in sorted(pairs, key=lambda each: (-each[0], each[1], each[2])):
            if likeness >= ALIKE and old[i] in gone and new[j] in came:
                gone.remove(old[i])
                came.remove(new[j])
                changed.append(Changed(new[j].section, "", old[i].words, new[j].words))
    removed.extend(each for each in old if each in gone)
    added.extend(each for each in new if each in came)


def _likeness(one: str, two: str) -> float:
    return difflib.SequenceMatcher(None, one, two, autojunk=False).ratio()


# --- in words ------------------------------------------------------------------------------------------------


def _blocks(found: Changes) -> Iterator[Block]:
    """The changes, section by section, old beside new."""
    if counted := _counted(found):
        yield Paragraph(wording.sentence(wording.listed(counted)))
    yield from _sections(found)
    for section in found.sections:
        yield Heading(1, _heading(section))
        own = [each for each in found.changed if each.section == section]
        if own:
            yield Grid(
                ("What", "Before", "Now"),
                tuple(
                    (each.what or "a sentence", each.before or "nothing", each.now or "nothing")
                    for each in own
                ),
                caption="Changed",
            )
        for title, lines in (("Added", found.added), ("Removed", found.removed)):
            here = [each for each in lines if each.section == section]
            if here:
                yield Paragraph(f"{title}:")
                yield Bullets(tuple(each.words for each in here))


def _counted(found: Changes) -> list[str]:
    told: list[tuple[Sequence[Any], str]] = [
        (found.changed, "changed"),
        (found.added, "added"),
        (found.removed, "removed"),
    ]
    return [f"{several(len(of), 'line')} {verb}" for of, verb in told if of]


def _sections(found: Changes) -> Iterator[Block]:
    told = [*(f"New part: {_heading(each)}." for each in found.new_sections),
            *(f"Part that is gone: {_heading(each)}." for each in found.gone_sections)]  # fmt: skip
    if told:
        yield Bullets(tuple(told))


def _heading(section: tuple[str, ...]) -> str:
    return " – ".join(section) or "At the beginning"
