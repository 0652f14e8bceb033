"""Which speed counts, what is shared, and curves of one speed only."""

from __future__ import annotations

import numpy as np
import pytest

from stillroom.core.characteristic import Part
from stillroom.core.sound.level_points import LevelPoint
from stillroom.core.sound.sound_mounting import Geometry, SpeedFrom
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.errors import NotPossible
from stillroom.lab.source_words import source_in_words
from stillroom.methods.sound.curves import level_curve, phon_curve
from stillroom.methods.sound.mounting import Reduced, reduce_sound
from stillroom.methods.sound.recording import Heard, Series
from stillroom.methods.sound.scales import METER
from stillroom.methods.sound.sources import DAY, PLACE
from stillroom.methods.sound.told import Chain, FanTold, Item, Session, Sides, Told
from stillroom.methods.sound.turning import FASTEST, SLOWEST, range_of

HERE = Geometry(distance=0.5)


def told(run: str = "r", **changes: object) -> Told:
    values: dict[str, object] = {
        "run": run, "key": f"key-{run}", "file": f"{run}.csv", "what": "dwell", "moment": "", "date": "2026-03-02",
        "setting": None, "setting_kind": "", "setting_word": "", "channel": 0, "geometry": HERE,
    }  # fmt: skip
    return Told(**(values | changes))  # type: ignore[arg-type]


def metered(run: str, level: float, *, background: float | None = 10.0, **changes: object) -> Session:
    heard = Heard(calibrated=True, level=level, background=background)
    return Session(Item(told(run, **changes), (heard,)))


METERED = Chain(name="meter-1", rig="quiet")


def reduce(*sessions: Session, chain: Chain = METERED) -> Reduced:
    return reduce_sound(sessions, fan=FanTold(), chain=chain, geometry=HERE, identity="Sedge-1", trials=500)


# --- speeds --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("read", "used", "by"),
    [
        ({"tachometer": 20.0, "optical": 20.01}, 20.0, SpeedFrom.TACHOMETER),
        ({"optical": 20.01}, 20.01, SpeedFrom.OPTICAL),
        ({"setting": 21.0, "setting_kind": "speed"}, 21.0, SpeedFrom.TOLD),
        (
            {"tachometer": 40.0, "optical": 20.0, "setting": 20.1, "setting_kind": "speed"},
            20.0,
            SpeedFrom.OPTICAL,
        ),
        ({"tachometer": 40.0, "optical": 20.0}, 40.0, SpeedFrom.TACHOMETER),
    ],
)
def test_the_first_speed_counts_unless_two_others_agree_against_it(
    read: dict[str, object], used: float, by: SpeedFrom
) -> None:
    found = reduce(metered("a", 30.0, **read))
    assert found.sound is not None
    assert found.sound.dwells[0].speed == pytest.approx(used)
    assert found.sound.dwells[0].speed_from is by
    assert found.recordings[0]["speed"]["used"] == pytest.approx(used)


def test_a_dwell_whose_speed_nobody_knows_keeps_its_level_and_says_so() -> None:
    found = reduce(metered("a", 30.0, setting=0.5, setting_kind="duty"), metered("b", 32.0, tachometer=25.0))
    assert found.sound is not None
    assert len(found.sound.dwells) == 1
    lost = found.recordings[0]
    assert lost["level"] == 30.0
    assert "neither heard, nor read" in lost["failed"]


def test_the_range_of_speeds_goes_by_what_is_known_of_the_fan() -> None:
    assert range_of(FanTold(), told()) == (SLOWEST, FASTEST)
    low, high = range_of(FanTold(full_speed=30.0), told())
    assert low == SLOWEST
    assert 30.0 < high < 45.0


# --- levels --------------------------------------------------------------------------------------------------


def test_a_row_without_background_is_marked_not_refused() -> None:
    found = reduce(metered("a", 30.0, background=None, tachometer=25.0))
    assert found.sound is not None
    assert "no background recorded" in found.marks
    assert found.recordings[0]["background"] is None
    assert found.recordings[0]["level_corrected"] == 30.0


def test_a_meters_accuracy_is_shared_by_all_that_it_reads() -> None:
    found = reduce(metered("a", 30.0, tachometer=25.0), metered("b", 32.0, tachometer=28.0))
    assert found.sound is not None
    curve = found.sound.levels
    at = dict(zip(curve.sources, curve.effects, strict=True))
    assert at["microphone/meter-1/level"] == pytest.approx(METER, abs=1e-3)
    assert at["day/quiet/2026-03-02/sound"] == pytest.approx(DAY, abs=1e-3)
    assert at["place/quiet/0.5 m"] == pytest.approx(PLACE, abs=5e-3)
    stated = reduce(metered("a", 30.0, tachometer=25.0), chain=Chain(name="meter-1", accuracy=1.5))
    assert stated.sound is not None
    assert 1.5 / np.sqrt(3) == pytest.approx(
        dict(zip(stated.sound.levels.sources, stated.sound.levels.effects[:, 0], strict=True))[
            "microphone/meter-1/level"
        ]
    )


def test_two_days_share_no_day() -> None:
    found = reduce(
        metered("a", 30.0, tachometer=25.0), metered("b", 32.0, tachometer=28.0, date="2026-03-03")
    )
    assert found.sound is not None
    curve = found.sound.levels
    first = curve.effects[curve.sources.index("day/quiet/2026-03-02/sound")]
    second = curve.effects[curve.sources.index("day/quiet/2026-03-03/sound")]
    assert first[0] > second[0]
    assert first[-1] < second[-1]


def test_a_series_with_speeds_is_a_ramp() -> None:
    times = np.arange(0.0, 60.0, 0.5)
    speeds = 15.0 + 15.0 * times / 60.0
    levels = 34.0 + 53.0 * np.log10(speeds / 30.0)
    heard = Heard(calibrated=True, level=30.0, series=Series(times, levels, speeds), background=8.0)
    found = reduce(Session(Item(told("a"), (heard,))))
    assert found.sound is not None
    assert found.sound.dwells == ()
    assert all(each.from_ramp for each in found.sound.levels.points)
    at = found.sound.levels.rows(Part.CENTRAL, speeds=np.array([22.0]))[0, 0]
    assert at == pytest.approx(34.0 + 53.0 * np.log10(22.0 / 30.0), abs=0.2)
    assert found.recordings[0]["ramp"]["from"] == pytest.approx(15.0, abs=0.2)


def test_nothing_that_can_be_used_says_why_of_each() -> None:
    empty = Session(Item(told("a"), (), "a.wav: cut short"), Sides(), Sides())
    found = reduce(empty, metered("b", 6.9, tachometer=20.0))
    assert found.sound is None
    assert "cut short" in found.failed
    assert "no louder than the background" in found.failed
    assert found.failed.startswith("a.wav: cut short; recording in b.csv: found ")


def test_a_dwell_no_louder_than_its_background_is_at_most_as_loud_as_read() -> None:
    found = reduce(metered("a", 7.1, tachometer=20.0), metered("b", 10.0, tachometer=25.0),
                   metered("c", 30.0, tachometer=30.0))  # fmt: skip
    assert found.sound is not None
    assert [(each.level, each.is_bound) for each in found.sound.dwells[:2]] == [(7.1, True), (10.0, True)]
    assert [each["correction"] for each in found.recordings[:2]] == [0.0, 0.0]
    assert "some levels are upper bounds" in found.marks
    # 3 dB below the background: another channel or gain, which bounds nothing
    lost = reduce(metered("a", 6.9, tachometer=20.0), metered("c", 30.0, tachometer=30.0))
    assert "no louder than the background" in lost.recordings[0]["failed"]


def test_a_file_without_sound_is_silent_though_its_samples_are_not_noughts() -> None:
    still = Heard(calibrated=True, level=-82.0, duration=30.0, spectrum=np.ones(9), resolution=1.5)
    found = reduce(Session(Item(told("a", tachometer=20.0), (still,))), metered("b", 29.0, tachometer=20.0))
    assert "silence" in found.recordings[0]["failed"]


@pytest.mark.parametrize(("rising", "words"), [(True, "told to go up, whose level falls by 18 dB"),
                                              (False, "told to go down, whose level rises by 18 dB")])  # fmt: skip
def test_a_ramp_in_the_other_direction_than_told_has_no_level(rising: bool, words: str) -> None:
    levels = np.linspace(0.0, -22.5 if rising else 22.5, 101)
    heard = Spectrogram(np.arange(101.0), np.arange(50.0), np.ones((101, 50), dtype=np.float32), 1.0, levels)
    ramp = Session(Item(told("a", rising=rising), (Heard(calibrated=True, level=30.0, spectrogram=heard),)))
    found = reduce(ramp, metered("b", 29.0, tachometer=20.0))
    (failed,) = (each["failed"] for each in found.recordings if each["run"] == "a")
    assert words in failed


def test_a_tenth_of_a_second_has_no_level() -> None:
    short = Heard(calibrated=True, level=30.0, duration=0.1, spectrum=np.ones(9), resolution=1.5)
    found = reduce(Session(Item(told("a", tachometer=20.0), (short,))), metered("b", 29.0, tachometer=20.0))
    failed = [each["failed"] for each in found.recordings if each["run"] == "a"]
    assert len(failed) == 1
    assert failed[0].startswith("recording in a.csv: found 0.1 s of sound; expected 1 s or more")
    assert found.sound is not None
    assert [each.run for each in found.sound.levels.points] == ["b"]


# --- curves --------------------------------------------------------------------------------------------------


def point(speed: float, level: float, *, bound: bool = False) -> LevelPoint:
    return LevelPoint(speed, 0.01, level, 0.2, bound, from_ramp=False, run="r")


def test_one_speed_alone_gives_the_level_there_and_nothing_further_off() -> None:
    curve = level_curve([point(25.0, 30.0)], {"a": 0.3}, identity="x", trials=2000, floor=None)
    rows = curve.rows(speeds=np.array([25.0]))
    assert rows[0, 0] == pytest.approx(30.0, abs=0.01)
    assert rows[1, 0] - rows[0, 0] == pytest.approx(0.3)
    assert rows[2:, 0].std() == pytest.approx(np.hypot(0.3, 0.2), rel=0.1)
    with pytest.raises(NotPossible):
        curve.rows(speeds=np.array([26.0]))
    assert level_curve([point(25.0, 30.0, bound=True)], {}, identity="x", trials=500, floor=None).bound.all()


def test_loudness_goes_with_its_own_slope() -> None:
    points = [point(20.0, 25.0), point(30.0, 35.0)]
    curve = phon_curve(points, [30.0, 42.0], [False, False], [1.3, 1.0], {"a": 0.4}, identity="x", trials=500)
    assert curve is not None
    assert curve.effects[0, 0] == pytest.approx(0.52, abs=0.05)
    assert curve.effects[0, -1] == pytest.approx(0.4, abs=0.05)
    assert phon_curve(points, [None, None], [False, False], [1.0, 1.0], {}, identity="x", trials=500) is None


@pytest.mark.parametrize(
    ("identity", "words"),
    [
        ("calibrator/cal-1", "the level of the calibrator cal-1"),
        ("microphone/mic-1/response", "the response of microphone mic-1"),
        ("microphone//level", "the level of the microphone, not calibrated that day"),
        ("day/quiet/2026-03-02/sound", "the day 2026-03-02 on quiet"),
        ("place/quiet/0.5 m, 45°", "the place of the microphone (0.5 m, 45°) on quiet"),
        ("calibration/quiet/2026-03-02/abc, def", "the readings of the calibrator on 2026-03-02 on quiet"),
    ],
)
def test_shared_errors_of_levels_are_said_in_words(identity: str, words: str) -> None:
    assert source_in_words(identity) == words
