"""The quiet room of the invented laboratory: its physics, its recordings, and what is said to be true of them."""

import csv
import math
import tomllib
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from statistics import fmean

import numpy as np
import pytest
import soundfile
from heard import of_what, recorded
from inverted import Lab

from stillroom.core.sound.analysis import analyse
from stillroom.demo.catalogue import REFERENCE_FAN
from stillroom.demo.sound.noise import Noise, bin_frequencies
from stillroom.demo.sound.plan import Form
from stillroom.demo.sound.room import FIELD
from stillroom.demo.sound.saving import save_recording
from stillroom.demo.sound.sessions import full_sessions
from stillroom.demo.sound.truth import AT_LIMIT, NOT_SO_QUIET, TOPS_OUT, SoundTruth
from stillroom.demo.sound.voice import Resonance, Voice, loading
from stillroom.demo.sound.waves import Heard, bump, steady, swept
from stillroom.demo.sound.weighting import a_level, a_power
from stillroom.demo.write import write_exports

VOICE = Voice(28.0, 53.0, 900.0, 7.0, 5.5, Resonance(165.0, 22.0, 16.0), 9, (-10.0, -20.0, -26.0))


def sound_of(lab: Lab) -> SoundTruth:
    assert lab[1].sound is not None
    return lab[1].sound


# --- physics -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("frequency", "level"),
    [(10.0, -70.4), (31.6228, -39.4), (125.8925, -16.1), (1000.0, 0.0), (3981.07, 1.0), (10000.0, -2.5)],
)
def test_a_weighting_by_the_table(frequency: float, level: float) -> None:
    # IEC 61672-1:2013, table 3, as transcribed in public test suites; rounded to 0.1 dB
    assert a_level(frequency) == pytest.approx(level, abs=0.05)
    assert 10 * math.log10(a_power(np.array([frequency]))[0]) == pytest.approx(level, abs=0.05)


def test_a_fan_is_quietest_between_stall_and_free_delivery() -> None:
    # δ(q) by hand: 9·(0.35/0.70)^1.6 = 2.969; 2·(0.1/0.2)² = 0.5
    assert loading(0.35) == pytest.approx(2.969, abs=1e-3)
    assert loading(0.75) == 0.0
    assert loading(0.9) == pytest.approx(0.5)
    assert loading(1.0) == pytest.approx(2.0)


def test_levels_grow_with_speed_and_density() -> None:
    assert VOICE.broadband(25.0, 0.75) == pytest.approx(28.0)
    assert VOICE.broadband(2 * 25.0, 0.75) == pytest.approx(28.0 + 53 * math.log10(2))
    assert VOICE.broadband(25.0, 0.75, 0.6) == pytest.approx(28.0 - 20 * math.log10(2))


def test_a_resonance_is_as_wide_as_its_quality_says() -> None:
    resonance = VOICE.resonance
    assert resonance.raised(165.0) == pytest.approx(16.0)
    middle = 10 * math.log10(1 + (10**1.6 - 1) / 2)
    width = 165.0 / 22.0
    for edge in (165.0 - width / 2, 165.0 + width / 2):
        assert resonance.raised(edge) == pytest.approx(middle, abs=0.15)
    assert resonance.raised(330.0) < 0.2


def test_noise_has_the_spectrum_that_was_asked_for() -> None:
    f = bin_frequencies(48_000)
    power = VOICE.spectrum(f) * f[1] * 10**2.8
    assert 10 * math.log10(np.sum(power * a_power(f))) == pytest.approx(28.0, abs=1e-6)
    wave = Noise(1, "a test").shaped(power, 30 * 48_000)
    found, at = np.abs(np.fft.rfft(wave)) ** 2 * 2 / len(wave) ** 2, np.fft.rfftfreq(len(wave), 1 / 48_000)
    for low in (60, 125, 250, 500, 1000, 2000, 4000, 8000):
        told = np.sum(power[(f >= low) & (f < 2 * low)])
        heard = np.sum(found[(at >= low) & (at < 2 * low)])
        assert 10 * math.log10(heard / told) == pytest.approx(0.0, abs=0.35), low
    # a normal distribution: kurtosis 3
    assert float(np.mean(wave**4) / np.mean(wave**2) ** 2) == pytest.approx(3.0, abs=0.03)


def test_the_hump_falls_by_five_to_six_decibels_an_octave() -> None:
    f = bin_frequencies(48_000)
    weighted = VOICE.spectrum(f) * a_power(f)
    edges = [62.5 * 2**i for i in range(9)]
    octaves = [10 * math.log10(np.sum(weighted[(f >= a) & (f < b)])) for a, b in pairwise(edges)]
    assert 500 <= edges[int(np.argmax(octaves))] <= 1000
    falls = [b - a for a, b in pairwise(octaves[5:])]
    assert all(-6.0 < fall < -4.9 for fall in falls)


def test_a_ramp_sweeps_its_speeds_by_phase() -> None:
    rate, seconds = 48_000, 8.0
    course = swept(np.array([10.0, 20.0]), np.array([0.7, 0.7]), seconds, 1.0)
    heard = Heard(VOICE, course, 1.2, 1.0)
    wave = heard.tones(round(seconds * rate), rate)
    f = np.fft.rfftfreq(rate // 2, 1 / rate)
    for second, speed in ((0.25, 10.0), (4.0, 15.0), (7.5, 20.0)):
        first = round((second - 0.25) * rate)
        part = wave[first : first + rate // 2] * np.hanning(rate // 2)
        spectrum = np.abs(np.fft.rfft(part))
        peak = f[np.argmax(spectrum * ((f > 60) & (f < 200)))]
        assert peak == pytest.approx(9 * speed, abs=3.0)


def test_one_tone_has_its_level() -> None:
    rate = 48_000
    course = steady(20.0, 0.7, 10.0, 0.0, 0.0)
    wave = Heard(VOICE, course, 1.2, 0.5).tones(10 * rate, rate)
    power = np.abs(np.fft.rfft(wave)) ** 2 * 2 / len(wave) ** 2
    at = np.fft.rfftfreq(len(wave), 1 / rate)
    for tone in VOICE.tones(20.0, 0.7, 1.2):
        found = 10 * math.log10(np.sum(power[abs(at - tone.frequency) < 2]))
        # half the distance: 6.02 dB more
        assert found == pytest.approx(tone.level - a_level(tone.frequency) + 6.02, abs=0.02)


# --- files and tables --------------------------------------------------------------------------------------


def rows_of_runs(folder: Path) -> list[dict[str, str]]:
    with (folder / "quiet-room-runs.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def test_tables_tell_of_every_recording(sounding: Lab) -> None:
    folder, _ = sounding
    rows = rows_of_runs(folder)
    files = {path.relative_to(folder).as_posix() for path in (folder / "exports/quiet-room").rglob("*.*")}
    assert {row["file"] for row in rows} == files
    assert {each.file for each in sound_of(sounding).recordings} == files
    hung = {row["mounting"] for row in rows} - {""}
    with (folder / "quiet-room-mountings.csv").open(encoding="utf-8", newline="") as lines:
        assert {row["mounting"] for row in csv.DictReader(lines)} == hung
    rig = tomllib.loads((folder / "quiet.toml").read_text(encoding="utf-8"))
    assert {row["rig"] for row in rows} == set(rig["rig"]) == {"quiet"}


def test_recordings_are_of_several_kinds_and_begin_when_they_were_made(sounding: Lab) -> None:
    folder, _ = sounding
    seen, moments = set(), []
    for row in rows_of_runs(folder):
        with soundfile.SoundFile(folder / row["file"]) as file:
            seen.add((file.format, file.subtype, file.samplerate, file.channels))
            moments.append(file.date)
            assert row["channel"] == ("2" if file.channels == 2 else "")
            assert file.frames / file.samplerate in (10.0, 30.0, 60.0)
    assert {each[1:] for each in seen} == {
        ("PCM_24", 48_000, 1), ("PCM_16", 48_000, 1), ("PCM_24", 44_100, 1), ("PCM_24", 48_000, 2),
    }  # fmt: skip
    assert {each[0] for each in seen} == {"WAV", "FLAC"}
    assert moments == sorted(moments)
    assert len(set(moments)) == len(moments)


def test_each_fan_was_heard_with_the_radiator(sounding: Lab) -> None:
    truth = sounding[1]
    for fan in {each.fan for each in truth.fans}:
        own = [each for each in sound_of(sounding).recordings if each.fan == fan]
        assert {each.obstacle for each in own} == {truth.reference_obstacle}
        assert [each.what for each in own if each.sample == "s1"] == ["ramp up", "dwell", "dwell", "dwell"]


def test_without_sound_nothing_of_it_is_written(lab: Lab) -> None:
    assert lab[1].sound is None
    assert not list(lab[0].glob("quiet*"))


def test_the_whole_round_hears_fourteen_fans_and_all_faults() -> None:
    sessions = full_sessions("rad27@2", faults=True)
    visits = [visit for session in sessions for visit in session.visits]
    takes = [take for visit in visits for take in visit.takes]
    checks = [visit for visit in visits if visit.fan == REFERENCE_FAN]
    assert len(checks) == 12
    assert not any(visit.obstacle for visit in checks), "a check is in free air"
    assert len({visit.fan for visit in visits if visit.obstacle}) == 14
    for session in [each for each in sessions if each.hour < 12]:
        assert session.visits[0].fan == session.visits[-1].fan == REFERENCE_FAN
    assert {visit.obstacle for visit in visits} == {"rad27@2", ""}
    assert {take.form for take in takes} == set(Form) - {Form.WAV_16}, "as in the short round"
    assert sum(take.wrong.lorry for take in takes) == 1
    assert sum(take.wrong.bump for take in takes) == 1
    assert sum(take.wrong.pulses != 1.0 for take in takes) == 1
    assert sum(visit.distance != 0.5 for visit in visits) == 1
    assert sum(session.gain > 0.5 for session in sessions) == 1
    assert sum(session.rise > 2.0 for session in sessions) == 1
    clean = full_sessions("rad27@2", faults=False)
    assert all(each == each.faultless() for each in clean)
    # every fan that a fault takes a visit from has another
    for session in sessions:
        for visit in session.visits:
            if session.gain or session.rise or visit.distance != 0.5:
                assert sum(other.fan == visit.fan for other in visits) >= 2


def test_a_knock_goes_over_full_scale_and_is_cut_off(tmp_path: Path) -> None:
    wave = bump(48_000, 48_000, FIELD.full_scale + 6.0, 0.2)
    save_recording(tmp_path / "k.flac", wave, Form.FLAC, FIELD.full_scale, datetime(2026, 3, 4, 9), None)
    read, _ = soundfile.read(tmp_path / "k.flac", dtype="float32")
    assert np.sum(np.abs(read) > 0.999) > 100
    assert analyse([read], 48_000.0).integrity.clipped > 100


# --- truth -------------------------------------------------------------------------------------------------


def test_the_calibrator_sets_the_scale(sounding: Lab) -> None:
    folder, _ = sounding
    for each in of_what(sound_of(sounding), "calibrator before", "calibrator after"):
        wave = recorded(folder, each).wave.astype(float)
        assert 10 * math.log10(np.mean(wave**2)) + each.full_scale == pytest.approx(94.0, abs=0.01)


def test_room_and_microphone_are_as_quiet_as_a_good_room(sounding: Lab) -> None:
    quiet = [each.level for each in of_what(sound_of(sounding), "background before")]
    assert all(14.0 < each < 18.0 for each in quiet)
    mornings = [e for e in of_what(sound_of(sounding), "background after") if "afternoon" not in e.file]
    assert all(14.0 < each.level < 18.0 for each in mornings)


def test_the_afternoons_background_rises(sounding: Lab) -> None:
    before, after = (
        next(e for e in of_what(sound_of(sounding), what) if "afternoon" in e.file).level
        for what in ("background before", "background after")
    )
    assert after - before > 2.0, "more than the rule allows"


def test_limits_are_met_where_the_truth_says(sounding: Lab) -> None:
    truth = sound_of(sounding)
    for each in truth.limits:
        curve = next(
            one
            for one in truth.levels
            if (one.fan, one.sample, one.obstacle) == (each.fan, each.sample, each.obstacle)
        )
        at = float(np.interp(each.speed, curve.speeds, curve.levels))
        if each.reached == AT_LIMIT:
            assert at == pytest.approx(each.limit, abs=0.03)
            above = [lv for n, lv in zip(curve.speeds, curve.levels, strict=True) if n > each.speed + 0.02]
            assert all(level > each.limit - 0.05 for level in above)
        elif each.reached == TOPS_OUT:
            assert each.speed == pytest.approx(curve.speeds[-1])
            assert at <= each.limit
        else:
            assert each.reached == NOT_SO_QUIET
            assert min(curve.levels) > each.limit
        for low, high in each.avoid:
            inside = float(np.interp((low + high) / 2, curve.speeds, curve.levels))
            assert inside > each.limit
            assert high < each.speed


def test_the_inverting_fan_meets_35_dba_twice(sounding: Lab) -> None:
    truth = sound_of(sounding)
    for sample in ("", "s1"):
        found = truth.limit("Tormentil", "rad27", 35.0, sample)
        ((low, high),) = found.avoid
        assert found.strict == low
        assert found.speed / found.strict > 1.15
        assert 20 < (high - low) * 60 < 120


def test_at_35_dba_the_order_is_another_than_at_full_speed(sounding: Lab) -> None:
    truth = sounding[1]
    flows = {
        each.fan: each.flow * 3600
        for each in sound_of(sounding).limits
        if each.sample == "" and each.limit == 35.0
    }
    full = {each.fan: each.flow * 3600 for each in truth.operating if each.obstacle == "rad27" and each.unique
            and each.sample == "" and each.condition == "full speed"}  # fmt: skip
    assert max(full[each] for each in truth.near_tie) / min(full[each] for each in truth.near_tie) < 1.015
    assert max(flows[each] for each in truth.near_tie) / min(flows[each] for each in truth.near_tie) > 1.2
    topped = [e.fan for e in sound_of(sounding).limits if e.sample == "" and e.reached == TOPS_OUT]
    assert sorted(topped) == ["Sedge", "Sundew"]
    for fan in topped:
        assert flows[fan] == pytest.approx(full[fan], rel=1e-3)


def test_spreads_are_those_of_the_design() -> None:
    from stillroom.demo.draws import Draws
    from stillroom.demo.sound.room import DAY_SD, MOUNTING_SD, SAMPLE_SD

    assert 0.5 <= SAMPLE_SD <= 0.8
    assert 0.3 <= MOUNTING_SD <= 0.5
    assert 0.2 <= DAY_SD <= 0.3
    drawn = [Draws(seed, "voice Bracken s1").normal(SAMPLE_SD) for seed in range(400)]
    assert math.sqrt(fmean(each**2 for each in drawn)) == pytest.approx(SAMPLE_SD, rel=0.1)


def test_same_seed_same_bytes_but_for_the_faults_files(sounding: Lab, tmp_path: Path) -> None:
    folder, truth = sounding
    write_exports(tmp_path / "clean", sound=True, faults=False)
    told = {file for fault in truth.faults for file in fault.files}
    told |= {"claims.csv", "quiet-room-runs.csv"}
    names = [path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()]
    differing = {e for e in names if (folder / e).read_bytes() != (tmp_path / "clean" / e).read_bytes()}
    heard = {each for each in differing if "quiet" in each}
    assert differing <= told
    assert {each.rpartition("/")[2] for each in heard} == {
        "sedge_s1_q1_55pct_rad27.flac", "bracken_s2_q1_55pct_rad27.wav", "bracken_s2_q1_85pct_rad27.wav",
        "bg-after.wav", "cal94-after.wav", "quiet-room-runs.csv",
    }  # fmt: skip
