"""Files that another file of the same name has taken the place of: copies that a program renews, and other content."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from stillroom.live.following import Followed
from stillroom.live.growing import GrowingLog
from stillroom.live.placing import hours_of


def replaced(
    files: Iterable[Followed], logs: Mapping[int, GrowingLog]
) -> Iterator[tuple[Followed, GrowingLog]]:
    """Files that are gone, each with the log that has its place now: that of the same name, which begins before the old
    one ends.

    One that begins later goes on where the old one ended: a logger's next file, whose forerunner was moved away.

    Parameters
    ----------
    logs : {id of a followed file: its readings}.
    """
    known = [each for each in files if id(each) in logs and logs[id(each)].is_understood]
    for old in (each for each in known if each.is_gone):
        for new in (each for each in known if not each.is_gone and each.path == old.path):
            if hours_of(logs[id(new)]).first <= hours_of(logs[id(old)]).last:
                yield old, logs[id(new)]


def goes_on(old: GrowingLog, new: GrowingLog) -> bool:
    """Whether a log has all the readings that another had, and in the same places."""
    one, other = old.columns, new.columns
    if not one.keys() <= other.keys() or hours_of(old).first != hours_of(new).first:
        return False
    return all(
        np.array_equal(values, other[name][: len(values)], equal_nan=True) for name, values in one.items()
    )
