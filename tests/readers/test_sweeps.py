"""Sweeps told apart in tables of many, made here from the formulas of an invented fan with reading noise."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from stillroom.readers.meaning.understanding import understand
from stillroom.readers.reading.recording import Recording, read
from stillroom.readers.reading.sweeps import SweepPart, sweeps
from stillroom.readers.source import Source

SETTINGS = {
    "duty [%]": (40.0, 60.0, 80.0, 100.0),
    "U [V]": (5.0, 7.0, 9.0, 12.0),
    "set speed [rpm]": (600.0, 900.0, 1200.0, 1500.0),
    "": (600.0, 900.0, 1200.0, 1500.0),
}
"""{header of the column that tells the setting, or none: its settings}."""

TOLD = {"duty [%]": ("duty", 0.01), "U [V]": ("voltage", 1.0), "set speed [rpm]": ("speed", 1 / 60)}


def one_sweep(speed: float, points: int, rng: np.random.Generator, *, down: bool) -> np.ndarray:
    """Flow [m³/h], static pressure [Pa] and speed [rpm] from shut-off to free delivery; a dip at 40 % of it."""
    share = np.linspace(0.0, 1.0, points)
    dip = 0.12 * 4 * share * (1 - share) * np.exp(-(((share - 0.4) / 0.1) ** 2) / 2)
    turning = speed * (1 + 0.02 * share) * (1 + 0.0006 * rng.standard_normal(points))
    flow = 0.06 * turning * share * (1 + 0.004 * rng.standard_normal(points))
    pressure = 7e-6 * turning**2 * (1 - 0.35 * share - 0.65 * share**2.6 - dip)
    pressure = pressure * (1 + 0.005 * rng.standard_normal(points)) + 0.05 * rng.standard_normal(points)
    rows = np.column_stack((flow, pressure, turning))
    return rows[::-1] if down else rows


def table(header: str, ways: str, points: int, seed: int) -> tuple[Recording, list[SweepPart]]:
    """A table of sweeps at each setting in these ways ("ud": up, then down), and what it holds."""
    rng = np.random.default_rng(seed)
    lines = ["flow [m³/h],p_s [Pa],n [rpm]" + (f",{header}" if header else "")]
    wanted: list[SweepPart] = []
    for setting in SETTINGS[header]:
        speed = setting if header in {"", "set speed [rpm]"} else 1500 * setting / SETTINGS[header][-1]
        for way in ways:
            rows = one_sweep(speed, points, rng, down=way == "d")
            lines += [",".join(f"{x:.3f}" for x in row) + (f",{setting}" if header else "") for row in rows]
            first = wanted[-1].last if wanted else 0
            name, factor = TOLD.get(header, ("", 1.0))
            told = {name: setting * factor} if name else {}
            wanted.append(SweepPart(first, first + points, told, {"u": "up", "d": "down"}[way]))
    source = Source("many.csv", ("\n".join(lines) + "\n").encode())
    return read(source, understand(source).blocks[0].layout), wanted


@pytest.mark.parametrize("header", SETTINGS, ids=lambda header: header or "speed only")
@pytest.mark.parametrize("ways", ["u", "d", "ud", "du", "uu"])
def test_sweeps_of_many_settings(header: str, ways: str) -> None:
    """All edges, ways and settings; at a turn one reading may go to either side."""
    for seed in range(10):
        recording, wanted = table(header, ways, 10 + seed % 5, seed)
        found = sweeps(recording)
        assert len(found) == len(wanted)
        for part, each in zip(found, wanted, strict=True):
            assert part.direction == each.direction
            assert part.setting == pytest.approx(each.setting)
            assert abs(part.first - each.first) <= (1 if len(ways) > 1 else 0)
        assert [a.last for a in found[:-1]] == [b.first for _, b in pairwise(found)]


def test_settings_of_the_throttle_in_any_order_are_one_sweep() -> None:
    """Nothing is parted, and no direction is told, where the flow goes to and fro."""
    for seed in range(200):
        rng = np.random.default_rng(seed)
        rows = one_sweep(1200.0, 12, rng, down=False)[rng.permutation(12)]
        text = "flow [m³/h],p_s [Pa],n [rpm]\n" + "".join(f"{q:.3f},{p:.3f},{n:.1f}\n" for q, p, n in rows)
        source = Source("any.csv", text.encode())
        found = sweeps(read(source, understand(source).blocks[0].layout))
        steps = np.diff(rows[:, 0])
        monotone = abs(float(steps.sum())) >= 0.7 * float(np.abs(steps).sum())
        assert len(found) == 1
        assert (found[0].direction == "") == (not monotone)


def test_one_odd_speed_parts_nothing() -> None:
    """A tachometer that reads double once is a finding's matter, no new sweep."""
    rng = np.random.default_rng(1)
    rows = one_sweep(1200.0, 12, rng, down=False)
    rows[6, 2] *= 2
    text = "flow [m³/h],p_s [Pa],n [rpm]\n" + "".join(f"{q:.3f},{p:.3f},{n:.1f}\n" for q, p, n in rows)
    source = Source("odd.csv", text.encode())
    assert len(sweeps(read(source, understand(source).blocks[0].layout))) == 1
