"""Two programs in one lab at the same time: the second waits, nothing is written twice, nothing is lost."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from stillroom.demo.write import write_exports
from stillroom.records.acts import Taken
from stillroom.records.settings import template
from stillroom.store import folder, journal, originals
from stillroom.store.lab import Lab
from stillroom.store.verify import verify

DRIVER = Path(__file__).with_name("kill_driver.py")
ENVIRONMENT = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}

pytestmark = pytest.mark.slow


def both(*commands: tuple[str, ...]) -> None:
    running = [subprocess.Popen([sys.executable, str(DRIVER), *words], env=ENVIRONMENT) for words in commands]
    assert [each.wait(timeout=120) for each in running] == [0] * len(commands)


@pytest.fixture
def exports(tmp_path: Path) -> Path:
    write_exports(tmp_path / "raw", faults=False)
    return tmp_path / "raw"


@pytest.fixture
def path(tmp_path: Path) -> Path:
    folder.make(tmp_path / "lab", template("Two"))
    return tmp_path / "lab"


def test_two_that_add_the_same_files_and_then_reduce_them_at_once(path: Path, exports: Path) -> None:
    both(("add", str(path), str(exports)), ("add", str(path), str(exports)))
    files = sum(1 for each in exports.rglob("*") if each.is_file())
    with Lab(path) as lab:
        names = [(each.kind, each.name) for each in journal.entries(lab.database)]
        assert len(set(names)) == len(names), "nothing is written twice"
        found = verify(lab)
        assert (found.originals, found.orphans, found.whole) == (files, (), True)
    both(("reduce", str(path), "1"), ("reduce", str(path), "2"), ("add", str(path), str(exports)))
    with Lab(path) as lab:
        assert len(list(journal.entries(lab.database))) == len(names)
        kept = lab.database.execute("SELECT COUNT(*) FROM results WHERE failed = ''").fetchone()[0]
        found = verify(lab)
    assert kept == found.cache_read == 21
    assert found.whole
    assert not found.cache_broken


def test_two_that_add_other_files_of_the_same_names(path: Path, tmp_path: Path, exports: Path) -> None:
    """Each fan's folder holds files of the same names; two programs bring in one half each."""
    tables = [each for each in exports.iterdir() if each.is_file()]
    halves = tmp_path / "one", tmp_path / "other"
    for i, fan in enumerate(sorted((exports / "exports").iterdir())):
        for file in fan.rglob("*.*sv"):
            target = halves[i % 2] / file.relative_to(exports)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(file.read_bytes())
    tables_only = tmp_path / "tables"
    tables_only.mkdir()
    for each in tables:
        (tables_only / each.name).write_bytes(each.read_bytes())
    both(("add", str(path), str(tables_only)))
    both(("add", str(path), str(halves[0])), ("add", str(path), str(halves[1])))
    with Lab(path) as lab:
        found = verify(lab)
        assert found.whole
        assert found.orphans == ()
        assert len(lab.current(Taken)) == 111
        places = [each.place for each in lab.current(Taken).values()]
    assert len(set(places)) == 111, "no original took another's place"


def test_what_an_interrupted_add_had_kept_on_another_day_is_used(path: Path, exports: Path) -> None:
    file = next((exports / "exports").rglob("100pct.csv"))
    with Lab(path):  # its journal is begun before anything is kept
        place = originals.keep(path, file.read_bytes(), "100pct.csv", "2026-05-31")
    both(("add", str(path), str(exports)))
    with Lab(path) as lab:
        known = journal.originals_known(lab.database)
        found = verify(lab)
    assert known[originals.digest_of(file.read_bytes())] == place
    assert found.orphans == ()
    assert found.whole
