"""What is shown and sent: lines, table, JSON, server-sent events, the verb."""

from __future__ import annotations

import dataclasses
import json
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from growing_rig import HEAD, START, heat_lab, rows

from stillroom.errors import BadInput, UnknownThing
from stillroom.lab.book import open_book
from stillroom.live.lines import is_change, line_of, rings, table_of
from stillroom.live.serving import Serving
from stillroom.live.sources import rig_files
from stillroom.live.states import Expected, RigState, State
from stillroom.live.stream import data_of, frame_of
from stillroom.live.watching import RigFiles, watch
from stillroom.verbs import said, watching

STATE = RigState(
    rig="heat-1",
    state=State.SETTLING,
    reason="+0.30 K to go, about 4 min",
    fan="Bracken",
    sample="s1",
    setting="43 %",
    step=1,
    of=3,
    moment="2026-03-13T09:10:00",
    value=12.104,
    forecast=Expected(12.4, 12.3, 12.5),
    wait=240.0,
)


def test_a_line_and_a_table() -> None:
    assert line_of(STATE) == (
        "heat-1: settling, Bracken sample 1 43 %, step 1 of 3, 12.10 K, ends at 12.40 K (12.30 to 12.50): "
        "+0.30 K to go, about 4 min"
    )
    assert (
        line_of(RigState("heat-2", State.SETTLING, "no logger file yet"))
        == "heat-2: settling: no logger file yet"
    )
    head, row, reason = table_of([STATE])
    assert head.split()[:4] == ["rig", "state", "fan", "setting"]
    assert "12.40 K (12.30 to 12.50)" in row
    assert row.endswith("4 min")
    assert reason == "heat-1: +0.30 K to go, about 4 min"


def test_what_is_worth_a_line_and_a_sound() -> None:
    later = dataclasses.replace(STATE, reason="+0.20 K to go, about 3 min", value=12.2, wait=180.0)
    steady = dataclasses.replace(later, state=State.STEADY, reason="set 60 % next")
    check = dataclasses.replace(STATE, state=State.CHECK, reason="a reads 1 K")
    assert is_change(None, STATE)
    assert not rings(None, STATE)
    assert not is_change(STATE, later)
    assert is_change(later, steady)
    assert rings(later, steady)
    assert is_change(check, dataclasses.replace(check, reason="b reads 1 K"))
    assert not is_change(check, dataclasses.replace(check, reason="a reads 2 K"))
    apart = dataclasses.replace(check, reason="the probes read up to 1.7 K apart")
    assert not is_change(apart, dataclasses.replace(apart, reason="the probes read up to 2.0 K apart"))
    assert not rings(check, dataclasses.replace(check, reason="b reads 1 K"))


def test_data_and_frames() -> None:
    data = data_of(dataclasses.replace(STATE, value=float("nan")))
    assert data["state"] == "settling"
    assert data["value"] is None
    assert data["forecast"] == {"final": 12.4, "low": 12.3, "high": 12.5}
    lines = frame_of([STATE], 7).split("\n")
    assert lines[:2] == ["id: 7", "event: rigs"]
    assert lines[3:] == ["", ""]  # an empty line ends an event (HTML Living Standard, 9.2.6)
    assert json.loads(lines[2].removeprefix("data: "))[0]["rig"] == "heat-1"
    two_lines = dataclasses.replace(STATE, reason="one\ntwo")
    assert frame_of([two_lines], 1).count("\n") == 4  # no line of the data is torn


@pytest.fixture
def served() -> Iterator[Serving]:
    server = Serving(0)
    yield server
    server.close()


def test_states_are_served_here_alone(served: Serving) -> None:
    assert served.address.startswith("http://127.0.0.1:")
    served.tell([STATE])
    with urllib.request.urlopen(served.address, timeout=5.0) as stream:
        assert stream.headers["Content-Type"].startswith("text/event-stream")
        assert [stream.readline() for _ in range(2)] == [b"retry: 2000\n", b"\n"]
        assert [stream.readline() for _ in range(2)] == [b"id: 1\n", b"event: rigs\n"]
        assert json.loads(stream.readline().removeprefix(b"data: "))[0]["value"] == 12.104
        stream.readline()
        served.tell([STATE])  # nothing changed: nothing is sent
        served.tell([dataclasses.replace(STATE, state=State.STEADY)])
        assert stream.readline() == b"id: 2\n"


def asked(served: Serving, path: str = "/rigs", method: str = "GET", **headers: str) -> tuple[int, bytes]:
    """Status and first bytes of an answer."""
    address = served.address.removesuffix("/rigs") + path
    request = urllib.request.Request(address, method=method, headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=5.0) as answer:
            return answer.status, b"" if method == "HEAD" else answer.readline()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.read()


@pytest.mark.parametrize(
    ("asks", "status"),
    [
        ({}, 200),
        ({"path": "/rigs?now"}, 200),
        ({"method": "HEAD"}, 200),
        ({"Host": "localhost"}, 200),
        ({"Host": "127.0.0.1:80"}, 200),
        ({"Origin": "http://localhost:3000"}, 200),
        ({"path": "/lab.toml"}, 404),
        ({"path": "/lab.toml", "method": "HEAD"}, 404),
        ({"method": "POST"}, 501),
        ({"Host": "elsewhere.example"}, 403),
        ({"Host": "127.0.0.1.elsewhere.example:80"}, 403),
        ({"Host": "[::1"}, 403),
        ({"Origin": "https://elsewhere.example"}, 403),
        ({"Origin": "null"}, 403),
    ],
)
def test_who_is_answered(served: Serving, asks: dict[str, str], status: int) -> None:
    """A page whose name was made to lead here has that name in Host, any other has its own in Origin (RFC 6454, 7)."""
    served.tell([STATE])
    found, words = asked(served, **asks)
    assert found == status
    if status != 200 and asks.get("method") != "HEAD":
        assert words.decode().startswith(f"{status} ")


def test_one_that_goes_away_stops_no_other_and_late_ones_are_told_at_once(served: Serving) -> None:
    served.tell([STATE])
    gone = urllib.request.urlopen(served.address, timeout=5.0)
    stays = urllib.request.urlopen(served.address, timeout=5.0)
    gone.close()
    for value in range(20):
        served.tell([dataclasses.replace(STATE, value=float(value))])
    with stays, urllib.request.urlopen(served.address, timeout=5.0) as late:
        lines = [late.readline() for _ in range(5)]
        assert json.loads(lines[4].removeprefix(b"data: "))[0]["value"] == 19.0
        for line in stays:
            if line.startswith(b"data: ") and json.loads(line[6:])[0]["value"] == 19.0:
                break
        else:
            pytest.fail("the other was not told")


def test_all_are_let_go_at_the_end() -> None:
    server = Serving(0)
    server.tell([STATE])
    with urllib.request.urlopen(server.address, timeout=5.0) as stream:
        server.close()
        assert b"event: rigs" in stream.read()  # it ends
    with pytest.raises(urllib.error.URLError):
        urllib.request.urlopen(server.address, timeout=5.0)


def test_a_port_that_is_in_use(served: Serving) -> None:
    port = int(served.address.rpartition(":")[2].partition("/")[0])
    with pytest.raises(BadInput, match="--serve"):
        Serving(port)
    with pytest.raises(BadInput, match="--serve"):
        Serving(70_000)


def test_which_files_are_watched(tmp_path: Path) -> None:
    two = '[rig.heat-1]\nkind = "heat"\nwatch = "logs/one/*.csv"\n[rig.heat-2]\nkind = "heat"\n'
    lab = heat_lab(tmp_path, two)
    book = open_book(lab)
    assert rig_files(book, lab.path, [], "") == (RigFiles("heat-1", lab.path / "logs" / "one", "*.csv"),)
    for name in ("heat-1", "heat-2", "other"):
        (tmp_path / "live" / name).mkdir(parents=True)
    live = tmp_path / "live"
    assert [each.rig for each in rig_files(book, lab.path, [live], "")] == ["heat-1", "heat-2"]
    assert rig_files(book, lab.path, [live / "heat-2"], "") == (RigFiles("heat-2", live / "heat-2"),)
    assert rig_files(book, lab.path, [live / "other"], "heat-1") == (RigFiles("heat-1", live / "other"),)
    with pytest.raises(BadInput, match="names no rig"):
        rig_files(book, lab.path, [live / "other"], "")
    with pytest.raises(UnknownThing, match="heat-9"):
        rig_files(book, lab.path, [], "heat-9")
    with pytest.raises(BadInput, match="no folder told"):
        rig_files(book, lab.path, [], "heat-2")
    with pytest.raises(BadInput, match="no folder"):
        rig_files(book, lab.path, [tmp_path / "away"], "")


def test_one_look_at_all_rigs(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path, settings='\n[heat]\nrepeat = "never"\n')
    files = tmp_path / "logs"
    files.mkdir()
    text = "".join(f"{each}\n" for each in [HEAD, *rows([(40.0, 14.0, 8.0)])])
    (files / "Bracken s1.csv").write_text(text, encoding="utf-8")
    now = START + timedelta(hours=1)
    looks = list(watch(lab, [RigFiles("heat-1", files)], once=True, now=lambda: now, sleep=_never))
    assert len(looks) == 1
    assert looks[0][0].rig == "heat-1"
    assert looks[0][0].step == 1


def _never(_seconds: float) -> None:
    raise AssertionError("slept")


def test_the_verb_looks_once(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path, settings='\n[heat]\nrepeat = "never"\n')
    files = tmp_path / "heat-1"
    files.mkdir()
    spoken: list[said.Said] = []
    empty = watching.watch(files, once=True, lab=lab.path, say=spoken.append)
    assert (empty.code, empty.title) == (0, "Watched heat-1 settling.")
    text = "".join(f"word {each};other\n" for each in range(60))
    (files / "a.csv").write_text(text, encoding="utf-8")
    spoken.clear()
    wrong = watching.watch(files, once=True, lab=lab.path, say=spoken.append)
    assert wrong.code == 1
    assert wrong.data["watched"][0]["state"] == "check rig"
    assert "a.csv can't be read" in spoken[0].title


def test_an_interrupt_ends_the_verb_cleanly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lab = heat_lab(tmp_path)
    files = tmp_path / "heat-1"
    files.mkdir()
    shown: list[tuple[tuple[str, ...], bool]] = []

    def stop(_seconds: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(watching.time, "sleep", stop)
    ended = watching.watch(
        files, lab=lab.path, serve=0, panel=lambda lines, ring: shown.append((tuple(lines), ring))
    )
    assert ended.code == 0
    assert any("heat-1" in line for lines, _ in shown for line in lines)


def test_what_the_verb_refuses(tmp_path: Path) -> None:
    lab = heat_lab(tmp_path)
    with pytest.raises(BadInput, match="--every"):
        watching.watch(lab=lab.path, every=0.0)
    with pytest.raises(BadInput, match="--accept"):
        watching.watch(lab=lab.path, accept="0.1 °C")
