"""Watching a folder: real files that grow while they are watched, with the seconds from last byte to word."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from stillroom.errors import BadInput
from stillroom.lab.book import open_book, place_all
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.watch.watching import Arrival, Telling, watch
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

SECONDS = 5.0
"""From an export's last byte to the word for it."""

HEAD = "Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n"


def sweep(speed: int, points: int = 12) -> str:
    """A sweep of a plain fan: Q = 0.06 N at free delivery, p = 8e-6 N² at shut-off (invented)."""
    share = np.linspace(0.0, 0.97, points)
    rows = (
        f"{0.06 * speed * q:.2f},{8e-6 * speed**2 * (1 - 0.3 * q - 0.7 * q**2.4):.3f},{speed}\n"
        for q in share
    )
    return HEAD + "".join(rows)


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    folder.make(tmp_path / "lab", template("Test").replace("# trials = 2000", "trials = 500"))
    with Lab(tmp_path / "lab") as opened:
        yield opened


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    made = tmp_path / "exports"
    made.mkdir()
    return made


def telling(**more: object) -> Telling:
    said = {"fan": "Sedge", "sample": "1", "accuracy": "± 3 % of reading"}
    return Telling(said, **({"draw": False} | more))  # type: ignore[arg-type]


def words(arrivals: list[Arrival]) -> list[tuple[str, str]]:
    return [(each.placed.taken.file, each.word.value) for one in arrivals for each in one.checked]


def written(target: Callable[[], None]) -> threading.Thread:
    thread = threading.Thread(target=target)
    thread.start()
    return thread


def test_what_is_there_is_brought_in_once(lab: Lab, exports: Path) -> None:
    for speed in (1500, 900):
        (exports / f"{speed}.csv").write_text(sweep(speed), encoding="utf-8")
    (exports / "readme.txt").write_text("Bench notes\n", encoding="utf-8")
    arrivals = list(watch(lab, exports, telling(), once=True))
    assert [file for file, _ in words(arrivals)] == ["exports/1500.csv", "exports/900.csv"]
    assert [each.left_out for each in arrivals if each.left_out] == ["a text without a table of numbers"]
    again = list(watch(lab, exports, telling(), once=True))
    assert not any(each.runs for each in again), "what the lab has isn't taken again"
    assert [each.known for each in again if each.known] == [("exports/1500.csv", "exports/900.csv")], (
        "said once"
    )


def test_the_same_bytes_under_another_name_are_said_once(lab: Lab, exports: Path) -> None:
    (exports / "a.csv").write_text(sweep(1500), encoding="utf-8")
    list(watch(lab, exports, telling(), once=True))
    (exports / "a.csv").rename(exports / "b.csv")
    (arrival,) = watch(lab, exports, telling(), once=True)
    assert (arrival.known, arrival.runs) == (("exports/b.csv",), ())


def test_a_growing_file_is_shown_within_five_seconds_of_its_last_byte(lab: Lab, exports: Path) -> None:
    (exports / "1500.csv").write_text(sweep(1500), encoding="utf-8")
    list(watch(lab, exports, telling(), once=True))
    last: list[float] = []

    def write() -> None:
        text = sweep(900).encode()
        with (exports / "900.csv").open("wb", buffering=0) as file:
            for start in range(
                0, len(text), 37
            ):  # pieces that end in the middle of lines, numbers and letters
                file.write(text[start : start + 37])
                time.sleep(0.12)
        last.append(time.monotonic())

    thread = written(write)
    (arrival,) = islice((each for each in watch(lab, exports, telling()) if not each.known), 1)
    seconds = time.monotonic() - last[0]
    thread.join()
    assert 0.0 < seconds < SECONDS, f"{seconds:.1f} s"
    (one,) = arrival.checked
    assert one.placed.taken.points == 12, "not before the whole file was there"
    assert any("o" in line for line in arrival.picture)


def test_a_file_that_pauses_in_half_a_number_is_taken_anew_when_it_goes_on(lab: Lab, exports: Path) -> None:
    text = sweep(1500)
    with (exports / "a.csv").open("w", encoding="utf-8") as file:
        file.write(text[:-3])  # its last speed reads 15

    def go_on() -> None:
        time.sleep(6.0)
        with (exports / "a.csv").open("a", encoding="utf-8") as file:
            file.write(text[-3:])

    thread = written(go_on)
    first, second = islice(watch(lab, exports, telling()), 2)
    thread.join()
    assert first.runs != second.runs
    (placed,) = place_all(open_book(lab))
    assert placed.run == second.runs[0], "its earlier state stands no more, but is in the journal"
    kinds = [kind for (kind,) in lab.database.execute("SELECT kind FROM journal ORDER BY sequence")]
    assert kinds.count("withdrawn") == 1
    assert kinds.count("taken") == 2


def test_an_unreadable_file_is_named_once_and_tried_again_when_it_changes(
    lab: Lab, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("stillroom.lab.watch.still_files.GIVEN_UP", 4.0)
    text = sweep(1500)
    (exports / "a.csv").write_text(text.replace("1500\n", "x\n", 1), encoding="utf-8")
    (first,) = watch(lab, exports, telling(), once=True)
    assert first.error is not None
    assert "line 2, column 3" in first.error.place
    (exports / "a.csv").write_text(text, encoding="utf-8")
    (second,) = watch(lab, exports, telling(), once=True)
    assert second.checked


def test_what_waiting_cannot_cure_is_named_at_once(lab: Lab, exports: Path) -> None:
    (exports / "a.csv").write_text(sweep(1500).replace(" [m³/h]", ""), encoding="utf-8")
    began = time.monotonic()
    (arrival,) = watch(lab, exports, telling(), once=True)
    assert arrival.error is not None
    assert "unit:Airflow" in arrival.error.expected
    assert time.monotonic() - began < SECONDS


def test_like_the_last_run_nothing_need_be_told(lab: Lab, exports: Path, tmp_path: Path) -> None:
    first = tmp_path / "first.csv"
    first.write_text(sweep(1500), encoding="utf-8")
    bring_in(lab, [first], {"fan": "Sedge", "sample": "2", "accuracy": "± 3 % of reading"})
    (exports / "next.csv").write_text(sweep(900), encoding="utf-8")
    (arrival,) = watch(lab, exports, Telling({}, like_last=True, draw=False), once=True)
    placed = arrival.checked[0].placed
    assert (placed.fan, placed.sample) == ("Sedge", "s2")
    assert len({each.mounting for each in place_all(open_book(lab))}) == 1


def test_a_new_mounting_begins_where_it_is_told(lab: Lab, exports: Path, tmp_path: Path) -> None:
    first = tmp_path / "first.csv"
    first.write_text(sweep(1500), encoding="utf-8")
    bring_in(lab, [first], {"fan": "Sedge", "sample": "1"})
    for speed in (1490, 905):
        (exports / f"{speed}.csv").write_text(sweep(speed), encoding="utf-8")
    arrivals = list(watch(lab, exports, telling(new_mounting=True), once=True))
    assert {each.checked[0].placed.mounting[-2:] for each in arrivals} == {"/2"}
    assert "of mounting" in arrivals[-1].checked[0].reason


def test_the_picture_is_drawn_over_the_last_mounting(lab: Lab, exports: Path, tmp_path: Path) -> None:
    first = tmp_path / "first.csv"
    first.write_text(sweep(1500), encoding="utf-8")
    bring_in(lab, [first], {"fan": "Sedge", "sample": "1"})
    (exports / "second.csv").write_text(sweep(1490), encoding="utf-8")
    arrivals = list(watch(lab, exports, telling(new_mounting=True, draw=True), once=True))
    charts = {each.name: each for one in arrivals for each in one.charts}
    assert set(charts) == {"latest.svg", "latest.html", "latest.png"}
    page = charts["latest.html"].read_text(encoding="utf-8")
    assert 'http-equiv="refresh"' in page
    assert "Sedge-s1" in page
    assert charts["latest.png"].read_bytes().startswith(b"\x89PNG")


def test_a_folder_that_is_none_is_refused(lab: Lab, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no folder"):
        next(watch(lab, tmp_path / "nowhere", telling()))
