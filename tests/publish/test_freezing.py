"""A release is there whole or not at all, says what blocks it, and is the same bytes each time."""

from __future__ import annotations

import hashlib
import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from stillroom.errors import BadInput, NotPossible, StillroomError, UnknownThing
from stillroom.lab.executor import Progress
from stillroom.publish.contents import Contents, gather
from stillroom.publish.freezing import freeze
from stillroom.publish.parts import Part
from stillroom.publish.release import read_release, releases_of
from stillroom.publish.tables.writing import write_standings
from stillroom.store.lab import Lab
from stillroom.store.verify import verify
from stillroom.verbs import decide, publish, review
from stillroom.verbs.working import Action

ONE = ("airflow through rad27 at 35 dBA", "free-airflow")
TABLES = (Part("standings", write_standings, "standings"),)


def test_a_release_holds_what_was_ranked_and_every_file_with_its_hash(own_lab: Path) -> None:
    with Lab(own_lab) as lab:
        contents = gather(lab, "spring 2026", measures=ONE, date="2026-03-04")
        made = freeze(contents, parts=TABLES)
        assert made.wrong() == ()
        assert verify(lab).releases == 1
        assert verify(lab).whole
    assert [each["words"] for each in made.measures] == list(ONE)
    for one in contents.published:
        told = made.standings(one.slug)
        assert [each["fan"] for each in told["standings"]] == [each.fan for each in one.ranking.standings]
        trials = made.trials(one.slug)
        assert trials.keys() == one.ranking.trials.keys()
        for fan, each in one.ranking.trials.items():
            np.testing.assert_allclose(trials[fan], each, rtol=1e-6)
    assert read_release(own_lab, "spring 2026").date == "2026-03-04"
    with Lab(own_lab) as lab, pytest.raises(BadInput, match="frozen"):
        freeze(gather(lab, "spring 2026", measures=ONE), parts=TABLES)


def test_nothing_is_there_where_a_part_fails(own_lab: Path) -> None:
    def fails(_contents: Contents, folder: Path, _progress: Progress) -> list[Path]:
        (folder / "half.csv").write_text("half")
        raise StillroomError("part", found="a fault", expected="none")

    with Lab(own_lab) as lab:
        contents = gather(lab, "spring", measures=ONE)
        with pytest.raises(StillroomError, match="a fault"):
            freeze(contents, parts=(*TABLES, Part("data", fails, "data")))
        assert list((own_lab / "releases").iterdir()) == []
        assert verify(lab).releases == 0

        def forgets(_contents: Contents, folder: Path, _progress: Progress) -> list[Path]:
            (folder / "forgotten.csv").write_text("x")
            return []

        with pytest.raises(StillroomError, match=r"forgotten\.csv"):
            freeze(contents, parts=(Part("data", forgets, "data"),))
    assert releases_of(own_lab) == ()


def test_the_same_lab_gives_the_same_bytes(own_lab: Path, tmp_path: Path) -> None:
    with Lab(own_lab) as lab:
        gather(lab, "spring", measures=ONE)  # agrees on the spreads, which the journal keeps with their time
    other = Path(shutil.copytree(own_lab, tmp_path / "other"))
    found = []
    for path in (own_lab, other):
        with Lab(path) as lab:
            made = freeze(gather(lab, "spring", measures=ONE, date="2026-03-04"), parts=TABLES)
        found.append({path: each["sha256"] for path, each in made.manifest.items()})
    assert found[0] == found[1]


def test_open_findings_block_and_an_accepted_one_is_printed_with_its_reason(own_lab: Path) -> None:
    with Lab(own_lab) as lab:
        decisions = [
            each
            for each in gather(lab, "x", measures=ONE).excluded
            if "mounting" in each.subject or "run" in each.subject
        ]
        assert decisions  # the demo excludes what its faults spoilt
    again = [each.finding for each in decisions]
    decide(again[0], Action.REPEAT, *again[1:], reason="to be looked at once more", by="AB", lab=own_lab)
    said = publish("spring", measure=ONE, lab=own_lab)
    assert said.code == 1
    assert said.data["blocking"]
    assert not (own_lab / "releases" / "spring").exists()
    named = {each["id"] for each in said.data["blocking"]}
    assert named <= {each["id"] for each in review(lab=own_lab, all=True).data["findings"]}
    first, *others = sorted(named)
    decide(first, Action.ACCEPT, *others, reason="the seal was replaced & <checked>", by="AB", lab=own_lab)
    made = publish("spring", measure=ONE, lab=own_lab)
    assert made.code == 0
    index = (own_lab / "releases/spring/index.html").read_text(encoding="utf-8")
    assert "the seal was replaced &amp; &lt;checked&gt;" in index
    about = json.loads((own_lab / "releases/spring/release.json").read_text(encoding="utf-8"))
    assert named <= {each["finding"] for each in about["accepted"]}


@pytest.mark.parametrize("name", ["", "..", "a/b", "con", "x" * 100, "dot.", "a\\b", ".hidden", " lead"])
def test_a_name_that_can_be_no_folder_is_refused(own_lab: Path, name: str) -> None:
    with pytest.raises(BadInput, match="name of a release"):
        publish(name, lab=own_lab)


def test_wrong_measures_and_fans_are_named(own_lab: Path) -> None:
    with pytest.raises(BadInput, match="airflow thru rad27"):
        publish("spring", measure=("airflow thru rad27",), lab=own_lab)
    with pytest.raises(UnknownThing, match="airflo"):
        publish("spring", measure=("airflo through rad27",), lab=own_lab)
    with pytest.raises(UnknownThing, match="Nobody"):
        publish("spring", measure=ONE, highlight="Nobody", lab=own_lab)
    with pytest.raises(NotPossible, match="no fan that could be ranked"):
        publish("spring", measure=("airflow through rad27 at 5 dBA",), lab=own_lab)
    assert list((own_lab / "releases").iterdir()) == []


def test_a_release_that_was_touched_is_told(own_lab: Path) -> None:
    with Lab(own_lab) as lab:
        made = freeze(gather(lab, "spring", measures=ONE), parts=TABLES)
    table = made.folder / "standings" / "free-airflow.csv"
    before = hashlib.sha256(table.read_bytes()).hexdigest()
    assert made.manifest["standings/free-airflow.csv"]["sha256"] == before
    table.write_text("fan\n")
    assert replace(made).wrong() == ("standings/free-airflow.csv was changed",)
