"""What a level's uncertainty and a loudness must do near the background and by the distance, in closed form."""

from __future__ import annotations

import math

import numpy as np
import pytest

from stillroom.core.sound.level_points import LEAST_RAMP_U, ramp_points
from stillroom.core.sound.sound_mounting import Geometry
from stillroom.core.standards.iec_61260_1_2014 import midbands
from stillroom.core.standards.iec_61672_1_2013 import a_weighting
from stillroom.core.standards.iso_532_1_2017.loudness import loudness
from stillroom.methods.sound.levels import READ_BY_EYE, REPEAT, ZWICKER
from stillroom.methods.sound.mounting import Reduced, reduce_sound
from stillroom.methods.sound.recording import Heard
from stillroom.methods.sound.told import Chain, FanTold, Item, Session, Sides, Told

CHAIN = Chain(name="meter-1", rig="quiet")


def told(run: str, distance: float | None = 0.5) -> Told:
    return Told(
        run=run, key=run, file=run, what="dwell", moment="", date="2026-03-02", setting=None, setting_kind="",
        setting_word="", channel=0, geometry=Geometry(distance), tachometer=25.0,
    )  # fmt: skip


def reduce(*sessions: Session, distance: float | None = 0.5) -> Reduced:
    return reduce_sound(
        sessions, fan=FanTold(), chain=CHAIN, geometry=Geometry(distance), identity="Sedge-1", trials=300
    )


@pytest.mark.parametrize("delta", [6.0, 8.0, 10.0, 14.9, 20.0])
def test_the_reading_counts_by_the_derivative_of_the_correction(delta: float) -> None:
    # L = 10 lg(10^(L'/10) − 10^(B/10)): dL/dL' = 1/(1 − 10^(−ΔL/10)), dL/dB = −10^(−ΔL/10)/(1 − 10^(−ΔL/10));
    # from 15 dB up nothing is taken off (ISO 3744:2010, 8.2.3). One background alone: known within 1 dB.
    found = reduce(Session(Item(told("a"), (Heard(True, 20.0 + delta, background=20.0),))))
    assert found.sound is not None
    noise = 10.0 ** (-0.1 * delta) if delta < 15.0 else 0.0
    by_reading, by_room = READ_BY_EYE / (1.0 - noise), noise / (1.0 - noise)
    assert found.sound.dwells[0].u == pytest.approx(math.hypot(REPEAT, by_reading, by_room))


def test_steps_of_a_ramp_near_the_background_are_less_certain() -> None:
    speeds = np.linspace(10.0, 30.0, 600)
    levels = 28.0 + 0.5 * np.random.default_rng(3).standard_normal(600)
    near, far = (ramp_points(speeds, levels, run="up", background=each) for each in (20.0, -20.0))
    ratios = [
        a.u / b.u for a, b in zip(near, far, strict=True) if b.u > LEAST_RAMP_U and 7.0 < a.level < 29.0
    ]
    assert np.median(ratios) == pytest.approx(1.0 / (1.0 - 10.0**-0.8), rel=0.02)


@pytest.mark.parametrize(("distance", "u"), [(0.25, 0.386), (0.5, 0.197), (1.0, 0.099), (None, 0.2)])
def test_two_centimetres_count_by_the_distance(distance: float | None, u: float) -> None:
    # 20 lg((r + 2 cm)/r)/√3, a rectangular distribution (JCGM 100:2008, 4.3.7) under the 1/r law
    item = Item(told("a", distance), (Heard(True, 30.0, background=10.0),))
    found = reduce(Session(item), distance=distance)
    assert found.sound is not None
    levels = found.sound.levels
    at = next(i for i, name in enumerate(levels.sources) if name.startswith("place/"))
    assert levels.effects[at, 0] == pytest.approx(u, abs=1e-3)


# --- loudness of bands that are bounds ---------------------------------------------------------------------------

FAN = np.interp(np.log10(midbands()), np.log10([20, 100, 300, 1000, 3000, 20000]), [8, 25, 28, 26, 20, 0])
ROOM = np.maximum(35.0 - 16.0 * np.log10(midbands() / 25.0), 2.0)


def total(bands: np.ndarray) -> float:
    return float(10.0 * np.log10(np.sum(10.0 ** (0.1 * (bands + a_weighting(midbands()))))))


def loud(over: float) -> tuple[Reduced, float]:
    """A fan so many dB above a room of 20 dBA, and its true loudness level [phon]."""
    room = ROOM + 20.0 - total(ROOM)
    fan = FAN + 20.0 + over - total(FAN)
    both = 10.0 * np.log10(10.0 ** (0.1 * fan) + 10.0 ** (0.1 * room))
    empty = Heard(True, total(room), bands=room)
    session = Session(
        Item(told("a"), (Heard(True, total(both), bands=both),)),
        backgrounds=Sides((Item(told("b"), (empty,)),), (Item(told("c"), (empty,)),)),
    )
    return reduce(session), loudness(fan[ZWICKER]).phon


def test_a_loudness_is_never_less_than_the_fans_because_bands_are_bounds() -> None:
    for over in (3.0, 6.0, 8.0, 12.0, 18.0):
        found, true = loud(over)
        assert found.sound is not None
        assert found.sound.phons is not None
        at = float(found.sound.phons.central.mean())
        assert at > true - 0.05, over
        assert at < true + (2.6 if over < 5.0 else 1.0), over


def test_where_bounds_matter_the_loudness_is_a_bound_and_no_value() -> None:
    near, _ = loud(6.0)
    assert near.sound is not None
    assert near.sound.phons is not None
    assert near.sound.phons.bound.all()
    assert near.sound.dwells[0].loudness is None
    assert near.recordings[0]["loudness_is_bound"] is True
    far, true = loud(20.0)
    assert far.sound is not None
    assert far.sound.phons is not None
    assert not far.sound.phons.bound.any()
    assert far.sound.phons.central.mean() == pytest.approx(true, abs=0.2)
    assert far.sound.dwells[0].loudness is not None
