"""Which runs belong to one mounting where nobody told: a new one begins after a swap, or on another day."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from stillroom.records.acts import Event

_SWAP = re.compile(r"\s*(swap|swapped|remounted|re-mounted|new mounting)\b", re.IGNORECASE)


@dataclass(frozen=True)
class Fitted:
    """A run of a fan as it was fitted to a rig.

    Parameters
    ----------
    at : the caller's own number for it. rig, fan, sample : names. date : the day of the measurement.
    moment : when it was measured, as text that sorts. swap : the same for all runs that were said to belong
    to one new mounting, "" where nothing was said. test : another word for the name of the mounting, "" for none.
    """

    at: int
    rig: str
    fan: str
    sample: str
    date: str
    moment: str
    swap: str = ""
    test: str = ""

    @property
    def what(self) -> tuple[str, str]:
        """What is on the rig."""
        return self.fan, self.sample


def is_swap(event: Event) -> bool:
    """Whether a line in the log says that a fan was fitted anew."""
    return _SWAP.match(event.text) is not None


def numbered(fitted: Iterable[Fitted], events: Iterable[Event]) -> dict[int, str]:
    """The name of each run's mounting, had nobody told it: FAN-SAMPLE-DATE (of sound with -sound behind it), from
    the second a day with /2.

    On one rig a new mounting begins on another day, when another fan or sample was on the rig in between,
    after a line in the log that begins with "swap", and where a new mounting was said. Runs of one moment
    (brought in together, without a clock in the file) are no evidence of an order among each other.
    """
    by_rig: dict[str, list[Fitted]] = defaultdict(list)
    for each in fitted:
        by_rig[each.rig].append(each)
    swaps = sorted((each.time[:19], each.rig) for each in events if is_swap(each))
    names: dict[int, str] = {}
    for rig, runs in by_rig.items():
        names |= _on_one_rig(runs, [time for time, where in swaps if where in {None, "", rig}])
    return names


def _on_one_rig(runs: Sequence[Fitted], swaps: Sequence[str]) -> dict[int, str]:
    by_moment: dict[str, list[Fitted]] = defaultdict(list)
    for each in runs:
        by_moment[each.moment].append(each)
    names: dict[int, str] = {}
    count: dict[tuple[str, str, str], int] = defaultdict(int)
    on_rig: tuple[tuple[str, str], str] | None = None
    seen: set[str] = set()
    passed = 0
    for moment in sorted(by_moment):
        swapped = passed < len(swaps) and swaps[passed] <= moment
        while passed < len(swaps) and swaps[passed] <= moment:
            passed += 1
        current = on_rig[0] if on_rig else None
        for each in sorted(by_moment[moment], key=lambda each: (each.what != current, each.what, each.at)):
            told_new = each.swap != "" and each.swap not in seen
            seen.add(each.swap)
            if swapped or told_new or on_rig != (each.what, each.date):
                count[*each.what, each.date] += 1
                swapped = False
            on_rig = each.what, each.date
            number = count[*each.what, each.date]
            name = "-".join(filter(None, (each.fan, each.sample, each.date, each.test)))
            names[each.at] = name if number == 1 else f"{name}/{number}"
    return names
