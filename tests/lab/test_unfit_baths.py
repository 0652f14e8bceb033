"""A bath that can't be one changes no number, and is said."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from heat_bench import TWO, HeatBench, channels, reduced

from stillroom.lab.curves import result_of
from stillroom.lab.heat.loading import load_heat

HOT, AIR = "t hot [°C]", "air in [°C]"
AT = np.arange(180.0)
NOISE = np.random.default_rng(2).normal(0.0, 0.02, (2, 180))


@pytest.mark.parametrize(
    ("bath", "why"),
    [
        ({HOT: 25.0 + 0.03 * AT + NOISE[0], AIR: 25.0 + NOISE[1]}, "expected a bath at rest"),
        ({HOT: 55.0 + NOISE[0], AIR: 25.0 + NOISE[1]}, "expected probes in one bath"),
    ],
)
def test_what_is_no_bath_is_not_used(tmp_path: Path, bath: Mapping[str, np.ndarray], why: str) -> None:
    bench = HeatBench(tmp_path)
    bench.log("b.csv", {"time": 4.0 * AT, **bath}, "2026-03-02T09:00:00", what="bath", logger="a")
    bench.log("a.csv", channels(TWO), "2026-03-03T09:00:00", fan="Moss", sample="s1", logger="a")
    bench.finish()
    with bench.lab() as lab:
        (node,) = reduced(lab).heats
        heat = load_heat(lab.path, result_of(lab, node))
    assert any("not used" in each and why in each for each in heat.marks)
    assert heat.steps[0].delta_nominal == pytest.approx(TWO[0].rise, abs=0.05)
