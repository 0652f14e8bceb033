"""The picture in letters."""

from __future__ import annotations

import pytest

from stillroom.lab.watch.text_plot import HEIGHT, WIDTH, text_plot

WORDS = {"x_words": "airflow [m³/h]", "y_words": "static pressure [Pa]"}


def test_it_is_as_large_as_it_says() -> None:
    lines = text_plot([(0.0, 30.0), (80.0, 0.0)], [(0.0, 29.0), (40.0, 20.0), (80.0, 1.0)], **WORDS)
    assert len(lines) == HEIGHT
    assert max(len(each) for each in lines[:-1]) <= WIDTH


def test_points_stand_where_they_belong() -> None:
    lines = text_plot([(0.0, 30.0), (80.0, 0.0), (40.0, 15.0)], [], **WORDS)
    margin = lines[0].index("|") + 1
    assert lines[0][margin] == "o", "no flow, greatest pressure: upper left"
    assert lines[HEIGHT - 4].rstrip().endswith("o"), "greatest flow, no pressure: lower right"
    middle = next(each for each in lines[1 : HEIGHT - 4] if "o" in each)
    assert abs(middle.index("o") - margin - (WIDTH - margin) / 2) <= 1.5
    assert lines[0].strip().startswith("30.0")
    assert lines[HEIGHT - 2].rstrip().endswith("80.0")


def test_the_line_is_unbroken_and_named() -> None:
    lines = text_plot([(0.0, 30.0)], [(0.0, 30.0), (80.0, 0.0)], **WORDS, pale="mounting m1")
    margin = lines[0].index("|") + 1
    letters = [each[margin:] for each in lines[: HEIGHT - 3]]
    columns = {at for row in letters for at, letter in enumerate(row) if letter != " "}
    assert columns == set(range(max(columns) + 1)), "no column without a dot"
    assert "dots mounting m1" in lines[-1]


@pytest.mark.parametrize("points", [[], [(0.0, 0.0)], [(5.0, -3.0)]])
def test_odd_series_do_no_harm(points: list[tuple[float, float]]) -> None:
    text_plot(points, [], **WORDS)
