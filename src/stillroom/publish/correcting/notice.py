"""The notice of a correction, written from the records: what was wrong, what moved, what didn't, who leads now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from stillroom import wording
from stillroom.publish.correcting.changes import Change
from stillroom.publish.correcting.moved import FanMoved, MeasureMoved, Moved, Movement, PairMoved
from stillroom.publish.correcting.words import (
    change_words,
    is_printed,
    reader_verdict,
    share_words,
    value_words,
    winner_words,
)
from stillroom.publish.document import (
    Block,
    Bullets,
    Callout,
    CalloutKind,
    Document,
    Grid,
    Heading,
    Paragraph,
)

MOST_NAMED = 6


def notice_of(moved: Moved, *, new: str = "") -> Document:
    """The notice.

    Parameters
    ----------
    new : the name of the release that carries the new numbers; "" for a draft, before there is one.
    """
    blocks: list[Block] = [*map(Paragraph, summary(moved, new))]
    blocks += _causes(moved.changes)
    blocks += _winners(moved)
    blocks += _measures(moved)
    blocks += _sentences(moved)
    blocks += _pieces(moved)
    blocks += _unknown(moved)
    blocks += _unmoved(moved)
    footer = f"{moved.lab} · correction of {moved.release} · {moved.date}"
    return Document(f"Correction of {moved.release}", moved.lab, moved.date, tuple(blocks), footer)


def summary(moved: Moved, new: str = "") -> list[str]:
    """The correction in a few sentences: what every reader should know."""
    if not moved.is_moved:
        return [f"Nothing that {moved.release} of {moved.frozen} says has moved, as of {moved.date}."]
    first = f"We corrected this on {moved.date}." if new else f"Draft of {moved.date}: not published yet."
    about = [each for each in moved.changes if each.matter.corrects] or list(moved.changes)
    why = f"What was changed: {wording.listed([each.words for each in about], most=3)}." if about else ""
    named = [_with_share(each) for each in moved.measures if each.is_moved]
    count = (
        f"No measure moved, but what {moved.release} of {moved.frozen} says of them did."
        if not named
        else (
            f"Of {wording.plural(len(moved.measures), 'measure')} that {moved.release} of {moved.frozen} published,"
            f" {wording.count(len(named))} moved: {wording.listed(named, most=MOST_NAMED)}."
        )
    )
    told = (first, why, count, _winner_sentence(moved), _lapsed(moved), _where(moved, new))
    return [each for each in told if each]


def _with_share(measure: MeasureMoved) -> str:
    """A measure with the least and the greatest change of its fans: "Free airflow (−2.2 to +1.3 %)"."""
    told = [
        100.0 * each.difference.value / abs(each.old.value)
        for each in measure.moved
        if measure.relative and each.difference and each.old and each.old.value
    ]
    if not told:
        return measure.title
    low, high = (signed(each) for each in (min(told), max(told)))
    return f"{measure.title} ({low} %)" if low == high else f"{measure.title} ({low} to {high} %)"


def signed(share: float) -> str:
    """A share in per cent to one decimal with its sign; none on a zero."""
    words = wording.number(share, 1)
    return f"+{words}" if share > 0 and words != "0.0" else words


def _lapsed(moved: Moved) -> str:
    """That new numbers hold what the old ones left out."""
    if not moved.lapsed:
        return ""
    many = wording.plural(len(moved.lapsed), "exclusion")
    return f"{wording.sentence(many)[:-1]} lapsed with it: what was left out of the old numbers is in the new ones."


def _winner_sentence(moved: Moved) -> str:
    changed = moved.winner_changed
    if not changed:
        return "No winner changed: in every measure the same fans may be the best."
    other = [each for each in changed if each.leader[0] != each.leader[1]]
    said = {"Another fan leads": other, "The same fan leads, but others may be the best": [
        each for each in changed if each not in other]}  # fmt: skip
    return " ".join(
        f"{words} in {wording.plural(len(each), 'measure')}:"
        f" {wording.listed([one.title for one in each], most=MOST_NAMED)}."
        for words, each in said.items()
        if each
    )


def _where(moved: Moved, new: str) -> str:
    if not new:
        return ""
    return f"The new numbers are in {new}; {moved.release} stays as it was, with a note that leads to them."


def _causes(changes: Sequence[Change]) -> Iterator[Block]:
    """What was not as it should be, and since when, by the records."""
    about = [each for each in changes if each.matter.corrects]
    beside = [each for each in changes if not each.matter.corrects]
    if about:
        yield Heading(1, "What was changed, and why")
        yield Bullets(tuple(_told_once(about)))
    if beside:
        yield Heading(1, "What else is new since")
        yield Bullets(tuple(_told_once(beside)))


def _told_once(changes: Iterable[Change]) -> Iterator[str]:
    """Changes in words; what one entry changed of a record shares its reason and its day."""
    for (entry, _), group in groupby(changes, lambda each: (each.entry, each.why)):
        same = list(group)
        if entry:
            yield _cause(replace(same[0], words="; ".join(each.words for each in same)))
        else:
            yield from map(_cause, same)


def _cause(change: Change) -> str:
    when = f" — entered {change.date}, journal entry {change.entry}" if change.entry else ""
    return change.words + (f" ({change.why})" if change.why else "") + when


def _winners(moved: Moved) -> Iterator[Block]:
    if not moved.is_moved:
        return
    yield Heading(1, "Who leads")
    if not moved.winner_changed:
        yield Callout(CalloutKind.NOTE, "No winner changed.")
        return
    rows = tuple(
        (each.title, _leads(each.best[0], each.leader[0]), _leads(each.best[1], each.leader[1]))
        for each in moved.winner_changed
    )
    yield Grid(
        ("measure", "we said", "now"), rows, caption="Measures in which another fan leads, or others may"
    )


def _leads(best: tuple[str, ...], leader: str) -> str:
    return (
        wording.sentence(winner_words(best, leader)) if len(best) != 1 else f"{winner_words(best, leader)}."
    )


def _measures(moved: Moved) -> Iterator[Block]:
    there = [each for each in moved.measures if each.is_moved and not each.gone]
    if not there:
        return
    yield Heading(1, "What moved, old beside new")
    yield Paragraph("The change is the new number minus the old one. Its interval leaves out what both numbers share,"
                    " so that it shows the correction and not the uncertainty of the numbers.")  # fmt: skip
    for measure in there:
        yield Heading(2, measure.title)
        shown = [each for each in measure.moved if is_printed(each) or each.remarks_moved]
        if shown:
            yield Grid(HEADERS, tuple(_row(each, measure) for each in shown), (1, 2, 3, 4),
                       f"{measure.title}, {measure.unit}, with 95 % intervals")  # fmt: skip
        yield from map(Paragraph, _remarks(measure, shown))


HEADERS = ("fan", "we said", "now", "change", "share", "place", "verdict")


def _row(fan: FanMoved, measure: MeasureMoved) -> tuple[str, ...]:
    places = [wording.places(each.rank) if each else "none" for each in (fan.old, fan.new)]
    verdicts = [
        reader_verdict(each, best) or "none"
        for each, best in zip((fan.old, fan.new), measure.best, strict=True)
    ]
    numbers = (value_words(fan.old), value_words(fan.new), change_words(fan))
    return (
        fan.fan, *(each.replace(" ", wording.NO_BREAK) for each in numbers), share_words(fan, measure),
        _turned(places), _turned(verdicts),
    )  # fmt: skip


def _turned(pair: Sequence[str]) -> str:
    """Both where they differ, else the one: "1 to 4", "1 to 4, now 2 to 4"."""
    return pair[0] if pair[0] == pair[1] else f"{pair[0]}, now {pair[1]}"


def _remarks(measure: MeasureMoved, shown: Sequence[FanMoved]) -> list[str]:
    """What a table can't say: margins, fans that are gone, little moves, what stayed."""
    said = list(measure.notes)
    for each in measure.fans:
        if each.movement is Movement.GONE:
            said.append(wording.stopped(f"{wording.isolate(each.fan)} has no value now: {each.why}"))
        if each.remarks_moved and each.old and each.new:
            lost, gained = (sorted(set(one) - set(other)) for one, other in
                            ((each.old.marks, each.new.marks), (each.new.marks, each.old.marks)))  # fmt: skip
            said += [f"{wording.isolate(each.fan)} is not marked “{mark}” any more." for mark in lost]
            said += [f"{wording.isolate(each.fan)} is marked “{mark}” now." for mark in gained]
    pairs = [
        f"{wording.isolate(each.a)} and {wording.isolate(each.b)}" for each in measure.pairs if _seen(each)
    ]
    if pairs:
        said.append(f"Another verdict between {wording.listed(pairs, most=MOST_NAMED)}.")
    little = [each.fan for each in measure.moved if each not in shown]
    if little:
        said.append(f"{wording.listed(little)} moved by less than the last printed digit.")
    still = [each.fan for each in measure.fans if not each.is_moved and each.movement is not Movement.NEW]
    if still:
        said.append(f"{wording.listed(still)} did not move.")
    new = [each.fan for each in measure.fans if each.movement is Movement.NEW]
    if new:
        said.append(f"New since, and no part of the comparison: {wording.listed(new)}.")
    return said


def _seen(pair: PairMoved) -> bool:
    """Whether readers see another verdict: "tied" and "not resolved" are both too close to call to them."""
    return bool({pair.before, pair.now} & {"ahead", "behind"})


def _sentences(moved: Moved) -> Iterator[Block]:
    if not moved.sentences:
        return
    titles = {each.slug: each.title for each in moved.measures}
    yield Heading(1, "Sentences that do not stand any more")
    rows = tuple(
        (titles.get(each.slug, ""), each.before or "(nothing)", each.now or "(nothing)")
        for each in moved.sentences
    )
    yield Grid(("about", "we wrote", "now"), rows, caption="Sentences of the account, then and now")


def _pieces(moved: Moved) -> Iterator[Block]:
    """Charts and documents that show old numbers."""
    if moved.charts:
        yield Heading(1, "Charts that show old numbers")
        yield Bullets(tuple(f"{each.name}: {each.why}" for each in moved.charts))
    if moved.documents:
        yield Heading(1, "Tables and documents that are not up to date")
        yield Bullets(tuple(f"{each.name}: {each.why}" for each in moved.documents))


def _unknown(moved: Moved) -> Iterator[Block]:
    if moved.unknown or moved.damage:
        yield Heading(1, "What can't be compared")
        yield Bullets((*moved.unknown, *(f"file of {moved.release}: {each}" for each in moved.damage)))


def _unmoved(moved: Moved) -> Iterator[Block]:
    still = [each.title for each in moved.measures if not each.is_moved]
    if still and moved.is_moved:
        yield Heading(1, "What did not move")
        yield Bullets(tuple(still))
