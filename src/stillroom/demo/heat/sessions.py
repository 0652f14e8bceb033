"""The heat runs of the short round and of the whole one, day by day."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from stillroom.demo.catalogue import REFERENCE_FAN
from stillroom.demo.heat.plan import NONE, RIG, Bath, Form, HeatPlan, HeatRun, Trouble
from stillroom.demo.round import Happening

QUICK_DAYS, FULL_DAYS = (4, 5, 6), (9, 10, 11, 12, 13, 14, 15, 16)
LEVEL_LOW = {11: 0.012, 12: 0.075}
"""Share of its flow that the loop has lost on the days before it was topped up."""
TOPPED_UP, PASTE = 13, 15
"""Days on whose morning the coolant was topped up, and before which, on a Saturday, the block got new paste."""
_CUT, _DOOR, _STRAY = Trouble(cut=1.5), Trouble(door=True), Trouble(stray=(0.0, 1e9))
_CLOCK, _LOAD, _PULSES = Trouble(clock=60.0), Trouble(load=0.012), Trouble(pulses=2.0)

TOLD = 40.0
"""What the power logger's clock was behind on one run, as the operator wrote down [s]."""
FAST = 1.0
"""Seconds between two rows of the run that was logged faster."""


def _run(
    fan: str,
    sample: str = "s1",
    number: int = 1,
    *,
    wrong: Trouble = NONE,
    told: float = 0.0,
    every: float = 4.0,
) -> HeatRun:
    """One run: the first of a sample ends with its first setting again."""
    again = number == 1 and not wrong.cut
    return HeatRun(fan, sample, number, again=again, interval=every, told_clock=told, wrong=wrong)


def quick_plan(*, faults: bool) -> HeatPlan:
    """The short round: six fans once each, four of them again."""
    by_day = {
        4: (_run("Bracken"), _run("Tormentil"), _run("Bilberry")),
        5: (_run("Asphodel"), _run("Sedge", wrong=_STRAY), _run("Sundew", wrong=_CUT)),
        6: (
            _run("Bracken", number=2, wrong=_DOOR),
            _run("Bilberry", number=2),
            _run("Sedge", number=2, told=TOLD),
            _run("Sundew", number=2),
        ),
    }
    return _plan(by_day, faults=faults, checked=False)


def full_plan(*, faults: bool) -> HeatPlan:
    """The whole round: fourteen fans of 120 mm, contenders and whatever went wrong again, a check first and last."""
    by_day = {
        9: (_run("Bracken"), _run("Tormentil"), _run("Bilberry")),
        10: (_run("Asphodel"), _run("Sedge", wrong=_STRAY), _run("Sundew", wrong=_CUT),
             _run("Crowberry", wrong=_CLOCK)),
        11: (_run("Cottongrass"), _run("Cloudberry", wrong=_PULSES), _run("Bogbean")),
        12: (_run("Gorse"), _run("Milkwort"), _run("Butterwort")),
        13: (_run("Cranberry"), _run("Butterwort", number=2), _run("Milkwort", number=2),
             _run("Bracken", number=2, wrong=_DOOR), _run("Tormentil", number=2)),
        14: (_run("Gorse", number=2), _run("Sedge", number=2), _run("Sundew", number=2),
             _run("Cloudberry", number=2), _run("Bilberry", number=2)),
        15: (_run("Bracken", number=3), _run("Tormentil", number=3, told=TOLD), _run("Sedge", number=3),
             _run("Asphodel", number=2, every=FAST)),
        16: (_run("Bilberry", "s2", wrong=_LOAD), _run("Crowberry", "s2"), _run("Cranberry", number=2),
             _run("Bracken", "s2")),
    }  # fmt: skip
    log = (
        Happening(9, "07:45", RIG, "heat rig taken into use, loop filled, leak test passed", False),
        Happening(TOPPED_UP, "07:40", RIG, "coolant topped up", False),
        Happening(PASTE - 1, "10:30", RIG, "paste under the block renewed", True, later=1),
    )
    return replace(
        _plan(by_day, faults=faults, checked=True),
        log=log,
        flow=LEVEL_LOW if faults else {},
        paste_day=PASTE,
    )


def _plan(by_day: Mapping[int, tuple[HeatRun, ...]], *, faults: bool, checked: bool) -> HeatPlan:
    runs = tuple(_dated(by_day, checked))
    first = min(by_day)
    return HeatPlan(runs if faults else tuple(each.faultless() for each in runs), Bath(first))


def _dated(by_day: Mapping[int, tuple[HeatRun, ...]], checked: bool) -> Iterator[HeatRun]:
    """With their days, hours and forms; with the reference fan first and last of a day where it watches the rig."""
    number = 0
    for day, runs in by_day.items():
        form = tuple(Form)[day % len(Form)]
        before: Sequence[HeatRun] = ()
        after: Sequence[HeatRun] = ()
        if checked:
            number += 2
            checks = [
                HeatRun(REFERENCE_FAN, "s1", each, limits=(), check=True) for each in (number - 1, number)
            ]
            before, after = checks[:1], checks[1:]
        for each in (*before, *runs, *after):
            yield replace(each, day=day, form=Form.ONE if each.check else form)
