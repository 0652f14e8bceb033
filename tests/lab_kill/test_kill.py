"""A lab that is killed at 200 random moments of `add` and `reduce` loses nothing and keeps nothing half.

After every kill the lab is checked; the next run goes on; at the end it is, entry for entry and bit for bit,
the lab that nobody disturbed.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import random
import select
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from stillroom.demo.write import write_exports
from stillroom.records.settings import template
from stillroom.store import folder, journal, results
from stillroom.store.lab import Lab
from stillroom.store.verify import verify

KILLS = 200
REAL_KILLS = 12
SEED = 20260601
DRIVER = Path(__file__).with_name("kill_driver.py")
ENVIRONMENT = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
KEPT = (
    "exports/Bracken/s1/m1", "exports/Bracken/s1/m2", "exports/Bracken/s2/m1",
    "exports/Tormentil/s1/m1", "exports/obstacles",
)  # fmt: skip
DUTIES = ("55pct", "85pct", "100pct", "rad27")

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="kills process groups, which this system has not"),
]


@dataclass(frozen=True)
class State:
    """All that a lab holds: entries without time, and results with their arrays."""

    entries: list[tuple[Any, ...]]
    results: dict[str, tuple[Any, ...]]
    arrays: dict[str, dict[str, tuple[str, bytes]]]


def state_of(path: Path) -> State:
    with Lab(path) as lab:
        entries = [(e.sequence, e.kind, e.name, e.body, e.original) for e in journal.entries(lab.database)]
        rows = {row[0]: row[1:] for row in lab.database.execute("SELECT * FROM results ORDER BY key")}
    arrays = {}
    for key in rows:
        if results.array_file(path, key).exists():
            loaded = results.load_arrays(path, key)
            arrays[key] = {name: (str(each.dtype), each.tobytes()) for name, each in loaded.items()}
    return State(entries, rows, arrays)


class Server:
    """A process that has everything loaded and acts in children that can be killed."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, str(DRIVER), "serve"],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=ENVIRONMENT,
        )  # fmt: skip

    def run(self, *words: str, kill_after: float | None = None) -> bool:
        """Act, and kill after so many seconds; whether it was killed (and not finished before)."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(" ".join(words) + "\n")
        self.process.stdin.flush()
        started, child = self.process.stdout.readline().split()
        assert started == "started"
        if kill_after is not None:
            select.select([self.process.stdout], [], [], kill_after)  # less where it ends before
            with contextlib.suppress(ProcessLookupError, PermissionError):  # it had finished
                os.killpg(int(child), signal.SIGKILL)
        status = int(self.process.stdout.readline().split()[1])
        if os.WIFSIGNALED(status):
            assert os.WTERMSIG(status) == signal.SIGKILL
            return True
        assert os.WEXITSTATUS(status) == 0, "it failed by itself: see its words above"
        return False

    def close(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait(timeout=10)
        assert self.process.stdout is not None
        self.process.stdout.close()


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    made = Server()
    yield made
    made.close()


@pytest.fixture(scope="module")
def exports(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Thirteen measurement files and the tables of the invented laboratory."""
    whole = tmp_path_factory.mktemp("whole") / "raw"
    write_exports(whole, faults=False)
    some = tmp_path_factory.mktemp("some") / "raw"
    for file in sorted(whole.rglob("*")):
        name = file.relative_to(whole).as_posix()
        measured = name.startswith(KEPT) and name.split("/")[-1].startswith(DUTIES)
        if file.is_file() and ("/" not in name or measured):
            (some / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(file, some / name)
    return some


@pytest.fixture(scope="module")
def hashes(exports: Path) -> set[str]:
    return {hashlib.sha256(each.read_bytes()).hexdigest() for each in exports.rglob("*") if each.is_file()}


def new_lab(path: Path) -> Path:
    folder.make(path, template("Kill").replace("# trials = 2000", "trials = 500"))
    return path


@dataclass(frozen=True)
class Undisturbed:
    state: State
    add: float
    reduce: float


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory: pytest.TempPathFactory, server: Server, exports: Path) -> Undisturbed:
    lab = new_lab(tmp_path_factory.mktemp("quiet") / "lab")
    start = time.perf_counter()
    server.run("add", str(lab), str(exports))
    added = time.perf_counter()
    server.run("reduce", str(lab), "1")
    reduced = time.perf_counter()
    state = state_of(lab)
    assert len(state.arrays) == len(state.results) == 5, "four mountings and an obstacle"
    return Undisturbed(state, added - start, reduced - added)


def check_whole(path: Path, hashes: set[str], entries: int) -> None:
    """The lab opens, all it says is true, and nothing is half there."""
    for file in path.glob("originals/**/*"):
        if file.is_file() and file.suffix != ".part":
            assert hashlib.sha256(file.read_bytes()).hexdigest() in hashes, f"{file} is half an original"
    with Lab(path) as lab:
        assert journal.check(lab.database) in {0, entries}, "one add is one transaction"
        for digest, place in journal.originals_known(lab.database).items():
            assert hashlib.sha256((path / place).read_bytes()).hexdigest() == digest
        kept = {key for key, arrays in lab.database.execute("SELECT key, arrays FROM results") if arrays}
        assert kept == results.known(lab.database, path, kept), "a result without its arrays"
        found = verify(lab)
    assert found.whole, found.lines()
    assert not found.index_rebuilt
    assert found.cache_read >= len(kept), "each file of so small a cache is read"
    assert not found.cache_broken


def test_killed_at_200_random_moments_a_lab_goes_on_as_if_nothing_had_been(
    tmp_path: Path, server: Server, exports: Path, hashes: set[str], undisturbed: Undisturbed
) -> None:
    draw = random.Random(SEED)
    killed = {"add": 0, "reduce": 0}
    entries, rounds = len(undisturbed.state.entries), 0
    while min(killed.values()) < KILLS // 2:
        rounds += 1
        lab = new_lab(tmp_path / f"lab{rounds}")
        for verb, what, usual in (
            ("add", str(exports), undisturbed.add),
            ("reduce", "1", undisturbed.reduce),
        ):
            for _ in range(8 if killed[verb] < KILLS // 2 else 0):
                if server.run(verb, str(lab), what, kill_after=draw.uniform(0.0, usual)):
                    killed[verb] += 1
                    check_whole(lab, hashes, entries)
            server.run(verb, str(lab), what)
        check_whole(lab, hashes, entries)
        assert state_of(lab) == undisturbed.state
        shutil.rmtree(lab)
        print(f"round {rounds}: killed {killed}")
        assert rounds < 100, f"only {killed} kills came in time"
    assert sum(killed.values()) >= KILLS


def test_whole_interpreters_with_worker_processes_may_be_killed_as_well(
    tmp_path: Path, server: Server, exports: Path, hashes: set[str], undisturbed: Undisturbed
) -> None:
    draw = random.Random(SEED + 1)
    added = new_lab(tmp_path / "added")
    server.run("add", str(added), str(exports))
    killed, labs, usual = 0, 0, 0.5
    while killed < REAL_KILLS:
        labs += 1
        lab = tmp_path / f"lab{labs}"
        shutil.copytree(added, lab)
        finished = False
        while killed < REAL_KILLS and not finished:
            finished, took = reduce_in_processes(lab, draw.uniform(0.2, 1.0) * usual)
            killed += not finished
            usual = took if finished else usual + 0.2  # later each time, until the work is done
            check_whole(lab, hashes, len(undisturbed.state.entries))
        server.run("reduce", str(lab), "1")
        assert state_of(lab) == undisturbed.state


def reduce_in_processes(lab: Path, kill_after: float) -> tuple[bool, float]:
    """Reduce with two workers in an interpreter of its own; whether it finished, and how long it ran [s]."""
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, str(DRIVER), "reduce", str(lab), "2"], start_new_session=True, env=ENVIRONMENT
    )
    try:
        process.wait(timeout=kill_after)
    except subprocess.TimeoutExpired:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait(timeout=10)
        return False, kill_after
    assert process.returncode == 0
    return True, time.perf_counter() - start


def test_workers_end_when_only_the_process_that_started_them_is_killed(
    tmp_path: Path, server: Server, exports: Path
) -> None:
    lab = new_lab(tmp_path / "lab")
    server.run("add", str(lab), str(exports))
    process = subprocess.Popen(
        [sys.executable, str(DRIVER), "reduce", str(lab), "2"],
        start_new_session=True, env=ENVIRONMENT, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    until = time.monotonic() + 60
    while not any((lab / "cache").rglob("*.npz")) and process.poll() is None and time.monotonic() < until:
        time.sleep(0.01)
    os.kill(process.pid, signal.SIGKILL)
    process.wait(timeout=10)
    try:
        while time.monotonic() < until:
            os.killpg(process.pid, 0)
            time.sleep(0.05)
    except ProcessLookupError:
        return  # the group is empty
    os.killpg(process.pid, signal.SIGKILL)
    pytest.fail("workers were left behind")


def test_the_bits_do_not_depend_on_workers_or_on_threads_that_the_system_would_use(
    tmp_path: Path, server: Server, exports: Path, undisturbed: Undisturbed
) -> None:
    """Without a word about threads in the environment, here and in worker processes."""
    usual = {name: value for name, value in ENVIRONMENT.items() if not name.endswith("_NUM_THREADS")}
    for workers, environment in (("1", usual), ("2", usual), ("1", usual | {"OMP_NUM_THREADS": "4"})):
        lab = new_lab(tmp_path / f"lab{workers}{len(environment)}")
        server.run("add", str(lab), str(exports))
        command = [sys.executable, str(DRIVER), "reduce", str(lab), workers]
        subprocess.run(command, env=environment, check=True, timeout=120)
        assert state_of(lab) == undisturbed.state
