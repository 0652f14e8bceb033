"""The same release as the lab would make it now: its measures, its highlight and its question."""

from __future__ import annotations

import re
from dataclasses import dataclass

from stillroom.errors import NotPossible, StillroomError
from stillroom.lab.compared import compared
from stillroom.lab.executor import Progress, silent
from stillroom.lab.measure_words import asked_from
from stillroom.lab.whole import Whole, worked_out
from stillroom.publish.contents import Contents, gather
from stillroom.publish.release import Release
from stillroom.store.lab import Lab
from stillroom.store.releases import FOLDER

_CORRECTED = re.compile(r"-corrected(-\d+)?$")


def corrected_name(lab: Lab, release: Release) -> str:
    """The name that a correction of a release gets: NAME-corrected, then NAME-corrected-2 and so on.

    A correction of a correction is numbered on, as one more of the first release.
    """
    base = _CORRECTED.sub("", release.name) if release.corrects else release.name
    number, name = 1, f"{base}-corrected"
    while (lab.path / FOLDER / name).exists():
        number += 1
        name = f"{base}-corrected-{number}"
    return name


@dataclass(frozen=True)
class Again:
    """What a release would say now.

    Parameters
    ----------
    contents : its measures as the lab stands. gone : {words of a measure: why it can't be had any more}.
    highlight_gone : the fan under review where no measure has it any more; "" otherwise.
    """

    contents: Contents
    gone: dict[str, str]
    highlight_gone: str = ""


def gathered_again(lab: Lab, release: Release, name: str, progress: Progress = silent) -> Again:
    """What a release would say now.

    Parameters
    ----------
    name : of the release that would be made.

    Raises
    ------
    NotPossible : none of its measures can be had any more.
    """
    words = [str(each["words"]) for each in release.measures]
    highlight, question = (str(release.about.get(each) or "") for each in ("highlight", "question"))

    def made(measures: list[str], fan: str) -> Contents:
        return gather(lab, name, highlight=fan, question=question, corrects=release.name, measures=measures,
                      progress=progress)  # fmt: skip

    try:
        return Again(made(words, highlight), {})
    except StillroomError:  # one of them can't be had any more: which?
        whole = worked_out(lab, progress)
    found = {each: _ranked(whole, each) for each in words}
    gone = {each: why for each, (_, why) in found.items() if why}
    if len(gone) == len(words):
        raise NotPossible(
            f"comparison with {release.name}",
            found="; ".join(f"{each}: {why}" for each, why in gone.items()),
            expected="at least one of its measures",
        )
    is_there = any(highlight in fans for fans, _ in found.values())
    contents = made([each for each in words if each not in gone], highlight if is_there else "")
    return Again(contents, gone, "" if is_there else highlight)


def _ranked(whole: Whole, words: str) -> tuple[tuple[str, ...], str]:
    """The fans that a measure ranks now, or why it can't be had."""
    try:
        found = compared(whole, asked_from(words)).ranking
    except StillroomError as error:
        return (), str(error)
    fans = tuple(each.fan for each in found.standings)
    return fans, "" if fans else "no fan can be ranked"
