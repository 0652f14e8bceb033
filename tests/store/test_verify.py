from __future__ import annotations

import os
import time
from pathlib import Path

import numpy as np
import pytest
from making import keep

from stillroom.errors import LabDamaged
from stillroom.records.products import Fan
from stillroom.store import originals, results
from stillroom.store.lab import Lab
from stillroom.store.verify import verify


def test_a_whole_lab_is_whole(lab: Lab) -> None:
    told: list[tuple[str, int, int]] = []
    found = verify(lab, progress=lambda *each: told.append(each))
    assert found.whole
    assert (found.entries, found.originals) == (10, 3)
    assert found.lines() == ()
    assert found.sentence() == "The lab is whole: 10 entries and 3 originals."
    assert found.as_dict()["whole"] is True
    assert told[-1] == ("originals", 3, 3)


def test_missing_and_changed_originals_are_all_named(lab: Lab) -> None:
    first, second, third = originals.files(lab.path)
    for place in (first, second):
        (lab.path / place).chmod(0o644)
    (lab.path / first).unlink()
    (lab.path / second).write_bytes((lab.path / second).read_bytes().replace(b"1", b"l"))
    found = verify(lab)
    assert (found.missing, found.changed) == ((first,), (second,))
    assert not found.whole
    assert "damaged" in found.sentence()
    assert len(found.lines()) == 2
    assert third not in " ".join(found.lines())
    assert first in found.lines()[0]


def test_an_edited_journal_is_named_and_the_originals_are_still_checked(lab: Lab) -> None:
    lab.database.execute("DROP TRIGGER journal_keeps_entries")
    lab.database.execute('UPDATE journal SET body = \'{"fan":"Other"}\' WHERE sequence = 6')
    found = verify(lab)
    assert (found.entries, found.originals, found.orphans) == (5, 3, ())
    assert "journal entry 6" in found.journal


def test_files_that_no_entry_speaks_of_are_listed_and_left(lab: Lab) -> None:
    place = keep(lab, b"interrupted", "late.csv").original
    found = verify(lab)
    assert found.orphans == (place,)
    assert found.whole
    assert (lab.path / place).is_file()


@pytest.mark.parametrize(
    "harm",
    [
        "UPDATE fan SET f_size = 0.14",
        "DELETE FROM fan",
        "INSERT INTO fan (name, entry, f_fan) VALUES ('Ghost', 3, 'Ghost')",
        "DROP TABLE fan",
    ],
)
def test_an_index_that_is_not_as_the_journal_says_is_made_anew(lab: Lab, harm: str) -> None:
    before = lab.current(Fan)
    lab.database.execute(harm)
    found = verify(lab)
    assert "fan" in found.index_rebuilt
    assert found.whole
    assert lab.current(Fan) == before
    assert verify(lab).index_rebuilt == ()


def test_broken_files_of_the_cache_are_removed_as_they_can_be_made_again(lab: Lab) -> None:
    for key in ("aa11", "bb22", "cc33"):
        results.save_arrays(lab.path, key, {"x": np.arange(300.0)})
    broken = results.array_file(lab.path, "bb22")
    broken.write_bytes(broken.read_bytes()[:400])
    found = verify(lab)
    assert (found.cache_read, found.cache_broken) == (3, 1)
    assert found.whole
    assert not broken.exists()


def test_pieces_of_interrupted_writes_are_swept(lab: Lab) -> None:
    piece = lab.path / "originals" / ".0123.part"
    piece.write_bytes(b"half")
    os.utime(piece, (time.time() - 10_000,) * 2)
    found = verify(lab)
    assert (found.parts_swept, found.orphans) == (1, ())


def spoil(lab: Lab, table: str) -> None:
    """Fill the first page of a table with garbage, and close the lab."""
    lab.database.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    query = "SELECT rootpage FROM sqlite_master WHERE name = ?"
    root = lab.database.execute(query, (table,)).fetchone()[0]
    size = lab.database.execute("PRAGMA page_size").fetchone()[0]
    lab.database.close()
    data = bytearray((lab.path / "lab.sqlite").read_bytes())
    data[(root - 1) * size : root * size] = b"\xa5" * size
    (lab.path / "lab.sqlite").write_bytes(data)


@pytest.mark.parametrize("table", ["results", "claim"])
def test_a_page_of_the_database_that_is_garbage_is_said_in_words(lab: Lab, path: Path, table: str) -> None:
    spoil(lab, table)
    with Lab(path) as again:
        found = verify(again)
    assert found.journal.startswith("lab.sqlite: ")
    assert not found.whole


def test_a_journal_that_is_garbage_is_said_on_opening(lab: Lab, path: Path) -> None:
    spoil(lab, "journal")
    with pytest.raises(LabDamaged, match="restore a backup"):
        Lab(path)
