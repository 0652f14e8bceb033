"""The arithmetic of the reader's lookup against closed forms, tables and brute force."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
import scipy

from stillroom.core.multiple import Contest, Merit, compare_field
from stillroom.core.sound.limit import LimitRule, limit_speed
from stillroom.errors import BadInput, OutOfRange
from stillroom.publish.estimate.columns import EXPONENT, FACTOR, LEVEL, SMALL, Coding, packed, unpacked
from stillroom.publish.estimate.components import components_of
from stillroom.publish.estimate.critical import (
    CORRELATIONS,
    COUNTS,
    best_critical,
    best_table,
    rank_critical,
    rank_table,
)
from stillroom.publish.estimate.loads import loads_at
from stillroom.publish.estimate.reading import Heard, Reading, Spread, Value
from stillroom.publish.estimate.reading_field import _places, covariances, judged
from stillroom.publish.estimate.speeds import _speeds_at
from stillroom.publish.estimate.writing import Estimate, prices_of
from stillroom.records.products import Price

DUNNETT = {2: 1.92, 3: 2.06, 4: 2.16, 5: 2.23, 6: 2.29, 9: 2.42}
"""One-sided 5 % points of the greatest of k differences from a control, correlation 1/2, infinitely many degrees of
freedom: Dunnett, J. Am. Stat. Assoc. 50 (1955) 1096, table 1a."""


def test_the_critical_value_of_possible_bests_is_dunnetts() -> None:
    for others, printed in DUNNETT.items():
        assert best_critical(others, 0.5) == pytest.approx(printed, abs=0.006)


def test_the_critical_value_of_ranks_is_the_studentised_range() -> None:
    for count in (2, 6, 25):
        expected = scipy.stats.studentized_range.ppf(0.95, count, 1e6) / math.sqrt(2.0)
        assert rank_critical(count) == pytest.approx(expected, rel=2e-3)


def test_the_critical_value_holds_in_a_simulation_of_unequal_correlation() -> None:
    draw = np.random.default_rng(5).standard_normal((400_000, 9))
    own, others = 1.5, np.linspace(0.5, 1.5, 8)
    gaps = (draw[:, 1:] * others - own * draw[:, :1]) / np.hypot(own, others)
    correlation = float(np.mean(own**2 / (own**2 + others**2)))
    assert np.mean(gaps.max(axis=1) > best_critical(8, correlation)) == pytest.approx(0.05, abs=0.004)


@pytest.mark.parametrize("coding", [SMALL, FACTOR, EXPONENT, LEVEL, Coding(0.0, 1.0, bits=16, row=7)])
def test_a_column_comes_back_to_half_a_step(coding: Coding) -> None:
    draw = np.random.default_rng(2)
    codes = draw.integers(1, coding.most, 7 * 32)
    values = coding.values(codes)
    column = json.loads(json.dumps(packed("some", coding, values)))
    assert unpacked(column) == pytest.approx(values, rel=1e-12)
    between = values * math.exp(coding.step / 3.0) if coding.log else values + coding.step / 3.0
    back = unpacked(packed("some", coding, coding.held(between)))
    error = np.abs(np.log(back / coding.held(between))) if coding.log else np.abs(back - coding.held(between))
    assert error.max() <= coding.step * 0.5001


def test_nought_has_a_code_of_its_own_and_no_value_is_cut_off_in_silence() -> None:
    assert unpacked(packed("some", SMALL, np.array([0.0, 1e-3])))[0] == 0.0
    for wrong in (np.array([5.0]), np.array([np.nan]), np.array([-1.0])):
        with pytest.raises(OutOfRange):
            packed("some", FACTOR, wrong * 10.0)


def test_components_leave_every_squared_difference_as_it_is() -> None:
    draw = np.random.default_rng(8)
    names = [f"source {at}" for at in range(5)]
    rows = [(draw.permutation(names).tolist()[:4], draw.standard_normal((3, 4))) for _ in range(6)]
    parts = components_of(rows, count=5)
    assert parts.left_over == pytest.approx(0.0, abs=1e-12)
    dense = np.zeros((18, 5))
    for at, (sources, loadings) in enumerate(rows):
        dense[3 * at : 3 * at + 3, [names.index(name) for name in sources]] = loadings
    turned = np.concatenate([parts.of(sources, loadings) for sources, loadings in rows])
    for table, other in ((dense, turned),):
        assert np.square(table[:, None] - table).sum(axis=2) == pytest.approx(
            np.square(other[:, None] - other).sum(axis=2)
        )
    assert components_of(rows, count=2).left_over > 0.0


def test_a_load_meets_the_plain_fan_where_its_opening_says() -> None:
    u, f = (each.ravel() for each in np.meshgrid(np.linspace(0.05, 1.0, 20), np.linspace(0.0, 1.0, 5)))
    a, b = loads_at(u, f)
    assert a * u + b * u**2 == pytest.approx(1.0 - u**2)
    open_ = u < 1.0
    assert a[open_] / (a + b)[open_] == pytest.approx(f[open_])
    assert 2.0 / (a + np.sqrt(a**2 + 4.0 * (1.0 + b))) == pytest.approx(u)  # as the page finds the opening


@pytest.mark.parametrize("rule", list(LimitRule))
def test_speeds_at_many_limits_are_those_of_the_limit_one_by_one(rule: LimitRule) -> None:
    draw = np.random.default_rng(4)
    speeds = np.linspace(8.0, 30.0, 90)
    rows = 50.0 * np.log10(speeds / 8.0) + 15.0 + np.cumsum(draw.standard_normal((40, 90)), axis=1) * 0.6
    limits = np.linspace(10.0, 50.0, 37)
    found = _speeds_at(rows, speeds, limits, rule)
    for column, limit in enumerate(limits):
        assert found[:, column] == pytest.approx(limit_speed(rows, speeds, float(limit), rule).speeds)


def _value(fan: int, value: float, own: float, shared: list[float], sound: float, day: int) -> Value:
    """A fan with normal errors: its own, of two components, and of the sound on its day and of all days."""
    z = 1.959963984540054
    half = Spread(own**2, (z * own) ** 2, (z * own) ** 2)
    parts = {0: 0.8, day: 0.6}
    heard = Heard(down=z * sound, up=z * sound, sd=sound, own=0.0)
    return Value(
        fan,
        value,
        20.0,
        "interpolated",
        (),
        "",
        value,
        value,
        0.0,
        0.0,
        np.array(shared),
        sound,
        parts,
        half,
        heard,
    )


FIELD = [
    _value(0, 1.00, 0.010, [0.020, 0.003], 0.02, 1),
    _value(1, 0.97, 0.012, [0.018, 0.001], 0.03, 1),
    _value(2, 0.92, 0.008, [0.025, -0.002], 0.02, 2),
    _value(3, 0.90, 0.020, [0.020, 0.000], 0.01, 2),
]


def _simulated(field: list[Value], count: int) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """The same errors drawn one by one: what is shared once for all fans, what is a fan's own for each."""
    draw = np.random.default_rng(11)
    components, sources = draw.standard_normal((2, count)), draw.standard_normal((3, count))
    rows = []
    for each in field:
        error = math.sqrt(each.own.variance) * draw.standard_normal(count) + each.shared @ components
        error = error + each.by_sound * sum(part * sources[at] for at, part in each.by_source.items())
        rows.append(each.value * (1.0 + error))
    return np.array(rows)


def test_differences_are_those_of_a_brute_force_propagation() -> None:
    trials, shared = _simulated(FIELD, 400_000), covariances(FIELD)
    for i in range(4):
        for j in range(i + 1, 4):
            apart = float(shared[i, i] + shared[j, j] - 2.0 * shared[i, j])
            found = judged(FIELD[i], FIELD[j], apart, 0.05)
            low, high = np.quantile(trials[i] - trials[j], [0.025, 0.975])
            half = (high - low) / 2.0
            assert found.low == pytest.approx(low, abs=0.02 * half)
            assert found.high == pytest.approx(high, abs=0.02 * half)
            ahead = low > 0.0 and found.difference > found.margin
            assert (found.word == "ahead") == ahead


def test_possible_bests_and_ranks_are_those_of_the_trials() -> None:
    told = {"counts": COUNTS, "correlations": CORRELATIONS, "best": best_table(), "ranks": rank_table()}
    places = _places({"critical": told}, FIELD, covariances(FIELD))
    trials = _simulated(FIELD, 20_000)
    field = compare_field(Contest.of_values(np.array([each.value for each in FIELD]), trials), Merit.MORE)
    assert [each[0] for each in places] == field.best.tolist()
    assert [each[1] for each in places] == list(
        zip(field.rank_from.tolist(), field.rank_to.tolist(), strict=True)
    )
    assert not all(field.best)


def test_a_hostile_name_stays_data() -> None:
    name = "</script><!--\u2028 & 'x' \"y\""
    script = Estimate({"name": name}).script
    assert not any(sign in script for sign in ("<", ">", "&", "\u2028"))
    assert json.loads(script[script.index("{") : script.rindex("}") + 1]) == {"name": name}


def test_the_price_is_the_latest_and_of_that_date_the_lowest() -> None:
    told = [
        Price(fan="A", price=9.0, currency="EUR", date="2025-01-01"),
        Price(fan="A", price=12.0, currency="EUR", date="2026-01-01", region="EU"),
        Price(fan="A", price=11.0, currency="EUR", date="2026-01-01"),
        Price(fan="B", price=8.0, currency="USD", date="2026-01-01"),
        Price(fan="C", price=7.0, currency="EUR"),
    ]
    assert prices_of(told) == {"A": [11.0, "EUR", "2026-01-01", ""], "C": [7.0, "EUR", "", ""]}


def test_data_of_another_form_is_refused() -> None:
    with pytest.raises(BadInput, match="other"):
        Reading({"format": "other"})
