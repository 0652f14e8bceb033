"""Sentences of an account that do not stand any more."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from stillroom.publish.correcting.moved import SentenceMoved


def sentences_moved(
    then: Sequence[Mapping[str, Any]], now: Sequence[Mapping[str, Any]]
) -> tuple[SentenceMoved, ...]:
    """What an account says no more, says otherwise, or says for the first time.

    Parameters
    ----------
    then, now : sentences as {slug, kind, fans, text}, in their order.

    Returns
    -------
    In the order of the old account. Two sentences about one measure and of one kind are one that changed where
    they name the same fans, else the first that is gone beside the first that came.
    """
    old, new = _groups(then), _groups(now)
    found: list[SentenceMoved] = []
    for group in dict.fromkeys((*old, *new)):
        found += _moved(group, old.get(group, []), new.get(group, []))
    return tuple(found)


def _groups(told: Sequence[Mapping[str, Any]]) -> dict[tuple[str, str], list[Mapping[str, Any]]]:
    found: dict[tuple[str, str], list[Mapping[str, Any]]] = defaultdict(list)
    for each in told:
        found[(str(each["slug"]), str(each["kind"]))].append(each)
    return found


def _moved(
    group: tuple[str, str], old: Sequence[Mapping[str, Any]], new: Sequence[Mapping[str, Any]]
) -> list[SentenceMoved]:
    stands = {str(each["text"]) for each in old} & {str(each["text"]) for each in new}
    gone = [each for each in old if each["text"] not in stands]
    came = [each for each in new if each["text"] not in stands]
    found = []
    for each in gone:
        same = next((one for one in came if set(one["fans"]) == set(each["fans"])), None)
        if same is not None:
            came.remove(same)
        found.append((each, same))
    found = [(each, same or (came.pop(0) if came else None)) for each, same in found]
    moved = [
        SentenceMoved(*group, str(each["text"]), str(same["text"]) if same else "") for each, same in found
    ]
    return moved + [SentenceMoved(*group, "", str(each["text"])) for each in came]
