from __future__ import annotations

import csv
import hashlib
import io
import json
import shutil
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from making import note

from stillroom.errors import BadInput, LabDamaged, NotPossible, StillroomError, UnreadableFile
from stillroom.records.bench import Calibration, Nozzle
from stillroom.records.kinds import KINDS
from stillroom.records.products import Fan
from stillroom.store import archive, folder, index, journal, originals, restoring
from stillroom.store.backup import Backup, backup, restore
from stillroom.store.lab import Lab
from stillroom.store.verify import verify


@pytest.fixture
def file(lab: Lab, tmp_path: Path) -> Path:
    made = backup(lab, tmp_path / "lab.zip")
    assert (made.entries, made.originals) == (10, 3)
    return tmp_path / "lab.zip"


def test_a_small_backup_is_told_in_kilobytes() -> None:
    told = [
        Backup("lab.zip", 10, 3, size, "").sentence().partition("(")[2] for size in (300, 41_600, 2_460_000)
    ]
    assert told == ["1 kB).", "42 kB).", "2.5 MB)."]


def members_of(file: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as made:
        return {name: made.read(name) for name in made.namelist()}


def write(file: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return file


def only(folder_: Path) -> list[str]:
    return sorted(each.name for each in folder_.iterdir())


def test_a_backup_can_be_read_by_hand(lab: Lab, file: Path) -> None:
    members = members_of(file)
    lines = [json.loads(line) for line in members["journal.jsonl"].decode().splitlines()]
    assert [each["sequence"] for each in lines] == list(range(1, 11))
    before = ""
    for each in lines:  # the chain, worked out as README.txt tells, without Stillroom
        body = json.dumps(each["body"], sort_keys=True, ensure_ascii=False, separators=(",", ":"))
        words = [before, str(each["sequence"]), each["time"], each["by"], each["kind"], each["name"], body]
        before = hashlib.sha256("\x1f".join([*words, each["original"]]).encode()).hexdigest()
        assert each["chain"] == before
    for each in lines[:3]:
        assert each["kind"] == "original"
        assert hashlib.sha256(members[each["original"]]).hexdigest() == each["name"]
    assert members["lab.toml"] == (lab.path / "lab.toml").read_bytes()
    rows = list(csv.DictReader(io.StringIO(members["records/fan.csv"].decode())))
    assert rows == [
        dict.fromkeys(rows[0], "")
        | {"fan": "Bracken", "maker": "Fennock", "size [mm]": "120", "full speed [rpm]": "1800"}
    ], "what stands: the correction, without what was withdrawn"
    assert next(csv.DictReader(io.StringIO(members["records/run.csv"].decode())))["duty [%]"] == "55"
    assert "stillroom restore" in members["README.txt"].decode()


def test_every_kind_of_field_has_its_cell() -> None:
    nozzle = Nozzle(nozzle="N25", bore=0.025006, bore_u=8e-6, length_ratio=0.6)
    text = archive.table_of(Nozzle, {"N25": nozzle}).splitlines()
    assert text == ["nozzle,bore [mm],u(bore) [mm],L/D,certificate", "N25,25.006,0.008,0.6,"]
    told = Calibration(instrument="dp", date="2026-01-02", linearity=[{"from": 0.0, "to": 50.0, "u": 0.02}])
    row = next(csv.DictReader(io.StringIO(archive.table_of(Calibration, {"x": told}))))
    assert json.loads(row["linearity"]) == told.linearity


def test_a_restored_lab_is_the_same(lab: Lab, file: Path, tmp_path: Path) -> None:
    made = restore(file, tmp_path / "again")
    assert (made.entries, made.originals) == (10, 3)
    with Lab(tmp_path / "again") as again:
        assert list(journal.entries(again.database)) == list(journal.entries(lab.database))
        for kind in KINDS:
            assert index.rows_of(again.database, kind) == index.rows_of(lab.database, kind)
        assert list(originals.files(again.path)) == list(originals.files(lab.path))
        assert verify(again).whole
        again.write([note(Fan(fan="Rush"))])
        assert journal.check(again.database) == 11
    place = next(originals.files(lab.path))
    assert (tmp_path / "again" / place).read_bytes() == (lab.path / place).read_bytes()
    assert not (tmp_path / "again" / place).stat().st_mode & stat.S_IWUSR
    assert only(tmp_path) == ["again", "lab", "lab.zip"], "nothing is left beside"


def test_an_empty_folder_is_filled_and_a_full_one_refused(file: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    restore(file, tmp_path / "empty")
    before = only(tmp_path / "empty")
    with pytest.raises(BadInput, match="files in it"):
        restore(file, tmp_path / "empty")
    with pytest.raises(BadInput, match="a file"):
        restore(file, file)
    assert only(tmp_path / "empty") == before


def test_a_backup_replaces_nothing_and_goes_into_a_folder_that_is_there(
    lab: Lab, file: Path, tmp_path: Path
) -> None:
    before = file.read_bytes()
    with pytest.raises(BadInput, match="already there"):
        backup(lab, file)
    assert file.read_bytes() == before
    with pytest.raises(BadInput, match="no such folder"):
        backup(lab, tmp_path / "nowhere" / "x.zip")
    for own in ("originals", "cache"):
        with pytest.raises(BadInput, match="keeps for its own"):
            backup(lab, lab.path / own / "x.zip")
    assert verify(lab).orphans == ()


@pytest.mark.parametrize("harm", ["changed", "gone", "journal"])
def test_of_a_damaged_lab_no_backup_is_written(lab: Lab, tmp_path: Path, harm: str) -> None:
    place = lab.path / next(originals.files(lab.path))
    place.chmod(0o644)
    if harm == "changed":
        place.write_bytes(b"other")
    elif harm == "gone":
        place.unlink()
    else:
        lab.database.execute("DROP TRIGGER journal_keeps_entries")
        lab.database.execute("UPDATE journal SET body = '{}' WHERE sequence = 4")
    with pytest.raises(LabDamaged):
        backup(lab, tmp_path / "x.zip")
    assert only(tmp_path) == ["lab"]


def edit(name: str, change: Callable[[bytes], bytes]) -> Callable[[dict[str, bytes]], None]:
    def harm(members: dict[str, bytes]) -> None:
        members[name] = change(members[name])

    return harm


def swap_lines(text: bytes) -> bytes:
    lines = text.splitlines(keepends=True)
    lines[3], lines[4] = lines[4], lines[3]
    return b"".join(lines)


def drop(name: str) -> Callable[[dict[str, bytes]], None]:
    def harm(members: dict[str, bytes]) -> None:
        del members[name]

    return harm


def put(name: str, data: bytes = b"x") -> Callable[[dict[str, bytes]], None]:
    def harm(members: dict[str, bytes]) -> None:
        members[name] = data

    return harm


SWEEP = "originals/2026-03-02/sweep.csv"


@pytest.mark.parametrize(
    ("harm", "kind", "words"),
    [
        (edit("journal.jsonl", lambda t: t.replace(b'"maker": "Fennock"', b'"maker": "Fennick"', 1)),
         LabDamaged, "journal.jsonl, line 4: found an entry that does not follow"),
        (edit("journal.jsonl", lambda t: b"\n".join(t.split(b"\n")[:6]) + b"\n"),
         LabDamaged, "line 7: found the end, after 6 of 10"),
        (edit("journal.jsonl", lambda t: t[: len(t) // 2]), LabDamaged, "no entry of a journal"),
        (edit("journal.jsonl", lambda t: b"\n".join(t.split(b"\n")[1:])), LabDamaged, "line 1"),
        (edit("journal.jsonl", swap_lines), LabDamaged, "line 4"),
        (edit("journal.jsonl", lambda t: t + t.splitlines(keepends=True)[-1]), LabDamaged, "line 11"),
        (edit("journal.jsonl", lambda t: t + b"[" * 100_000), LabDamaged, "line 11: found no entry"),
        (edit("journal.jsonl", lambda t: t + b"\xff\xfe\n"), LabDamaged, "line 11: found no entry"),
        (edit("journal.jsonl", lambda t: b" " * (restoring.LARGEST_TEXT + 5) + t),
         LabDamaged, "line 1: found a line without an end"),
        (edit("journal.jsonl", lambda t: t.replace(b'"sequence": 1,', b'"sequence": "1",', 1)),
         LabDamaged, "line 1"),
        (edit("journal.jsonl", lambda t: t.replace(b'"bytes": 26', b'"bytes": NaN', 1)),
         LabDamaged, "line 1"),
        (edit(SWEEP, lambda t: t.replace(b"1", b"7")), LabDamaged, f"{SWEEP}: found bytes that differ"),
        (edit(SWEEP, lambda t: t + b"\n"), LabDamaged, "9 bytes where the journal says 8"),
        (drop(SWEEP), LabDamaged, f"{SWEEP}: found nothing"),
        (drop("journal.jsonl"), BadInput, "journal.jsonl: found nothing"),
        (drop("lab.toml"), BadInput, "lab.toml: found nothing"),
        (drop("backup.json"), BadInput, "backup.json: found nothing"),
        (edit("lab.toml", lambda t: t + b"\ntrials = 500\n"), LabDamaged, "lab.toml: found settings that differ"),
        (edit("lab.toml", lambda t: t + b"#" * restoring.LARGEST_TEXT), BadInput, "a huge file"),
        (edit("backup.json", lambda t: b"[]"), LabDamaged, "no description"),
        (edit("backup.json", lambda t: t.replace(b'"format": 1', b'"format": 2')), BadInput, "newer Stillroom"),
        (put("../outside.csv"), BadInput, "not one inside the folder"),
        (put("originals/../../outside.csv"), BadInput, "not one inside the folder"),
        (put("/etc/outside"), BadInput, "not one inside the folder"),
        (put("originals\\..\\outside"), BadInput, "not one inside the folder"),
        (put("C:/outside"), BadInput, "not one inside the folder"),
        (put("originals//x.csv"), BadInput, "not one inside the folder"),
        (put("originals/2026-03-02/"), BadInput, "not one inside|a folder"),
        (put("originals/2026-03-02/unknown.csv"), BadInput, "its journal doesn't know"),
        (put("lab.sqlite"), BadInput, "a file that no backup has"),
        (put("records/x.exe"), BadInput, "a file that no backup has"),
    ],
)  # fmt: skip
def test_a_backup_that_was_tampered_with_is_refused_and_nothing_appears(
    file: Path,
    tmp_path: Path,
    harm: Callable[[dict[str, bytes]], None],
    kind: type[StillroomError],
    words: str,
) -> None:
    members = members_of(file)
    harm(members)
    assert members != members_of(file), "the harm has to do something"
    there = tmp_path / "there"
    there.mkdir()
    bad = write(tmp_path / "bad.zip", members)
    with pytest.raises(kind, match=words):
        restore(bad, there / "again")
    assert only(there) == []
    assert only(tmp_path) == ["bad.zip", "lab", "lab.zip", "there"]


def test_links_devices_doubles_and_encrypted_members_are_refused(file: Path, tmp_path: Path) -> None:
    members = members_of(file)
    link = zipfile.ZipInfo(SWEEP)
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    rest = {name: data for name, data in members.items() if name != SWEEP}
    bad = write(tmp_path / "link.zip", rest)
    with zipfile.ZipFile(bad, "a") as made:
        made.writestr(link, "/etc/passwd")
    with pytest.raises(BadInput, match="a link"):
        restore(bad, tmp_path / "again")
    twice = write(tmp_path / "twice.zip", members)
    with zipfile.ZipFile(twice, "a") as made, pytest.warns(UserWarning, match="Duplicate"):
        made.writestr(SWEEP, "other")
    with pytest.raises(BadInput, match="comes twice"):
        restore(twice, tmp_path / "again")
    data = bytearray(file.read_bytes())
    at = data.index(b"PK\x01\x02")
    data[at + 8] |= 1
    (tmp_path / "locked.zip").write_bytes(data)
    with pytest.raises(BadInput, match="encrypted"):
        restore(tmp_path / "locked.zip", tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_a_bomb_is_not_unpacked(file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A gigabyte of nothing is smaller than a megabyte packed; no more is read than its entry says."""
    members = members_of(file)
    bad = write(tmp_path / "bomb.zip", members | {SWEEP: b"\0" * 200_000_000})
    assert bad.stat().st_size < 1_000_000
    read = 0
    original = zipfile.ZipExtFile.read

    def counted(self: zipfile.ZipExtFile, n: int | None = -1) -> bytes:
        nonlocal read
        data = original(self, n)
        read += len(data)
        return data

    monkeypatch.setattr(zipfile.ZipExtFile, "read", counted)
    with pytest.raises(LabDamaged, match="200,000,000 bytes where the journal says 8"):
        restore(bad, tmp_path / "again")
    assert read < 1_000_000


def test_a_size_that_lies_is_seen(file: Path, tmp_path: Path) -> None:
    """The directory says 8 bytes, as the journal does; the packed stream holds more."""
    members = members_of(file)
    bad = write(tmp_path / "lie.zip", members | {SWEEP: b"\0" * 50_000})
    data = bad.read_bytes().replace((50_000).to_bytes(4, "little"), (8).to_bytes(4, "little"))
    bad.write_bytes(data)
    with pytest.raises((LabDamaged, UnreadableFile)):
        restore(bad, tmp_path / "again")
    assert only(tmp_path) == ["lab", "lab.zip", "lie.zip"]


@pytest.mark.parametrize("share", [0.0, 0.001, 0.3, 0.7, 0.99, 0.9999])
def test_a_cut_off_file_is_said_to_be_one(file: Path, tmp_path: Path, share: float) -> None:
    data = file.read_bytes()
    (tmp_path / "cut.zip").write_bytes(data[: int(share * len(data))])
    with pytest.raises(UnreadableFile, match=r"cut\.zip"):
        restore(tmp_path / "cut.zip", tmp_path / "again")
    assert only(tmp_path) == ["cut.zip", "lab", "lab.zip"]


def test_any_flipped_byte_is_seen_or_harmless(lab: Lab, file: Path, tmp_path: Path) -> None:
    """Either the restore refuses with words, or what it made is exactly the lab (a flip in a table, say)."""
    data, refused = file.read_bytes(), 0
    for at in range(0, len(data), max(1, len(data) // 150)):
        flipped = bytearray(data)
        flipped[at] ^= 0x41
        (tmp_path / "flip.zip").write_bytes(flipped)
        try:
            restore(tmp_path / "flip.zip", tmp_path / "again")
        except StillroomError:
            refused += 1
            assert not (tmp_path / "again").exists()
            continue
        with Lab(tmp_path / "again") as again:
            assert list(journal.entries(again.database)) == list(journal.entries(lab.database))
            assert verify(again).whole
        shutil.rmtree(tmp_path / "again")
    assert refused > 50


def test_too_little_room_is_said_before_anything_is_written(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(restoring.shutil, "disk_usage", lambda _: usage._replace(free=10))
    with pytest.raises(NotPossible, match="10 bytes free"):
        restore(file, tmp_path / "again")


def test_a_restore_to_a_network_drive_is_refused(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(folder, "_file_system", lambda _: "cifs")
    with pytest.raises(BadInput, match="network drive"):
        restore(file, tmp_path / "again")


@pytest.mark.parametrize("what", ["text", "folder", "nothing"])
def test_what_is_no_backup_is_said_to_be_none(tmp_path: Path, what: str) -> None:
    file = tmp_path / "x.zip"
    if what == "text":
        file.write_text("point,flow\n1,2\n")
    elif what == "folder":
        file.mkdir()
    with pytest.raises(BadInput):
        restore(file, tmp_path / "again")
    assert not (tmp_path / "again").exists()
