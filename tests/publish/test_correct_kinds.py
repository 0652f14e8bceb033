"""What may change after a release was frozen, one thing at a time: what is told, and what of it moves numbers."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from lab_copies import copied

from stillroom.errors import LabDamaged, UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.compared import compared
from stillroom.lab.measure_words import asked_from
from stillroom.lab.recipes import build_graph
from stillroom.lab.whole import worked_out
from stillroom.methods.control import versions as control
from stillroom.publish.contents import gather
from stillroom.publish.correcting.comparing import Then, compare_measure
from stillroom.publish.correcting.gathering import corrected_name
from stillroom.publish.correcting.stale import stale_releases
from stillroom.publish.freezing import freeze
from stillroom.publish.parts import PARTS
from stillroom.publish.release import read_release
from stillroom.records.acts import Decision
from stillroom.records.fields import as_json
from stillroom.store.files import sha256_of
from stillroom.store.journal import Note
from stillroom.store.lab import Lab
from stillroom.verbs import add, correct
from stillroom.verbs.said import Said

MEASURES = ("airflow through rad27", "start-duty")
LIGHT = tuple(each for each in PARTS if each.what in {"standings", "account"})


@pytest.fixture(scope="module")
def frozen_lab(published_lab: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lab with a release of two measures."""
    lab = tmp_path_factory.mktemp("frozen") / "lab"
    copied(published_lab, lab)
    with Lab(lab) as opened:
        freeze(gather(opened, "autumn", measures=MEASURES), parts=LIGHT)
    return lab


@pytest.fixture
def lab(frozen_lab: Path, tmp_path: Path) -> Path:
    """A copy of it that a test may change."""
    return copied(frozen_lab, tmp_path / "lab")


def measure(said: Said, slug: str = "airflow-through-rad27") -> dict[str, Any]:
    return next(each for each in said.data["measures"] if each["slug"] == slug)


def fans(said: Said, slug: str = "airflow-through-rad27") -> Mapping[str, dict[str, Any]]:
    return {each["fan"]: each for each in measure(said, slug)["fans"]}


def words(said: Said) -> list[str]:
    return [each["words"] for each in said.data["changes"]]


def stale(lab: Path) -> list[str]:
    with Lab(lab) as opened:
        book = open_book(opened)
        return [each.words for each in stale_releases(opened, book, build_graph(book))]


def settings(lab: Path, text: str) -> None:
    with (lab / "lab.toml").open("a", encoding="utf-8") as file:
        file.write(text)


def test_nothing_changed_nothing_moved(frozen_lab: Path) -> None:
    said = correct("autumn", lab=frozen_lab)
    assert said.code == 0
    assert not said.data["moved"]
    assert said.data["changes"] == []
    assert {
        each["movement"]
        for slug in ("airflow-through-rad27", "start-duty")
        for each in fans(said, slug).values()
    }
    assert all(each["movement"] == "not moved" for each in fans(said).values())
    assert stale(frozen_lab) == []


def test_nothing_moved_publishes_nothing(frozen_lab: Path) -> None:
    said = correct("autumn", publish=True, lab=frozen_lab)
    assert said.code == 0
    assert "no correction was published" in said.title
    assert not (frozen_lab / "releases" / "autumn-corrected").exists()


def test_an_unknown_release_is_named(frozen_lab: Path) -> None:
    with pytest.raises(UnknownThing, match="autumn"):
        correct("spring", lab=frozen_lab)


def test_an_excluded_mounting_moves_its_fan_and_no_other(lab: Path) -> None:
    before = read_release(lab, "autumn").standings("airflow-through-rad27")["standings"]
    fan = next(each["fan"] for each in before if each["mountings"] > 2)
    with Lab(lab) as opened:
        graph = build_graph(open_book(opened))
        node = graph.mountings(fan)[0]
        decision = Decision(
            finding="f0000000", rule="43", subject=f"mounting:{node.subject}", key=node.judged, action="exclude",
            reason="it had not run in", by="the technician", time="2026-11-26T10:00:00+00:00",
        )  # fmt: skip
        opened.write([Note(decision.kind, decision.name, as_json(decision))], by="the technician")
    said = correct("autumn", lab=lab)
    assert said.code == 1
    change = next(each for each in said.data["changes"] if each["matter"] == "decision")
    assert change["words"] == f"{node.subject} was excluded"
    assert change["why"] == "it had not run in (the technician)"
    assert fans(said)[fan]["movement"] == "moved"
    assert fans(said)[fan]["new"]["mountings"] == fans(said)[fan]["old"]["mountings"] - 1
    assert all(each["movement"] == "not moved" for name, each in fans(said).items() if name != fan)
    (line,) = stale(lab)
    assert f"{node.subject} was excluded" in line


def test_a_new_version_of_the_obstacle_moves_all_that_was_measured_apart(lab: Path) -> None:
    """A third more resistance: less airflow for every fan; the notice tells which version it was and is."""
    (lab / "obstacles.csv").write_text(
        "obstacle,version,date,kind,tile size [mm],description\n"
        'rad27,2,2026-11-25,radiator,120,"radiator, 27 mm thick, dusty"\n'
    )
    add(lab / "obstacles.csv", lab=lab)
    lines = (lab / "bench/exports/obstacles/rad27-v1.csv").read_text("utf-8").splitlines()
    told = [line.split(",") for line in lines[1:]]
    more = [",".join([*row[:2], f"{float(row[2]) * 4 / 3:.2f}", *row[3:]]) for row in told]
    (lab / "rad27-v2.csv").write_text("\n".join([lines[0], *more]) + "\n", "utf-8")
    add(lab / "rad27-v2.csv", as_=("obstacle=rad27@2", "rig=chamber"), lab=lab)
    said = correct("autumn", lab=lab)
    assert said.code == 1
    moved = [each for each in fans(said).values() if each["movement"] == "moved"]
    assert len(moved) == len(fans(said))
    assert all(each["difference"]["high"] < 0.0 for each in moved)
    assert any("obstacle version: 1, now 2" in each for each in measure(said)["notes"])
    assert any(each.startswith("obstacle rad27@2 is new") for each in words(said))
    assert not measure(said, "start-duty")["moved"]
    assert "obstacle rad27@2 is new" in stale(lab)[0]


def test_another_margin_moves_verdicts_and_no_value(lab: Path) -> None:
    settings(lab, "\n[margins]\nairflow = 0.4\n")
    said = correct("autumn", lab=lab)
    assert "setting margins.airflow: 0.05 → 0.4" in words(said)
    assert any("margin was 5 % and is 40 % now" in each for each in measure(said)["notes"])
    assert all(each["movement"] == "not moved" for each in fans(said).values())
    assert measure(said)["pairs"]
    assert said.code == 1
    assert "setting margins.airflow" in stale(lab)[0]


def test_another_limit_of_a_rule_is_told_and_moves_no_value(lab: Path) -> None:
    settings(lab, "\n[limits]\nzero_drift = 0.3\n")
    said = correct("autumn", lab=lab)
    assert any(each.startswith("setting limits.zero_drift: 0.2 → 0.3") for each in words(said))
    assert all(each["movement"] == "not moved" for each in fans(said).values())


def test_a_setting_that_only_says_how_files_are_read_makes_nothing_stale(lab: Path) -> None:
    text = (lab / "lab.toml").read_text("utf-8")
    (lab / "lab.toml").write_text('rig = "chamber"\n' + text, "utf-8")
    assert stale(lab) == []


def test_a_raised_version_of_a_method_is_told_and_same_numbers_did_not_move(
    lab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(control, "MOUNTING", control.MOUNTING + 1)
    assert any("version of control mounting" in each for each in stale(lab))
    said = correct("autumn", lab=lab)
    assert f"version of control mounting: {control.MOUNTING - 1} → {control.MOUNTING}" in words(said)
    assert all(each["movement"] == "not moved" for each in fans(said, "start-duty").values())
    assert all(each["movement"] == "not moved" for each in fans(said).values())


def test_a_fan_that_is_new_since_moves_nothing(lab: Path) -> None:
    """The same fan once more under another name: it stands among the others, and takes nobody's place."""
    folder = lab / "new" / "Newcomer" / "s1"
    folder.mkdir(parents=True)
    rows = ["file,rig,mounting,fan,sample,obstacle,duty [%]"]
    for path in sorted((lab / "bench/exports/Asphodel/s1/m1").glob("*.csv")):
        (folder / path.name).write_text(path.read_text("utf-8") + "\n", "utf-8")
        duty = path.stem.removesuffix("pct")
        rows.append(f"Newcomer/s1/{path.name},chamber,Newcomer-s1-m1,Newcomer,s1,,{duty}")
    (lab / "new" / "runs.csv").write_text("\n".join(rows) + "\n", "utf-8")
    (lab / "new" / "fans.csv").write_text("fan,maker,size [mm]\nNewcomer,Fennock,120\n", "utf-8")
    add(lab / "new", lab=lab)
    said = correct("autumn", lab=lab)
    found = fans(said)
    assert found["Newcomer"]["movement"] == "new since"
    assert found["Newcomer"]["new"] is not None
    old = [each for name, each in found.items() if name != "Newcomer"]
    assert all(each["movement"] == "not moved" for each in old)
    assert all(each["old"]["rank"] == each["new"]["rank"] for each in old)
    assert not measure(said)["moved"]
    assert not measure(said)["winner_changed"]
    assert said.code == 0, said.lines
    assert "fan Newcomer is new" in words(said)
    assert stale(lab) == []


def test_a_price_is_told_beside_and_moves_no_number(lab: Path) -> None:
    (lab / "prices.csv").write_text(
        "fan,price,currency,date,region,shop\nSedge,9.90,EUR,2026-11-26,EU,Mirefold Parts\n", "utf-8"
    )
    add(lab / "prices.csv", lab=lab)
    said = correct("autumn", lab=lab)
    assert any(each.startswith("price Sedge/Mirefold Parts/2026-11-26 is new") for each in words(said))
    assert all(each["movement"] == "not moved" for each in fans(said).values())


def test_runs_that_were_withdrawn_are_told_with_their_reason(lab: Path) -> None:
    where = lab / "bench/exports/Bilberry/s1/m1/40pct.csv"
    add(where, withdraw=True, reason="the rig was not closed", lab=lab)
    said = correct("autumn", lab=lab)
    change = next(each for each in said.data["changes"] if each["matter"] == "runs")
    assert change["words"] == "one run withdrawn: Bilberry"
    assert change["why"] == "the rig was not closed"
    assert fans(said)["Bilberry"]["movement"] == "moved"


def damaged(lab: Path, path: str, change: Callable[[str], str]) -> None:
    file = lab / "releases" / "autumn" / path
    file.write_text(change(file.read_text("utf-8")), "utf-8")


def test_damage_is_named_and_the_rest_compared(lab: Path) -> None:
    damaged(lab, "standings/start-duty.csv", lambda text: text + "\n")
    said = correct("autumn", lab=lab)
    assert said.data["damage"] == ["standings/start-duty.csv was changed"]
    assert any("standings/start-duty.csv was changed" in each for each in said.lines)
    assert not measure(said)["gone"]


def test_numbers_that_cant_be_read_are_said_and_not_dropped(lab: Path) -> None:
    damaged(lab, "standings/start-duty.json", lambda text: text[: len(text) // 2])
    said = correct("autumn", lab=lab)
    assert "can't be read" in measure(said, "start-duty")["gone"]
    assert any("start" in each.lower() for each in said.data["unknown"])
    assert not measure(said)["moved"]


def test_a_release_without_its_own_description_is_damaged(lab: Path) -> None:
    damaged(lab, "release.json", lambda text: text[:-20])
    with pytest.raises(LabDamaged):
        correct("autumn", lab=lab)


def test_a_measure_that_can_t_be_had_any_more_is_said(lab: Path) -> None:
    def with_another(text: str) -> str:
        told = json.loads(text)
        other = {**told["measures"][0], "slug": "airflow-through-oldrad", "words": "airflow through oldrad"}
        return json.dumps({**told, "measures": [*told["measures"], other]})

    damaged(lab, "release.json", with_another)
    standings = lab / "releases" / "autumn" / "standings"
    shutil.copy(standings / "airflow-through-rad27.json", standings / "airflow-through-oldrad.json")
    evidence = lab / "releases" / "autumn" / "evidence.npz"
    before = sha256_of(evidence)
    with np.load(evidence) as kept:
        rows = {**kept, "airflow-through-oldrad": kept["airflow-through-rad27"]}
    np.savez(evidence, **rows)
    damaged(lab, "manifest.json", lambda text: text.replace(before, sha256_of(evidence)))
    said = correct("autumn", lab=lab)
    assert "oldrad" in measure(said, "airflow-through-oldrad")["gone"]
    assert any("oldrad" in each for each in said.data["unknown"])
    assert not measure(said)["gone"]


def test_the_first_trials_are_in_common_where_their_number_is_another(frozen_lab: Path) -> None:
    release, slug = read_release(frozen_lab, "autumn"), "airflow-through-rad27"
    with Lab(frozen_lab) as opened:
        now = compared(worked_out(opened), asked_from(MEASURES[0])).ranking
    fewer = {fan: trials[:1000] - 0.001 for fan, trials in release.trials(slug).items()}
    found = compare_measure(Then(slug, "", MEASURES[0], release.standings(slug), fewer), now, now)
    for each in found.fans:
        assert each.difference is not None
        assert each.difference.value == pytest.approx(0.0, abs=1e-6)
        assert each.difference.high == pytest.approx(3.6, abs=1e-3)
        assert each.why == ""


def test_a_correction_of_a_correction_is_numbered_on(lab: Path) -> None:
    settings(lab, "\n[margins]\nairflow = 0.4\n")
    with Lab(lab) as opened:
        first = read_release(lab, "autumn")
        assert corrected_name(opened, first) == "autumn-corrected"
        freeze(gather(opened, "autumn-corrected", corrects="autumn", measures=MEASURES), parts=LIGHT)
        assert corrected_name(opened, read_release(lab, "autumn-corrected")) == "autumn-corrected-2"
        assert corrected_name(opened, first) == "autumn-corrected-2"
    assert correct("autumn-corrected", lab=lab).code == 0
