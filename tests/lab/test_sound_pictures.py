"""The pictures of sound from a lab's results, against the invented room's own numbers."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import pytest
from sound_world import BLADES, SPEEDS, Bench, background, calibrator, fan_level, ramp, reduced, usual_session

from stillroom.charts.series import Bound
from stillroom.core.sound.orders import NamedTone, Origin
from stillroom.core.sound.spectrogram import Spectrogram
from stillroom.core.sound.tones import Tone
from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.book import Book, open_book
from stillroom.lab.pictures.pictures import is_too_loud, on_the_bar
from stillroom.lab.pictures.sound import sound_words as words
from stillroom.lab.pictures.sound.level_pictures import level_chart, thinned
from stillroom.lab.pictures.sound.ramp_pictures import cells_of, ramp_chart, shown_levels
from stillroom.lab.pictures.sound.spectrum_pictures import spectrum_chart
from stillroom.lab.pictures.sound.trade_pictures import left_out
from stillroom.lab.recipes import Graph
from stillroom.measures import Condition
from stillroom.store.lab import Lab

Opened = tuple[Lab, Book, Graph]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    """A quiet room with three dwells and a ramp of one fan."""
    bench = Bench(tmp_path_factory.mktemp("pictures"))
    usual_session(bench)
    seconds = 40.0
    hum = background(16.0, seconds, seed=70)
    bench.record("a/ramp-up.wav", ramp(18.0, 31.0, seconds, 7) + hum, recording="ramp up", fan="Sedge", sample="s1",
                 session="A", mounting="Sedge-1", speed_from=1080, speed_to=1860)  # fmt: skip
    bench.record("a/cal-later.wav", calibrator(off=0.1), recording="calibrator after", session="A")
    bench.finish()
    with bench.lab() as lab:
        graph = reduced(lab)
        yield lab, open_book(lab), graph


def test_levels_lie_at_the_truth_and_say_where_the_microphone_stood(opened: Opened) -> None:
    picture, name = level_chart(*opened, "Sedge", (), "", (30.0,))
    (line,) = picture.lines
    assert name == "levels-sedge-30dba"
    level = float(np.interp(1800.0, line.speed, line.level))
    assert level == pytest.approx(fan_level(30.0), abs=0.6)
    assert np.interp(1800.0, line.speed, line.low) < level < np.interp(1800.0, line.speed, line.high)
    assert len(line.points) == len(SPEEDS)
    assert len(line.ramp) > 30
    assert "at 0.5\u00a0m" in picture.y_label
    assert "at 0.5\u00a0m" in picture.subtitle
    # The invented fan's law turned round: 34 dBA at 1800 rpm, 53 dB a decade.
    (mark,) = picture.marks
    assert mark.speed == pytest.approx(1800.0 * 10 ** ((30.0 - 34.0) / 53.0), rel=0.03)
    assert mark.low < mark.speed < mark.high
    assert picture.title.startswith("Sedge keeps to 30\u00a0dBA at 0.5\u00a0m up to 1,5")
    assert not picture.avoid
    assert picture.alt.startswith("Level against speed at 0.5\u00a0m in free air, one fan. Sedge: from ")


def test_a_fan_that_tops_out_or_is_too_loud_is_called_so(opened: Opened) -> None:
    loud, _ = level_chart(*opened, "", (), "", (60.0,))
    hit = re.match(r"Sedge tops out at ([\d.]+)\u00a0dBA at 0\.5\u00a0m", loud.title)
    assert hit is not None
    assert float(hit[1]) == pytest.approx(fan_level(1860.0 / 60.0), abs=0.7)
    assert not loud.marks
    quiet, _ = level_chart(*opened, "", (), "", (18.0,))
    assert quiet.title.startswith(
        "Sedge is at most 20"
    )  # its slowest steps are bounds: nobody heard whether it can
    assert quiet.title.endswith("at its slowest: the noise floor")


def test_the_spectrum_is_that_of_the_nearest_dwell_with_its_tones_named(opened: Opened) -> None:
    picture, name = spectrum_chart(*opened, "Sedge", Condition(speed=1440.0 / 60.0))
    assert name == "spectrum-sedge-1450-rpm"
    assert "A-weighted" in picture.subtitle
    tones = {each.words.replace("\u00a0", " "): each.frequency for each in picture.tones}
    pass_hz = BLADES * 1450.0 / 60.0
    assert tones[f"blade pass {pass_hz:.0f} Hz"] == pytest.approx(pass_hz, rel=1e-3)
    assert picture.title.startswith("At 1,450\u00a0rpm Sedge has ")
    # Bands and total: the sum of A-weighted bands is the level, but for what lies beyond them.
    total = 10 * np.log10(sum(10 ** (each.level / 10) for each in picture.bands))
    assert total == pytest.approx(fan_level(1450.0 / 60.0), abs=0.4)
    as_it_is, other = spectrum_chart(*opened, "Sedge", Condition(duty=0.7), weighted=False)
    assert other == "spectrum-sedge-1450-rpm-unweighted"
    assert "unweighted" in as_it_is.y_label
    assert as_it_is.bands[0].level - picture.bands[0].level == pytest.approx(
        50.5, abs=0.2
    )  # A at 20 Hz: −50.5 dB,
    # IEC 61672-1:2013, Table 3 (from memory)
    assert all(each.background is not None for each in picture.bands)
    for each in picture.bands:
        near = each.background is not None and each.level - each.background < 4.5
        assert (
            each.bound is (Bound.AT_MOST if near else Bound.NONE)
            or 4.5 < each.level - (each.background or 0) < 6.5
        )
    with pytest.raises(
        NotPossible, match=r"no dwell near it; expected one of 1,1\d+\srpm, 1,4\d+\srpm or 1,[78]\d+\srpm"
    ):
        spectrum_chart(*opened, "Sedge", Condition(speed=1000.0 / 60.0))


def test_a_ramp_is_drawn_over_its_speed_with_blade_pass_on_the_ridge(opened: Opened) -> None:
    picture, name = ramp_chart(*opened, "Sedge", "")
    assert name == "ramp-sedge-up"
    assert picture.x_unit == "rpm"
    assert picture.x_low == pytest.approx(1080.0, rel=0.03)
    assert picture.x_high == pytest.approx(1860.0, rel=0.03)
    line = next(each for each in picture.orders if each.label == "blade pass")
    rows, columns = picture.cells.shape
    hits = 0
    for column in range(columns // 8, columns - columns // 8):
        speed = picture.x_low + (column + 0.5) / columns * (picture.x_high - picture.x_low)
        place = np.log(np.interp(speed, line.across, line.frequency) / picture.y_low)
        row = int(place / np.log(picture.y_high / picture.y_low) * rows)
        around = picture.cells[row - 12 : row + 13, column]
        hits += abs(int(np.argmax(around)) - 12) <= 3
    assert hits > 0.9 * (columns - 2 * (columns // 8))
    assert picture.quiet < picture.loud
    assert picture.title.endswith("Sedge has no speeds to avoid")


def test_unknown_fans_and_silent_obstacles_are_named(opened: Opened) -> None:
    lab, book, graph = opened
    with pytest.raises(UnknownThing, match="Rush"):
        level_chart(lab, book, graph, "Rush", (), "", ())
    with pytest.raises(UnknownThing, match="nothing"):
        ramp_chart(lab, book, graph, "Sedge", "nothing")


# --- pieces ---------------------------------------------------------------------------------------


def test_cells_are_means_over_frames_and_the_loudest_of_bins() -> None:
    # Two frames in the first column, one in the last; a tone of power 9 in one bin. Closed form.
    frequencies = np.arange(1, 41) * 100.0
    power = np.ones((4, 40), dtype=np.float32)
    power[:, 19] = 9.0
    power[1] *= 3.0
    spectrogram = Spectrogram(np.arange(4.0), frequencies, power, 100.0, np.zeros(4))
    across = np.array([0.0, 0.1, 0.9, 1.0])
    cells = cells_of(spectrogram, 20.0, across, (0.0, 1.0), (100.0, 4000.0))
    assert cells.shape[1] == 2
    tone = 10 * np.log10(18.0) + 20.0  # the mean of 9 and 27
    assert cells[:, 0].max() == pytest.approx(tone, abs=1e-4)
    assert np.median(cells[:, 1]) == pytest.approx(20.0, abs=1e-4)
    low, high = shown_levels(cells)
    assert low % 5 == 0
    assert high % 5 == 0
    assert low < high


def test_names_of_orders_and_bands_of_speed() -> None:
    tone = Tone(444.0, 30.0, 12.0, 12.0, 8.0, 9.0, True, ())
    assert (
        words.tone_words(NamedTone(tone, 18.0, Origin.BLADE_PASS_HARMONIC), 444.0 / 18, 9)
        == "2 × blade pass 444\u00a0Hz"
    )
    assert words.tone_words(NamedTone(tone, 2.0, Origin.FIXED), 20.0, 9) == "fixed frequency 444\u00a0Hz"
    assert words.tone_words(NamedTone(tone, 2.0, Origin.UNKNOWN), 20.0, 9) == "444\u00a0Hz"
    assert words.order_name(9.0, 9) == "blade pass"
    assert words.order_name(12.0, 9) == "12 × shaft"
    assert words.order_name(1.0, None) == "shaft"
    assert words.band(1090 / 60, 1330 / 60) == "1,090–1,330\u00a0rpm"
    assert words.bands_listed([(10.0, 12.0)]) == "between 600 and 720\u00a0rpm"
    low, high = words.widened((1082.4 / 60, 1113.9 / 60))
    assert (round(low * 60, 6), round(high * 60, 6)) == (1080.0, 1120.0)
    low, high = words.widened((1080.0 / 60, 1120.0 / 60))
    assert (round(low * 60, 6), round(high * 60, 6)) == (1080.0, 1120.0)


def test_marks_of_sound_stand_on_bars_in_few_words() -> None:
    assert on_the_bar("tops out at 33.1 dBA at 0.5 m") == "tops out at 33.1 dBA"
    assert on_the_bar("tops out at 1.2 sone at 0.5 m") == "tops out at 1.2 sone"
    assert on_the_bar("above 35 dBA: avoid 1,082–1,114 rpm") == "avoid 1,082–1,114 rpm"
    assert on_the_bar("has a tone at 222 Hz (blade pass)") == "tone at 222 Hz"
    assert on_the_bar("the limit lies in the noise floor") == "in the noise floor"
    assert on_the_bar("open finding") == "open finding"
    assert on_the_bar("fan not described") == ""
    assert is_too_loud("can’t run this quiet: 31 dBA at 0.5 m at its lowest speed measured, 500 rpm")


def test_a_long_series_is_thinned_with_its_ends() -> None:
    places = thinned(1000, 200)
    assert (places[0], places[-1]) == (0, 999)
    assert len(places) <= 200
    assert list(thinned(5, 200)) == [0, 1, 2, 3, 4]


def test_who_is_left_out_of_a_tradeoff_is_named() -> None:
    shown = ["A", "B", "C", "D", "E"]
    assert left_out(35.0, [*shown, "Moss", "Fern"], [], shown) == [
        "Drawn: the first five of seven fans at 35\u00a0dBA; left out: Moss and Fern."
    ]
    assert left_out(35.0, [*shown, "Moss"], ["Fern"], shown) == [
        "Drawn: the first five of six fans at 35\u00a0dBA; left out: Moss; not ranked there: Fern."
    ]
    assert left_out(35.0, shown, [], shown) == []
