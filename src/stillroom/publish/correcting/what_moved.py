"""What moved since a release was frozen: everything it says, beside what the lab says now."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from typing import Any

from stillroom.compare.standing import Ranking
from stillroom.errors import LabDamaged
from stillroom.lab.compared import compared
from stillroom.publish.account import Kind, account_of
from stillroom.publish.contents import Contents, Published
from stillroom.publish.correcting.comparing import Then, compare_measure
from stillroom.publish.correcting.gathering import Again
from stillroom.publish.correcting.moved import MeasureMoved, Moved, PieceMoved, SentenceMoved
from stillroom.publish.correcting.pieces import charts_moved, documents_moved
from stillroom.publish.correcting.sentences import sentences_moved
from stillroom.publish.correcting.stale import what_changed
from stillroom.publish.document.as_data import as_data
from stillroom.publish.methodology import changes_between, methodology_of
from stillroom.publish.pack.belonging import belonging
from stillroom.publish.pack.writing import digest_of
from stillroom.publish.release import Release
from stillroom.records.publishing import Frozen
from stillroom.store.releases import NOTICE, wrong_in

DOCUMENTS = "documents"


def what_moved(again: Again, release: Release) -> Moved:
    """Compare a frozen release with what the lab says now.

    Parameters
    ----------
    again : what the same release would say now (`gathered_again`).

    Raises
    ------
    LabDamaged : what the release keeps of its numbers can't be read.
    """
    contents = again.contents
    then = [_then(release, each) for each in release.measures]
    among = _among(contents, [each for each in then if isinstance(each, Then)])
    measures = tuple(_measure(contents, among, again.gone, each, told)
                     for each, told in zip(then, release.measures, strict=True))  # fmt: skip
    unknown = _unknown(again, measures)
    sentences = _sentences(among, release, unknown)
    charts = _charts(among, release, measures, unknown)
    files = [path for path in release.manifest if path != NOTICE]
    documents = documents_moved(files, measures, sentences, _method_lines(among, release, unknown))
    return Moved(
        release=release.name,
        frozen=release.date,
        date=contents.date,
        lab=contents.settings.name,
        changes=what_changed(contents.lab, contents.book, contents.whole.graph, release),
        measures=measures,
        sentences=sentences,
        charts=charts,
        documents=documents,
        unknown=tuple(unknown),
        damage=_damage(contents, release),
    )


def _then(release: Release, told: Mapping[str, Any]) -> Then | LabDamaged:
    """A measure as the release has it, or why it can't be read."""
    slug, title, words = (str(told[each]) for each in ("slug", "title", "words"))
    try:
        return Then(slug, title, words, release.standings(slug), release.trials(slug))
    except LabDamaged as error:
        return error


def _among(contents: Contents, then: Sequence[Then]) -> Contents:
    """The contents with the fans alone that the release knew: a fan that is new since changes no sentence or chart."""
    known = {each.words: each.fans for each in then}
    published = tuple(
        replace(each, ranking=_among_fans(contents, each, known[each.words])) if each.words in known else each
        for each in contents.published
    )
    return replace(contents, published=published)


def _among_fans(contents: Contents, now: Published, fans: Collection[str]) -> Ranking:
    ranked = {each.fan for each in now.ranking.standings}
    here = ranked | {each.fan for each in now.ranking.excluded}
    known = tuple(each for each in fans if each in here)
    if not known or ranked <= set(fans):
        return replace(
            now.ranking, excluded=tuple(each for each in now.ranking.excluded if each.fan in known)
        )
    return compared(contents.whole, replace(now.asked, only=known)).ranking


def _measure(
    contents: Contents,
    among: Contents,
    gone: Mapping[str, str],
    then: Then | LabDamaged,
    told: Mapping[str, Any],
) -> MeasureMoved:
    if isinstance(then, LabDamaged):
        why = f"its old numbers can't be read ({then})"
        return MeasureMoved(str(told["slug"]), str(told["title"]), "", gone=why)
    pairs = zip(contents.published, among.published, strict=True)
    found = next(((each, known) for each, known in pairs if each.words == then.words), None)
    if found is None:
        why = gone.get(then.words, "it is not measured any more")
        return MeasureMoved(then.slug, then.title, str(then.ranking["unit"]), gone=why)
    return compare_measure(then, found[0].ranking, found[1].ranking)


def _unknown(again: Again, measures: tuple[MeasureMoved, ...]) -> list[str]:
    """What can't be compared any more, and why."""
    said = [f"{each.title}: {each.gone}" for each in measures if each.gone]
    if again.highlight_gone:
        said.append(f"{again.highlight_gone}, the fan under review, has no value in any measure now")
    for measure in measures:
        without = {each.why for each in measure.fans if each.difference and each.difference.low is None}
        said += [f"{measure.title}: {why}" for why in sorted(without) if why]
    return said


def _sentences(contents: Contents, release: Release, unknown: list[str]) -> tuple[SentenceMoved, ...]:
    """What the account says no more; what can't be read of the old one is told in `unknown`."""
    if f"{DOCUMENTS}/account.json" not in release.manifest:
        return ()
    try:
        then = list(release.account()["sentences"])
    except (LabDamaged, KeyError) as error:
        unknown.append(f"sentences of the account: {error}")
        return ()
    now = [each.as_dict() for each in account_of(contents).sentences if each.kind is not Kind.OPEN]
    return sentences_moved(then, now)  # an open finding stops a publication: no release says it


def _charts(
    contents: Contents, release: Release, measures: Sequence[MeasureMoved], unknown: list[str]
) -> tuple[PieceMoved, ...]:
    """The charts that show what is not so any more; what can't be read of the old ones is told in `unknown`."""
    if "charts/charts.json" not in release.manifest:
        return ()
    try:
        then = release.charts()
    except (LabDamaged, KeyError) as error:
        unknown.append(f"charts: {error}")
        return ()
    drawn, missing = belonging(contents)
    now = {each.name: (digest_of(each.whole), each.whole.title) for each in drawn}
    return charts_moved(then, now, {each.name: each.why for each in missing}, measures)


def _method_lines(contents: Contents, release: Release, unknown: list[str]) -> int:
    """How many lines of the methodology read otherwise now."""
    if f"{DOCUMENTS}/methodology.json" not in release.manifest:
        return 0
    try:
        found = changes_between(release.methodology(), as_data(methodology_of(contents)))
    except LabDamaged as error:
        unknown.append(f"methodology: {error}")
        return 0
    return len(found.changed) + len(found.added) + len(found.removed)


def _damage(contents: Contents, release: Release) -> tuple[str, ...]:
    """Files of the release that are not as they were written, by its manifest and by the journal's hash of that."""
    record = contents.lab.current(Frozen).get(release.name)
    return tuple(wrong_in(release.folder, record.manifest if record else ""))
