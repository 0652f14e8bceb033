"""Rounds of invented heat runs at one noise limit: a true tie is no win, a true gap of 1 K is settled by what is asked.

Each mounting's steps are drawn from ΔT = a (N/1500)^(−0.45), read with noise, fitted, and taken at the speed that a
noise limit allows; truth and readings come from NumPy's own generator, trials from the code under test.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pytest

from stillroom.compare.candidates import Candidate, How, Margin
from stillroom.compare.ranking import rank
from stillroom.compare.standing import PairStanding
from stillroom.core.characteristic import Part
from stillroom.core.combine import MountingResult, combine_mountings
from stillroom.core.draws import normal_draws
from stillroom.core.heat.heat_curve import HeatPoint, fit_heat
from stillroom.core.multiple import Merit, Verdict
from stillroom.core.row_speeds import RowSpeeds
from stillroom.core.settling import Settling
from stillroom.core.spread import MountingValue, Spreads, pooled_spreads

TRIALS, MARGIN = 600, 0.4
READING = 0.03
USUAL, LOOSE = (0.20, 0.12), (0.05, 0.35)
"""Spread between samples and between mountings [K]: of the invented laboratory, and of one that mounts badly."""

PROBE, PROBE_SD = "probe/rig/hot", 0.25
CALIBRATOR_DB, OWN_DB, SLOPE = 0.3, 0.3, 53.0
STEPS = (1000.0, 1300.0, 1700.0)
OTHERS = {"Moss": 13.4, "Heath": 14.6, "Rush": 15.5, "Fern": 16.8}
"""Fans of the same round, from which the spread is pooled: their rise at the limit [K]."""


@dataclass
class Round:
    """One round: its generator, the errors that all share, and the mountings of each fan by sample."""

    number: int
    truth: dict[str, float]
    spread: tuple[float, float] = USUAL
    rows: dict[str, list[tuple[str, str, float]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng([self.number, 11])
        self.probe = PROBE_SD * self.rng.normal()
        self.samples: dict[str, float] = {}
        self.level = {fan: OWN_DB * self.rng.normal() for fan in self.truth}
        self.calibrator = CALIBRATOR_DB * self.rng.normal()

    def mount(self, fan: str, sample: int, times: int) -> None:
        """Mount a sample of a fan so many times more."""
        name = f"{fan}/{sample}"
        own = self.samples.setdefault(name, self.spread[0] * self.rng.normal())
        for _ in range(times):
            offset = own + self.spread[1] * self.rng.normal()
            self.rows.setdefault(fan, []).append((name, f"{name}/{len(self.rows.get(fan, ()))}", offset))

    def result(self, fan: str, sample: str, mounting: str, offset: float) -> MountingResult:
        """A mounting's rise at the limit, as it is taken from its curve."""
        rng = np.random.default_rng([self.number, *map(ord, mounting)])
        points = [
            HeatPoint(
                speed / 60.0,
                0.0,
                self.truth[fan] * (speed / 1500.0) ** -0.45 + offset + self.probe + READING * rng.normal(),
                READING,
            )
            for speed in STEPS
        ]
        curve = fit_heat(
            points, identity=f"{self.number}/{mounting}", sources={PROBE: PROBE_SD}, trials=TRIALS
        )
        speeds = self.limit(fan)
        sources = (*curve.sources, *speeds.sources)
        total, shared = (curve.rows(part, sources, speeds)[:, 0] for part in (Part.TOTAL, Part.SHARED))
        k, value = len(sources), float(total[0])
        return MountingResult(
            sample, mounting, value, shared[1 + k :], total[1 + k :] - shared[1 + k :],
            {name: float(total[1 + at]) - value for at, name in enumerate(sources)},
        )  # fmt: skip

    def limit(self, fan: str) -> RowSpeeds:
        """The speed found for the limit, off by the level errors; its trials about it."""
        decibels = self.calibrator + self.level[fan]
        found = 1500.0 / 60.0 * 10 ** (decibels / SLOPE)
        own = f"limit/{fan}"
        shared = CALIBRATOR_DB * normal_draws("calibrator", TRIALS)
        trials = shared + OWN_DB * normal_draws(own, TRIALS)
        rows = found * 10 ** (np.array([0.0, CALIBRATOR_DB, OWN_DB, *trials]) / SLOPE)
        return RowSpeeds(("calibrator", own), rows, np.zeros(len(rows), dtype=bool))

    def compared(self, a: str, b: str) -> PairStanding:
        """What a ranking of the round says of two of its fans."""
        results = {fan: [self.result(fan, *row) for row in rows] for fan, rows in self.rows.items()}
        spreads = pooled_spreads(
            [
                MountingValue(fan, each.sample, each.mounting, each.value)
                for fan, own in results.items()
                for each in own
            ],
            prior_sample_sd=self.spread[0], prior_mounting_sd=self.spread[1], relative=False,
        )  # fmt: skip
        found = rank(
            [candidate(fan, own, spreads) for fan, own in results.items()],
            measure="heat", definition="", version="1", unit="K", conditions={}, margin=Margin(MARGIN),
            merit=Merit.LESS,
        )  # fmt: skip
        return next(each for each in found.pairs if {each.a, each.b} == {a, b})


def candidate(fan: str, own: Sequence[MountingResult], spreads: Spreads) -> Candidate:
    made = combine_mountings(own, spreads, identity="heat, given noise", scale=1.0)
    return Candidate(
        fan, made.value, made.trials, made.parts, How.MEASURED, made.samples, made.mountings, fan
    )


def pilot(
    number: int, gap: float, samples: int, mountings: int, spread: tuple[float, float] = USUAL
) -> Round:
    """A round in which Sedge is cooler than Bracken by a gap [K]."""
    made = Round(number, {"Sedge": 12.0, "Bracken": 12.0 + gap, **OTHERS}, spread)
    for fan in made.truth:
        for sample in range(samples):
            made.mount(fan, sample, mountings)
    return made


def test_a_true_tie_is_not_called_a_win() -> None:
    wins = ties = 0
    rounds = 150
    for number in range(rounds):
        said = pilot(number, 0.0, 2, 2).compared("Sedge", "Bracken").verdict
        wins += said in (Verdict.AHEAD, Verdict.BEHIND)
        ties += said is Verdict.TIED
    print(f"\nwins {wins} of {rounds}, tied {ties}")
    assert wins / rounds <= 0.04  # nominal: 5 % at most, fewer for the margin


@pytest.mark.parametrize("spread", [USUAL, LOOSE])
def test_a_true_gap_of_one_kelvin_is_settled_by_what_is_asked_for(spread: tuple[float, float]) -> None:
    """After one mounting of one sample each: what a ranking asks for is done, and once more where it asks again."""
    already = open_ended = asked = at_once = settled = 0
    rounds = 80
    kinds: set[Settling] = set()
    for number in range(rounds):
        made = pilot(1000 + number, 1.0, 1, 1, spread)
        said = made.compared("Sedge", "Bracken")
        assert leading(said) != "Bracken", number
        if said.verdict is not Verdict.NOT_RESOLVED:
            already += 1
            continue
        kinds.add(said.further.settling)
        if not did_what_was_asked(made, said):
            open_ended += 1
            continue
        asked += 1
        said = made.compared("Sedge", "Bracken")
        assert leading(said) != "Bracken", number
        at_once += leading(said) == "Sedge"
        if said.verdict is Verdict.NOT_RESOLVED and did_what_was_asked(made, said):
            said = made.compared("Sedge", "Bracken")
        settled += leading(said) == "Sedge"
    said_of = ", ".join(sorted(each.value for each in kinds))
    print(
        f"\n{said_of}: already {already}, open {open_ended}, asked {asked}, at once {at_once}, then {settled}"
    )
    assert kinds & {Settling.MORE_MOUNTINGS, Settling.MORE_SAMPLES}
    assert asked >= 20
    assert at_once >= 0.85 * asked
    assert settled >= 0.9 * asked
    assert open_ended <= 0.15 * rounds  # a gap measured by chance near the margin


def leading(said: PairStanding) -> str:
    """Who is ahead, or ""."""
    return {Verdict.AHEAD: said.a, Verdict.BEHIND: said.b}.get(said.verdict, "")


def did_what_was_asked(made: Round, said: PairStanding) -> bool:
    """Mount both fans as often as a ranking asked for; whether it asked for anything that can be done."""
    count = said.further.count
    for fan in ("Sedge", "Bracken"):
        names = {name for name, _, _ in made.rows[fan]}
        if said.further.settling is Settling.MORE_MOUNTINGS:
            for _ in range(count):  # each to the sample that has the fewest
                fewest = min(sorted(names), key=lambda name: sum(row[0] == name for row in made.rows[fan]))
                made.mount(fan, int(fewest.partition("/")[2]), 1)
        elif said.further.settling is Settling.MORE_SAMPLES:
            for sample in range(len(names), len(names) + count):
                made.mount(fan, sample, 1)
        else:
            return False
    return True
