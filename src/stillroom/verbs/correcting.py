"""Corrections: what of a frozen release is not so any more, and the release that puts it right."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from stillroom import wording
from stillroom.errors import BadInput, LabDamaged
from stillroom.lab.executor import Progress, shared_workers, silent
from stillroom.publish.correcting.gathering import corrected_name, gathered_again
from stillroom.publish.correcting.moved import FanMoved, MeasureMoved, Moved, Movement
from stillroom.publish.correcting.notice import notice_of, summary
from stillroom.publish.correcting.publishing import publish_correction
from stillroom.publish.correcting.what_moved import what_moved
from stillroom.publish.correcting.words import change_words, is_printed, share_words, value_words
from stillroom.publish.document.as_data import as_data
from stillroom.publish.release import checked_name, read_release
from stillroom.records.publishing import Frozen
from stillroom.verbs.doors import open_lab
from stillroom.verbs.publishing import blocked
from stillroom.verbs.said import BLOCKED, DONE, Said, Table

MOST_SENTENCES, MOST_FILES = 12, 12
"""How many a screen lists."""


def correct(
    release: str,
    *,
    publish: bool = False,
    name: str = "",
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Compare a frozen release with what the lab says now: what moved, why, and the notice that says so.

    It ends with 1 where something moved that isn't published yet. The old release is never changed but for the link
    to the new one.

    Parameters
    ----------
    release : its name.
    publish : freeze a new release with the notice in it, to which the old one leads.
    name : of the new release; RELEASE-corrected where none is given.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    if name and not publish:
        raise BadInput("--name", found="no --publish", expected="--publish --name NAME")
    with shared_workers(), open_lab(lab) as opened:
        old = read_release(opened.path, release)
        if old.name not in opened.current(Frozen):
            raise LabDamaged("release", place=str(old.folder), found="one of which the journal knows nothing",
                             expected="a release that this lab froze")  # fmt: skip
        new = checked_name(name or corrected_name(opened, old))
        again = gathered_again(opened, old, new, progress)
        moved = what_moved(again, old)
        if not publish or not moved.is_moved:
            return _said(moved, old.corrected_by, asked=publish)
        if again.contents.blocking:
            return blocked(again.contents.blocking)
        made = publish_correction(again.contents, old, moved, progress)
    lines = (f"{old.name} leads to it, and is else as it was.",
             f"The notice: {made.folder / 'documents' / 'correction.html'}")  # fmt: skip
    data = {**moved.as_dict(), "published": made.name, "folder": str(made.folder)}
    return Said(f"Corrected {old.name}: published {made.name}, in {made.folder}.",
                lines=(*summary(moved, made.name), *lines), data=data)  # fmt: skip


def _said(moved: Moved, corrected_by: str, *, asked: bool) -> Said:
    """What moved, for the lab: nothing is left out."""
    if not moved.is_moved:
        none = "; no correction was published" if asked else ""
        return Said(f"Nothing that {moved.release} says has moved{none}.", lines=tuple(_beside(moved)),
                    data=_data(moved), code=DONE)  # fmt: skip
    count = sum(each.is_moved for each in moved.measures)
    of = (
        f"{wording.count(count)} of {wording.plural(len(moved.measures), 'measure')} moved"
        if count
        else ("no measure moved, but what is said of them did")
    )
    title = f"{moved.release} of {moved.frozen} is not what the lab says now: {of}."
    tables = [(_heading(each), _table(each)) for each in moved.measures if each.is_moved and not each.gone]
    lines = [*_lapsed(moved), *_notes(moved), *_beside(moved), *summary(moved)[2:]]
    if corrected_by:
        lines.append(f"{corrected_by} corrected it already: stillroom correct {corrected_by}")
    else:
        lines.append(f"stillroom correct {moved.release} --publish freezes the correction.")
    return Said(title, tuple(tables), tuple(lines), _data(moved), BLOCKED)


def _lapsed(moved: Moved) -> Iterator[str]:
    """That decisions are to be made again first: else the numbers show more than the correction."""
    if moved.lapsed:
        many = wording.plural(len(moved.lapsed), "exclusion").capitalize()
        yield f"{many} lapsed, since what was judged is not as it was: the new numbers hold what the old ones left out."
        yield "Look at them (stillroom review), `stillroom decide again exclude --reason …`, and then correct."


def _data(moved: Moved) -> dict[str, object]:
    return {**moved.as_dict(), "notice": as_data(notice_of(moved))}


def _heading(measure: MeasureMoved) -> str:
    return f"{measure.title} [{measure.unit}]" if measure.unit not in ("", "1") else measure.title


def _table(measure: MeasureMoved) -> Table:
    headers = ("fan", "was", "is now", "new − old", "share", "place", "verdict")
    rows = tuple(_row(each, measure) for each in measure.fans)
    return Table(headers, rows, right=(1, 2, 3, 4))


def _row(fan: FanMoved, measure: MeasureMoved) -> tuple[str, ...]:
    places = [wording.places(each.rank) if each else "" for each in (fan.old, fan.new)]
    verdicts = [each.verdict if each else "" for each in (fan.old, fan.new)]
    if fan.movement is Movement.UNMOVED:
        change = "the same"
    elif fan.difference is None:
        change = fan.movement.value
    else:
        change = change_words(fan) + ("" if is_printed(fan) else ", under the last digit")
    return (fan.fan, value_words(fan.old), value_words(fan.new), change, share_words(fan, measure),
            _both(places), _both(verdicts))  # fmt: skip


def _both(pair: list[str]) -> str:
    before, now = pair
    return before if before == now else f"{before} → {now}"


def _notes(moved: Moved) -> Iterator[str]:
    """What a table doesn't hold: notes of measures, winners, sentences, charts and documents."""
    for each in moved.measures:
        yield from (f"{each.title}: {note}" for note in each.notes)
        yield from (f"{each.title}: {fan.fan} has no value now: {fan.why}" for fan in each.fans
                    if fan.movement is Movement.GONE)  # fmt: skip
        if each.pairs:
            pairs = [f"{one.a} and {one.b} ({one.before} → {one.now})" for one in each.pairs]
            yield f"{each.title}: another verdict between {wording.listed(pairs, most=8)}"
    for sentence in moved.sentences[:MOST_SENTENCES]:
        yield f"Sentence ({sentence.kind}): {sentence.before or 'none'} → {sentence.now or 'none'}"
    if len(moved.sentences) > MOST_SENTENCES:
        yield f"and {len(moved.sentences) - MOST_SENTENCES} more sentences (--json has them all)"
    if moved.charts:
        yield f"Charts that show old numbers: {wording.listed([each.name for each in moved.charts], most=MOST_FILES)}"
    if moved.documents:
        yield f"Not up to date: {wording.listed([each.name for each in moved.documents], most=MOST_FILES)}"


def _beside(moved: Moved) -> Iterator[str]:
    """What changed in the lab, what can't be compared, and what is damaged."""
    yield from (f"Changed: {each.line}" for each in moved.changes)
    yield from (f"Can't be compared: {each}" for each in moved.unknown)
    yield from (f"Damaged: {each} (stillroom verify)" for each in moved.damage)
    new = {fan.fan for each in moved.measures for fan in each.fans if fan.movement is Movement.NEW}
    if new:
        yield f"New since, and no part of the comparison: {wording.listed(sorted(new))}"
