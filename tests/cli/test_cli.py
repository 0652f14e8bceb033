"""The command line: made from the verbs, one shape of errors, and the whole airflow job from new to restore."""

from __future__ import annotations

import json
import shutil
import struct
from pathlib import Path

import pytest

from stillroom import verbs
from stillroom.cli.main import run
from stillroom.demo.write import write_exports


def call(capsys: pytest.CaptureFixture[str], *words: str | Path) -> tuple[int, str, str]:
    code = run([str(each) for each in words])
    out, err = capsys.readouterr()
    assert "Traceback" not in out + err
    return code, out, err


def said(capsys: pytest.CaptureFixture[str], *words: str | Path) -> dict:  # type: ignore[type-arg]
    code, out, err = call(capsys, *words, "--json")
    assert code in (0, 1), out + err
    answer = json.loads(out)
    assert isinstance(answer, dict)
    return answer


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("exports")
    write_exports(folder / "bench", truth_path=folder / "truth.json")
    for name in ("Bilberry", "Tormentil", "Sedge", "Sundew"):
        shutil.rmtree(folder / "bench" / "exports" / name)
    return folder / "bench"


@pytest.mark.parametrize("verb", [each.__name__.replace("_", "-") for each in verbs.VERBS])
def test_every_verb_has_its_help(capsys: pytest.CaptureFixture[str], verb: str) -> None:
    code, out, _ = call(capsys, verb, "--help")
    assert code == 0
    assert "--json" in out
    assert "--progress" not in out
    assert "--ask" not in out


def test_the_whole_airflow_job(capsys: pytest.CaptureFixture[str], bench: Path, tmp_path: Path) -> None:
    lab, at = tmp_path / "lab", ("--lab", tmp_path / "lab")
    said(capsys, "new", lab, "--name", "Test Lab")
    assert len(said(capsys, "add", bench, "--preview", *at)["parts"]) > 30
    assert len(said(capsys, "add", bench, "--no-check", *at)["new"]) > 30
    again = said(capsys, "add", bench, *at)
    assert (again["new"], again["records"]) == ([], {})
    said(capsys, "note", "seal changed", "--rig", "chamber", "--changes-results", *at)
    assert said(capsys, "today", *at)["stale"]
    assert said(capsys, "reduce", "--workers", "1", *at)["made"] > 0
    assert said(capsys, "reduce", *at)["made"] == 0
    code, out, _ = call(capsys, "review", "--json", *at)
    assert code == 1
    blocking = [each for each in json.loads(out)["findings"] if each["severity"] == "B"]
    assert {"Bracken", "Asphodel"} <= {fan for each in blocking for fan in each["fans"]}
    ids = [each["id"] for each in blocking]
    said(
        capsys, "decide", ids[0], "exclude", *ids[1:], "--reason", "found by the review", "--by", "T. T.", *at
    )
    code, out, _ = call(capsys, "review", *at)
    assert code == 0, out
    assert "Excluded so far" in out
    found = said(capsys, "rank", "airflow", "--through", "rad27", *at)
    assert found["unit"] == "m³/h"
    assert {each["fan"] for each in found["standings"]} == {"Bracken", "Asphodel"}
    code, out, _ = call(capsys, "rank", "airflow", "--through", "rad27", "--csv", *at)
    assert out.splitlines()[0].startswith("fan,value,low,high,unit")
    trace = call(capsys, "trace", found["standings"][0]["key"], *at)[1]
    assert "original originals/" in trace
    _charts(capsys, tmp_path, at)
    assert call(capsys, "verify", *at)[0] == 0
    said(capsys, "backup", tmp_path / "b.zip", *at)
    said(capsys, "restore", tmp_path / "b.zip", tmp_path / "lab2")
    assert said(capsys, "rank", "airflow", "--through", "rad27", "--lab", tmp_path / "lab2") == found


def _charts(capsys: pytest.CaptureFixture[str], tmp_path: Path, at: tuple[str, Path]) -> None:
    for words in (
        ("bars", "--through", "rad27", "--fan", "Bracken"),
        ("curves", "--fan", "Asphodel", "--through", "dense", "--through", "rad27"),
        ("collapse", "--fan", "Bracken"),
    ):
        made = said(capsys, "chart", *words, "--out", tmp_path / "charts", *at)
        files = [Path(each) for each in made["files"]]
        assert {each.suffix for each in files} == {".png", ".svg", ".html", ".csv", ".txt"}
        for png in (each for each in files if each.suffix == ".png"):
            assert struct.unpack(">II", png.read_bytes()[16:24]) == (3840, 2160)
        assert made["alt"]


def test_the_lab_is_found_from_a_folder_inside_it(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said(capsys, "new", tmp_path / "lab")
    monkeypatch.chdir(tmp_path / "lab" / "originals")
    assert call(capsys, "today")[0] == 0


@pytest.mark.parametrize(
    ("words", "found"),
    [
        (("today", "--lab", "{tmp}/nowhere"), "no lab.toml"),
        (("new", "{lab}"), "already there"),
        (("add", "{tmp}/nothing.csv", "--lab", "{lab}"), "nothing there"),
        (("add", "--lab", "{lab}"), "no path"),
        (("add", "{lab}/lab.toml", "--lab", "{lab}"), "lab.toml"),
        (("add", "{lab}", "--as", "rubbish", "--lab", "{lab}"), "KEY=VALUE"),
        (("rank", "speediness", "--lab", "{lab}"), "speediness"),
        (("rank", "airflow", "--through", "x", "--speed", "fast", "--lab", "{lab}"), "'fast'"),
        (("rank", "airflow", "--through", "x", "--lab", "{lab}"), "'x'"),
        (("rank", "--nonsense", "--lab", "{lab}"), "nonsense"),
        (("rank", "free-airflow", "--fans", "-1", "--lab", "{lab}"), "-1"),
        (("chart", "pie", "--lab", "{lab}"), "pie"),
        (("chart", "curves", "--lab", "{lab}"), "no fan"),
        (("chart", "bars", "--through", "a", "--through", "b", "--lab", "{lab}"), "one obstacle"),
        (("trace", "zz", "--lab", "{lab}"), "'zz'"),
        (("trace", "abcdef", "--lab", "{lab}"), "abcdef"),
        (("decide", "12345678", "accept", "--reason", "r", "--lab", "{lab}"), "12345678"),
        (("decide", "12345678", "shrug", "--reason", "r", "--lab", "{lab}"), "shrug"),
        (("note", "--lab", "{lab}"), "no words"),
        (("note", "x", "--rig", "none", "--lab", "{lab}"), "'none'"),
        (("reduce", "--workers", "-2", "--lab", "{lab}"), "-2"),
        (("restore", "{tmp}/none.zip", "{tmp}/r"), "none.zip"),
        (("backup", "{tmp}/no/such/folder/b.zip", "--lab", "{lab}"), "no such folder"),
        (("frobnicate",), "frobnicate"),
    ],
)
def test_a_users_mistake_is_named_and_ends_with_2(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: tuple[str, ...], found: str
) -> None:
    said(capsys, "new", tmp_path / "lab")
    filled = [each.format(tmp=tmp_path, lab=tmp_path / "lab") for each in words]
    code, out, err = call(capsys, *filled)
    assert code == 2, out + err
    assert found in err
    code, out, _ = call(capsys, *filled, "--json")
    assert code == 2
    assert set(json.loads(out)["error"]) == {"thing", "place", "found", "expected"}


def test_settings_that_are_wrong_are_named(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    said(capsys, "new", tmp_path / "lab")
    (tmp_path / "lab" / "lab.toml").write_text("margin = 3\n", encoding="utf-8")
    code, _, err = call(capsys, "today", "--lab", tmp_path / "lab")
    assert code == 2
    assert "'margin'" in err
    assert "'margins'" in err


def test_a_fault_of_ours_is_told_as_such(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("made up")

    said(capsys, "new", tmp_path / "lab")
    monkeypatch.setattr("stillroom.verbs.day.open_book", broken)
    assert run(["today", "--lab", str(tmp_path / "lab")]) == 3
    err = capsys.readouterr().err
    assert "a fault of ours" in err
    assert "made up" in err
