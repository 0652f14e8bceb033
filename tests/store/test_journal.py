from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest
from making import note

from stillroom.errors import LabDamaged
from stillroom.records.kinds import KINDS
from stillroom.records.products import Fan, Sample
from stillroom.store import index, journal
from stillroom.store.journal import Note
from stillroom.store.lab import Lab


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE journal SET body = '{}' WHERE sequence = 2",
        "UPDATE journal SET time = 'yesterday'",
        "DELETE FROM journal WHERE sequence = 1",
        "DELETE FROM journal",
        "INSERT OR REPLACE INTO journal SELECT 2, time, by, kind, name, '{}', original, chain FROM journal"
        " WHERE sequence = 2",
        "INSERT INTO journal SELECT 99, time, by, kind, name, body, original, chain FROM journal"
        " WHERE sequence = 2",
        "INSERT INTO journal SELECT NULL, time, by, kind, name, body, original, chain FROM journal"
        " WHERE sequence = 2",
    ],
)
def test_the_database_itself_refuses_to_change_what_was_written(lab: Lab, statement: str) -> None:
    before = list(journal.entries(lab.database))
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        lab.database.execute(statement)
    assert list(journal.entries(lab.database)) == before
    assert journal.check(lab.database) == len(before)


@pytest.mark.parametrize("column", ["time", "by", "kind", "name", "body", "original", "chain"])
@pytest.mark.parametrize("at", [1, 5, 10])
def test_an_entry_edited_behind_its_back_breaks_the_chain_there(lab: Lab, column: str, at: int) -> None:
    lab.database.execute("DROP TRIGGER journal_keeps_entries")
    value = json.dumps({"fan": "Sedge", "size": 0.12}) if column == "body" else "other"
    lab.database.execute(f"UPDATE journal SET {column} = ? WHERE sequence = ?", (value, at))
    with pytest.raises(LabDamaged, match=f"journal entry {at} "):
        journal.check(lab.database)


@pytest.mark.parametrize("gone", [1, 4, 9])
def test_a_missing_entry_is_seen(lab: Lab, gone: int) -> None:
    lab.database.execute("DROP TRIGGER journal_loses_nothing")
    lab.database.execute("DELETE FROM journal WHERE sequence = ?", (gone,))
    with pytest.raises(LabDamaged, match=f"journal entry {gone + 1} .*expected entry {gone}"):
        journal.check(lab.database)


def test_two_entries_that_changed_places_are_seen(lab: Lab) -> None:
    lab.database.execute("DROP TRIGGER journal_keeps_entries")
    for here, there in ((4, 1004), (5, 4), (1004, 5)):
        lab.database.execute("UPDATE journal SET sequence = ? WHERE sequence = ?", (there, here))
    with pytest.raises(LabDamaged, match="journal entry 4 "):
        journal.check(lab.database)


@pytest.mark.parametrize("body", ["{", "[]", "1", '{"a": NaN}', "[" * 100_000])
def test_a_body_that_is_no_object_is_damage_and_not_a_crash(lab: Lab, body: str) -> None:
    lab.database.execute("DROP TRIGGER journal_keeps_entries")
    lab.database.execute("UPDATE journal SET body = ? WHERE sequence = 4", (body,))
    with pytest.raises(LabDamaged, match="journal entry 4"):
        journal.check(lab.database)


def test_the_chain_depends_on_all_that_came_before() -> None:
    entry = journal.Entry(2, "t", "me", "fan", "A", {"fan": "A"}, "", "")
    assert journal.link("x", entry) != journal.link("y", entry)
    split = journal.Entry(2, "t", "m", "efan", "A", {"fan": "A"}, "", "")
    assert journal.link("x", entry) != journal.link("x", split)


def test_entries_are_written_all_or_none(lab: Lab) -> None:
    before = list(journal.entries(lab.database))
    with pytest.raises(ValueError, match="JSON"):
        lab.write([note(Fan(fan="Rush")), Note("fan", "Bad", {"fan": "Bad", "size": float("nan")})])
    assert list(journal.entries(lab.database)) == before
    assert "Rush" not in lab.current(Fan)


def test_what_stands_is_the_last_word_and_what_is_withdrawn_stays_readable(lab: Lab) -> None:
    assert set(lab.current(Fan)) == {"Bracken"}
    assert lab.current(Fan)["Bracken"].full_speed == 30.0
    assert [e.name for e in journal.entries_of(lab.database, "fan")] == ["Bracken", "Sedge", "Bracken"]
    lab.write([note(Fan(fan="Sedge", size=0.14))])
    assert list(lab.current(Fan)) == ["Bracken", "Sedge"], "a withdrawn record may come back"


def rows(lab: Lab) -> dict[str, list[tuple[object, ...]]]:
    return {kind: index.rows_of(lab.database, kind) for kind in KINDS}


def test_the_index_made_anew_is_the_same(lab: Lab) -> None:
    before = rows(lab)
    assert len(before["fan"]) == len(before["sample"]) == len(before["event"]) == 1
    index.rebuild(lab.database)
    assert rows(lab) == before


@pytest.mark.parametrize(
    "harm",
    [
        "DROP TABLE index_state",
        "UPDATE index_state SET shape = 'of an older version'",
        "UPDATE index_state SET shape = 'x'; DROP TABLE fan; ALTER TABLE sample DROP COLUMN f_lot",
    ],
)
def test_opening_makes_an_index_of_another_form_anew(lab: Lab, path: Path, harm: str) -> None:
    before = rows(lab)
    lab.database.executescript(harm)
    with Lab(path) as again:
        assert rows(again) == before


def test_opening_brings_an_index_that_lags_behind_up_to_date(lab: Lab, path: Path) -> None:
    with lab.database:
        lab.database.execute("BEGIN IMMEDIATE")
        journal.append(lab.database, [note(Sample(fan="Bracken", sample="s2"))], time="t", by="me")
    assert list(lab.current(Sample)) == ["Bracken/s1"]
    with Lab(path) as again:
        assert list(again.current(Sample)) == ["Bracken/s1", "Bracken/s2"]


def test_kinds_that_this_version_does_not_know_are_kept_and_skipped(lab: Lab, path: Path) -> None:
    lab.write([Note("from the future", "x", {"a": 1}), Note(journal.WITHDRAWN, "x", {"kind": "unheard of"})])
    index.rebuild(lab.database)
    assert journal.check(lab.database) == 12
