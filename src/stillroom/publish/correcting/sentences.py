"""Sentences of an account that do not stand any more."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from stillroom import wording
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
    they name the same fans, else the first that is gone beside the first that came. One that lists the same fans in
    another order says the same: it is none that changed.
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
    stands = {_unordered(each) for each in old} & {_unordered(each) for each in new}
    gone = [each for each in old if _unordered(each) not in stands]
    came = [each for each in new if _unordered(each) not in stands]
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


def _unordered(sentence: Mapping[str, Any]) -> str:
    """A sentence with the fans that stand one after another in a list sorted.

    Names are put in order only within one list ("A, B and C"): "A is ahead of B" is not "B is ahead of A".
    """
    names = sorted(
        (re.escape(wording.isolate(str(each))) for each in sentence["fans"]), key=len, reverse=True
    )
    if len(names) < 2:
        return str(sentence["text"])
    name = rf"(?<!\w)(?:{'|'.join(names)})(?!\w)"
    parted = re.compile(rf"({name})")
    return re.sub(
        rf"{name}(?:(?:, | and | or ){name})+",
        lambda found: _sorted(parted.split(found[0])),
        str(sentence["text"]),
    )


def _sorted(parts: Sequence[str]) -> str:
    """A list of names taken apart, with its names sorted: they stand between what parts them, second, fourth …"""
    names = iter(sorted(parts[1::2]))
    return "".join(next(names) if at % 2 else each for at, each in enumerate(parts))
