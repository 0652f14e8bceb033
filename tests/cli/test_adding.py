"""Bringing files in at the command line: several bad files, questions at a terminal, watching, Ctrl-C."""

from __future__ import annotations

import json
import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from stillroom.cli.main import run

HEAD = "Airflow [m³/h],Static pressure [Pa],Speed [rpm]\n"
SAID = ("--as", "fan=Sedge", "--as", "accuracy=± 3 % of reading")


def sweep(speed: int) -> str:
    """A sweep of an invented fan with some noise, from shut-off to free delivery."""
    rows = (
        f"{0.06 * speed * q:.2f},{8e-6 * speed**2 * (1 - 0.3 * q - 0.7 * q * q + 0.003 * math.sin(speed + 9 * i)):.3f}"
        f",{speed}\n"
        for i, q in enumerate((0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.88, 0.94, 0.99))
    )
    return HEAD + "".join(rows)


@pytest.fixture
def lab(tmp_path: Path) -> Path:
    assert run(["new", str(tmp_path / "lab")]) == 0
    return tmp_path / "lab"


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    made = tmp_path / "exports"
    made.mkdir()
    (made / "good.csv").write_text(sweep(1500), encoding="utf-8")
    return made


def test_several_bad_files_are_all_named_and_the_code_is_2(
    capsys: pytest.CaptureFixture[str], lab: Path, exports: Path
) -> None:
    (exports / "nan.csv").write_text(sweep(900).replace("900\n", "NaN\n", 1), encoding="utf-8")
    (exports / "unit.csv").write_text(sweep(700).replace("[m³/h]", "[furlongs]"), encoding="utf-8")
    (exports / "notes.txt").write_text("The seal was changed.\n", encoding="utf-8")
    words = ["add", str(exports), *SAID, "--lab", str(lab)]
    capsys.readouterr()
    assert run([*words, "--json"]) == 2
    data = json.loads(capsys.readouterr().out)
    assert data["new"] == ["exports/good.csv"]
    assert [each["place"].split(",")[0] for each in data["errors"]] == ["exports/nan.csv", "exports/unit.csv"]
    assert set(data["errors"][0]) == {"thing", "place", "found", "expected"}
    assert list(data["left_out"]) == ["exports/notes.txt"]
    assert [each["word"] for each in data["checked"]] == ["first"]
    assert run(words) == 2
    out = capsys.readouterr().out
    assert "two bad files not added" in out
    assert "furlongs" in out


def test_a_run_that_says_stop_gives_the_test_and_exit_code_1(
    capsys: pytest.CaptureFixture[str], lab: Path, exports: Path
) -> None:
    assert run(["add", str(exports), *SAID, "--as", "duty=60", "--lab", str(lab)]) == 0
    twice = sweep(1500).replace(",1500\n", ",3000\n")
    (exports / "twice.csv").write_text(twice, encoding="utf-8")
    capsys.readouterr()
    assert run(["add", str(exports), *SAID, "--as", "duty=60", "--new-mounting", "--lab", str(lab)]) == 1
    out = capsys.readouterr().out
    assert "Stop at " in out
    assert "    finding " in out
    assert "stillroom decide FINDING" in out


def test_a_watched_folder_is_told_line_by_line(
    capsys: pytest.CaptureFixture[str], lab: Path, exports: Path
) -> None:
    capsys.readouterr()
    assert run(["add", "--watch", str(exports), "--once", *SAID, "--lab", str(lab)]) == 0
    out = capsys.readouterr().out
    assert "exports/good.csv  Sedge s1 no setting told up: first: nothing to compare it with yet" in out
    assert "against airflow [m³/h]: o read" in out
    assert (lab / "charts" / "latest.html").is_file()
    (exports / "more.csv").write_text(sweep(1200), encoding="utf-8")
    assert run(["add", str(exports), "--watch", "--once", *SAID, "--lab", str(lab), "--json"]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    (known,) = (each for each in lines[:-1] if "already_there" in each)
    assert known["already_there"] == ["exports/good.csv"]
    told, charts, last = (each for each in lines if each is not known)
    assert told["file"] == "exports/more.csv"
    assert told["checked"][0]["word"] == "agrees"
    assert len(charts["charts"]) == 3
    assert last["agrees"] == 1


def test_a_preview_saves_no_layout_and_says_so(
    capsys: pytest.CaptureFixture[str], lab: Path, exports: Path
) -> None:
    assert run(["add", str(exports), "--preview", "--save-layout", "x", "--lab", str(lab)]) == 2
    assert "--save-layout" in capsys.readouterr().err


@pytest.mark.parametrize("more", [["--preview"], ["--save-layout", "x"], ["{other}"]])
def test_what_cannot_stand_beside_watch(
    capsys: pytest.CaptureFixture[str], lab: Path, exports: Path, more: list[str]
) -> None:
    words = [each.format(other=exports) for each in more]
    assert run(["add", str(exports), *words, "--watch", "--lab", str(lab)]) == 2
    assert "--watch" in capsys.readouterr().err


@pytest.mark.skipif(sys.platform == "win32", reason="sends the signal of Ctrl-C as POSIX systems have it")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_and_a_signal_end_watching_cleanly(lab: Path, exports: Path, number: signal.Signals) -> None:
    command = [sys.executable, "-m", "stillroom", "add", "--watch", str(exports), *SAID, "--lab", str(lab)]
    # A system that runs the tests in the background ignores interrupts, and children would inherit that.
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=os.environ | {"PYTHONUNBUFFERED": "1"}
    )
    signal.signal(signal.SIGINT, before)
    assert process.stdout is not None
    deadline = time.monotonic() + 60
    for line in process.stdout:
        if b"good.csv" in line or time.monotonic() > deadline:
            break
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    assert process.returncode == 0, err.decode()
    assert b"Traceback" not in err
    assert b"leaked" not in err
    assert out.decode().splitlines()[-1].startswith(f"Watched {exports}: 1 first")


def test_a_pipe_that_has_only_a_few_letters_gets_what_it_can_take(lab: Path, exports: Path) -> None:
    """As on systems whose pipes are not in UTF-8: the picture's dots become question marks, nothing breaks."""
    command = [sys.executable, "-m", "stillroom", "add", "--watch", str(exports), "--once", *SAID, "--lab",
               str(lab)]  # fmt: skip
    usual = {name: value for name, value in os.environ.items() if name != "PYTHONUTF8"}
    done = subprocess.run(
        command, check=False, capture_output=True, timeout=120, env=usual | {"PYTHONIOENCODING": "ascii"}
    )
    assert done.returncode == 0, done.stderr
    assert b"first: nothing to compare it with yet" in done.stdout


def test_day_one_asks_its_three_questions_at_a_terminal(
    capsys: pytest.CaptureFixture[str], lab: Path, exports: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (exports / "good.csv").unlink()
    for duty in (60, 100):
        path = exports / "sedge" / "s1" / f"{duty}pct.csv"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(sweep(15 * duty).replace(" [m³/h]", ""), encoding="utf-8")
    asked: list[str] = []

    def answer(words: str) -> str:
        asked.append(words)
        return next(said for part, said in answers.items() if part in words)

    answers = {"which unit": "m³/h", "How accurate": "± 3 % of reading", "Is that right": "yes"}
    monkeypatch.setattr("builtins.input", answer)
    for stream in ("stdin", "stdout"):
        monkeypatch.setattr(f"sys.{stream}.isatty", lambda: True)
    assert run(["add", str(exports), "--lab", str(lab)]) == 0
    assert len(asked) == 3, asked
    asked.clear()
    path = exports / "bracken" / "s1" / "70pct.csv"
    path.parent.mkdir(parents=True)
    path.write_text(sweep(1000).replace(" [m³/h]", ""), encoding="utf-8")
    assert run(["add", str(exports), "--lab", str(lab)]) == 0
    assert asked == [], "what was answered is remembered"
    assert "as before" in capsys.readouterr().out
