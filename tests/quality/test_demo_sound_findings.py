"""Each fault of the demo's recordings is found where it is, with its cause, and nothing else is held up."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from judged import Judged, judge

from stillroom.demo.calendar import USUAL_DAY, calendar_of
from stillroom.demo.catalogue import QUICK, fans, obstacles
from stillroom.demo.fan import Setting
from stillroom.demo.plan import Mounting
from stillroom.demo.sound.faults import sound_faults
from stillroom.demo.sound.plan import Session, Trouble, Visit, dwell
from stillroom.demo.sound.sessions import GAIN, NEARER
from stillroom.demo.sound.write import build_world, write_sound
from stillroom.demo.tables import write_fans
from stillroom.demo.truth import Fault
from stillroom.demo.write import SEED, samples, write_exports
from stillroom.quality import Finding

OF_SOUND = (5, 9, 11, 12, 20)
"""Rules that tell of faults of recordings."""

Heard = tuple[Judged, tuple[Fault, ...]]


def right(lab: Judged, fault: Fault) -> list[Finding]:
    """What was found of a fault: of its mounting, or of one of its files."""
    return [
        each
        for each in lab.findings
        if each.blocks
        and each.rule == fault.rule
        and fault.words in f"{each.cause} {each.found}"
        and (each.subject == f"mounting:{fault.mounting}" or any(each.place.endswith(f) for f in fault.files))
    ]


def blocking(lab: Judged) -> list[str]:
    return [f"rule {e.rule} {e.place or e.subject}: {e.found}: {e.cause}" for e in lab.findings if e.blocks]


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Heard:
    """The short round's quiet room, without the chamber's fans."""
    base = tmp_path_factory.mktemp("short")
    truth = write_exports(base / "files", sound=True)
    for fan in QUICK:
        shutil.rmtree(base / "files" / "exports" / fan)
    own = tuple(each for each in truth.faults if each.rule in OF_SOUND and "quiet-room" in str(each.files))
    return judge(base, base / "files"), own


def test_each_fault_of_the_short_round_is_found(short: Heard) -> None:
    lab, faults = short
    assert sorted(each.rule for each in faults) == [9, 11, 20]
    for fault in faults:
        assert right(lab, fault), (fault.name, blocking(lab))


def test_nothing_else_is_held_up(short: Heard) -> None:
    lab, faults = short
    known = {each.id for fault in faults for each in right(lab, fault)}
    others = [each for each in lab.findings if each.blocks and each.id not in known]
    assert not others, blocking(lab)


def test_the_faults_of_the_whole_round_are_found(tmp_path: Path) -> None:
    """A knock that clips, a microphone that was moved, a gain that was moved: in two sessions of two fans."""

    def visit(fan: str, number: int, distance: float = 0.5, knock: bool = False) -> Visit:
        takes = (dwell(Setting(64), wrong=Trouble(bump=knock)), dwell(Setting(82)))
        return Visit(fan, "s1", number, takes, distance=distance)

    sessions = (
        Session(2, 9, (visit("Bracken", 1, knock=True), visit("Asphodel", 1, NEARER), visit("Bilberry", 1))),
        Session(3, 9, (visit("Bilberry", 2),), gain=GAIN),
    )
    models = fans(SEED, obstacles(SEED, full=False), full=False)
    hung = tuple(Mounting(fan, "s1", 1) for fan in ("Bracken", "Asphodel", "Bilberry"))
    world = build_world(SEED, models, samples(models, hung, SEED), {})
    files = tmp_path / "files"
    files.mkdir()
    write_fans(files, models)
    truth, _ = write_sound(files, world, calendar_of(USUAL_DAY, 6), sessions, (105, 365), metered=False)
    faults = [each for each in sound_faults(sessions, truth) if each.rule in OF_SOUND]
    assert sorted(each.rule for each in faults) == [5, 11, 12]
    lab = judge(tmp_path, files)
    for fault in faults:
        assert right(lab, fault), (fault.name, blocking(lab))
