"""The parts of a correction, each by itself: sentences, charts, documents, words, the notice and the link."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from stillroom.lab.book import Book
from stillroom.publish.correcting.changes import Change, Matter, in_order, settings_changed, versions_changed
from stillroom.publish.correcting.moved import (
    Difference,
    FanMoved,
    MeasureMoved,
    Moved,
    Movement,
    SentenceMoved,
    Value,
)
from stillroom.publish.correcting.notice import notice_of, summary
from stillroom.publish.correcting.pieces import charts_moved, documents_moved
from stillroom.publish.correcting.publishing import lead_to
from stillroom.publish.correcting.records_changed import of_fields
from stillroom.publish.correcting.sentences import sentences_moved
from stillroom.publish.correcting.turned import Turned
from stillroom.publish.correcting.words import change_words, is_printed, share_words, value_words
from stillroom.publish.document.as_html import as_html
from stillroom.publish.release import Release
from stillroom.records.settings import Settings
from stillroom.store.journal import Entry

HOSTILE = '</script><img src=x onerror="alert(1)">'


def value(
    at: float, half: float = 2.0, *, verdict: str = "not resolved", rank: tuple[int, int] = (1, 2)
) -> Value:
    return Value(at, at - half, at + half, "", verdict, rank, "measured", (), 2, "key")


def fan(name: str, old: Value, new: Value, low: float, high: float) -> FanMoved:
    difference = Difference(new.value - old.value, low, high)
    return FanMoved(
        name, Movement.MOVED if old.value != new.value else Movement.UNMOVED, old, new, difference
    )


def measure(*fans: FanMoved, **told: Any) -> MeasureMoved:
    return MeasureMoved("airflow", "Airflow through rad27", "m³/h", fans=fans, **told)


ASH = fan("Ash", value(70.0), value(68.6), -1.45, -1.35)
BIRCH = fan("Birch", value(60.0), value(60.0), 0.0, 0.0)


def moved(*measures: MeasureMoved, **told: Any) -> Moved:
    bore = Change(
        Matter.NOZZLE, "bore of nozzle N40: 40.012\u00a0mm → 39.612\u00a0mm", 412, "2026-11-25", "tk", "C-7"
    )
    usual: dict[str, Any] = {"changes": (bore,), "measures": measures}
    return Moved("autumn", "2026-10-01", "2026-11-26", "A lab", **(usual | told))


def said(text: str, *fans: str, kind: str = "best", slug: str = "airflow") -> dict[str, Any]:
    return {"slug": slug, "kind": kind, "fans": list(fans), "text": text}


# --- sentences ------------------------------------------------------------------------------------------------


def test_a_sentence_of_the_same_fans_is_one_that_changed() -> None:
    old = [said("Ash leads by 10.", "Ash"), said("Birch trails.", "Birch")]
    new = [said("Birch is near.", "Birch"), said("Ash leads by 9.", "Ash")]
    assert sentences_moved(old, new) == (
        SentenceMoved("airflow", "best", "Ash leads by 10.", "Ash leads by 9."),
        SentenceMoved("airflow", "best", "Birch trails.", "Birch is near."),
    )


def test_sentences_that_are_gone_or_new_stand_alone() -> None:
    old = [said("Ash leads.", "Ash"), said("Ash costs 10.", "Ash", kind="price")]
    new = [said("Ash leads.", "Ash"), said("Ash is marked.", "Ash", kind="mark")]
    assert sentences_moved(old, new) == (
        SentenceMoved("airflow", "price", "Ash costs 10.", ""),
        SentenceMoved("airflow", "mark", "", "Ash is marked."),
    )


def test_the_order_of_sentences_moves_nothing() -> None:
    told = [said("Ash leads.", "Ash"), said("Birch trails.", "Birch")]
    assert sentences_moved(told, told[::-1]) == ()


FANS = ("Ash", "Birch", "Sedge", "Sedge R12", "Salt and Ash")


@pytest.mark.parametrize(
    ("then", "now", "moves"),
    [
        ("Open: which of Ash, Birch and Sedge leads.", "Open: which of Sedge, Ash and Birch leads.", False),
        ("Not told apart: Ash or Birch.", "Not told apart: Birch or Ash.", False),
        ("Marked: Sedge R12, Sedge and Ash.", "Marked: Sedge, Ash and Sedge R12.", False),
        ("Marked: Salt and Ash and Birch.", "Marked: Birch and Salt and Ash.", False),
        ("Ash is ahead of Birch.", "Birch is ahead of Ash.", True),
        ("Ash has 50, Birch and Sedge 49.", "Birch has 50, Ash and Sedge 49.", True),
        ("Of Ash and Birch, 9 apart, Ash leads.", "Of Birch and Ash, 9 apart, Birch leads.", True),
        ("Marked: Ash, Birch and Sedge.", "Marked: Ash, Birch or Sedge.", True),
        ("Ash and Birch lead by 10.", "Birch and Ash lead by 9.", True),
    ],
)  # fmt: skip
def test_another_order_of_listed_fans_moves_no_sentence(then: str, now: str, *, moves: bool) -> None:
    found = sentences_moved([said(then, *FANS)], [said(now, *FANS[::-1])])
    assert found == ((SentenceMoved("airflow", "best", then, now),) if moves else ())


# --- charts and documents ----------------------------------------------------------------------------------------


def test_charts_are_told_by_what_they_show() -> None:
    then = [
        {"name": "airflow", "slug": "airflow", "title": "Ash leads", "digest": "1"},
        {"name": "level", "slug": "level", "title": "Ash is quiet", "digest": "2"},
        {"name": "curves", "slug": "", "title": "Curves", "digest": "3"},
        {"name": "claims", "slug": "", "title": "Claims", "digest": "4"},
    ]
    now = {"airflow": ("9", "Birch leads"), "level": ("2", "Ash is quiet"), "curves": ("8", "Curves")}
    found = {each.name: each.why for each in charts_moved(then, now, {"claims": "no claim"}, [measure(ASH)])}
    assert found == {
        "airflow": "its title was “Ash leads”, and is “Birch leads” now",
        "curves": "what it shows moved",
        "claims": "it can't be drawn any more: no claim",
    }


def test_documents_are_told_by_what_they_hold() -> None:
    files = ["standings/airflow.csv", "standings/level.csv", "standings/standings.xlsx", "documents/fan-Ash.pdf",
             "documents/fan-Birch.pdf", "documents/account.html", "documents/methodology.pdf", "data/datapackage.json",
             "charts/airflow.csv"]  # fmt: skip
    still = replace(measure(BIRCH), slug="level", title="Level")
    found = [each.name for each in documents_moved(files, [measure(ASH, BIRCH), still], [], 3)]
    assert found == ["standings/airflow.csv", "standings/standings.xlsx", "documents/fan-Ash.pdf",
                     "documents/methodology.pdf", "data/datapackage.json"]  # fmt: skip


# --- changes ----------------------------------------------------------------------------------------------------


def test_settings_and_versions_are_told_old_and_new() -> None:
    old = {"margins": {"airflow": 0.05, "level": 1.0}, "references": ["rad27"], "rig": ""}
    new = {"margins": {"airflow": 0.1, "level": 1.0}, "references": ("rad27",), "rig": "chamber"}
    assert [each.words for each in settings_changed(old, new)] == [
        "setting margins.airflow: 0.05 → 0.1",
        "setting rig: not told → chamber",
    ]
    told = versions_changed({"a": "1", "b": "2"}, {"a": "1", "b": "3", "c": "1"})
    assert [each.words for each in told] == ["version of b: 2 → 3", "version of c: not told → 1"]


def test_what_moves_numbers_stands_before_what_is_told_beside() -> None:
    changes = [Change(Matter.PRICE, "p", 1), Change(Matter.NOZZLE, "n", 9), Change(Matter.NOZZLE, "m", 3)]
    assert [each.words for each in in_order(changes)] == ["m", "n", "p"]


# --- words ------------------------------------------------------------------------------------------------------


def test_a_change_is_written_with_sign_and_interval_and_its_share() -> None:
    assert change_words(ASH) == "−1.40 (−1.45 to −1.35)"
    assert share_words(ASH, measure(ASH)) == "−2.00 %"
    assert share_words(ASH, replace(measure(ASH), relative=False)) == ""
    up = fan("Up", value(70.0), value(71.4), 1.35, 1.45)
    assert change_words(up, "m³/h") == "+1.40\u00a0m³/h (1.35 to 1.45)"


def test_a_move_under_the_last_printed_digit_is_known_as_such() -> None:
    little = fan("Little", value(70.0), value(70.001), 0.0005, 0.0015)
    assert little.is_moved
    assert not is_printed(little)
    assert is_printed(ASH)


def test_a_bound_is_written_with_its_word_and_no_open_end() -> None:
    bound = replace(value(30.0), bound="at least", high=math.inf)
    assert value_words(bound, "dBA") == "at least 30.0\u00a0dBA"
    assert json.dumps(bound.as_dict(), allow_nan=False)


def test_who_leads_is_another_where_the_leader_or_the_set_of_possible_bests_is() -> None:
    assert not measure(ASH, leader=("Ash", "Ash"), best=(("Ash", "Birch"), ("Birch", "Ash"))).winner_changed
    assert measure(ASH, leader=("Ash", "Birch"), best=(("Ash", "Birch"), ("Birch", "Ash"))).winner_changed
    assert measure(ASH, leader=("Ash", "Ash"), best=(("Ash", "Birch"), ("Ash",))).winner_changed


# --- the notice ---------------------------------------------------------------------------------------------------


def test_the_notice_says_what_every_reader_should_know() -> None:
    told = summary(
        moved(measure(ASH, BIRCH), replace(measure(BIRCH), slug="level", title="Level")), "autumn-corrected"
    )
    assert told == [
        "We corrected this on 2026-11-26.",
        "What was changed: bore of nozzle N40: 40.012\u00a0mm → 39.612\u00a0mm.",
        "Of two measures that autumn of 2026-10-01 published, one moved: Airflow through rad27 (−2.0 %).",
        "No winner changed: in every measure the same fans may be the best.",
        "The new numbers are in autumn-corrected; autumn stays as it was, with a note that leads to them.",
    ]


def test_another_leader_and_another_set_of_possible_bests_are_told_apart() -> None:
    other = measure(ASH, leader=("Ash", "Birch"), best=(("Ash",), ("Birch", "Ash")))
    same = replace(
        measure(ASH, leader=("Ash", "Ash"), best=(("Ash", "Birch"), ("Ash",))), slug="level", title="Level"
    )
    assert "Another fan leads in one measure: Airflow through rad27." in " ".join(summary(moved(other)))
    told = " ".join(summary(moved(same)))
    assert "The same fan leads, but others may be the best in one measure: Level." in told
    assert "Another fan" not in told


NO_BOOK = Book(Settings(), *({} for _ in range(10)))


def turned(before: dict[str, Any], now: dict[str, Any]) -> Turned:
    """A nozzle that was told otherwise."""
    entry = Entry(412, "2026-11-25T10:00:00", "tk", "nozzle", "N40", now, "", "")
    return Turned("nozzle", "N40", {"nozzle": "N40"} | before, {"nozzle": "N40"} | now, entry)


def test_what_one_entry_changed_is_told_with_its_reason_once() -> None:
    entered = {"entry": 412, "date": "2026-11-25", "why": "certificate C-8, in place of C-7"}
    changes = (
        Change(Matter.NOZZLE, "bore of nozzle N40: 40.0\u00a0mm → 39.6\u00a0mm", subject="N40", **entered),
        Change(Matter.NOZZLE, "date of nozzle N40: 2024-01-01 → 2026-01-01", subject="N40", **entered),
        Change(Matter.NOZZLE, "bore of nozzle N25: 25.0\u00a0mm → 25.1\u00a0mm", 413, "2026-11-25"),
    )
    text = as_html(notice_of(moved(measure(ASH, BIRCH), changes=changes)))
    assert text.count("certificate C-8") == 1
    assert text.count("journal entry 412") == 1
    assert (
        "39.6\u00a0mm; date of nozzle N40: 2024-01-01 → 2026-01-01 (certificate C-8, in place of C-7)" in text
    )
    assert text.count("journal entry 413") == 1


@pytest.mark.parametrize(
    ("before", "why"),
    [("C-7", "certificate C-8, in place of C-7"), (None, "certificate C-8"), ("C-8", "certificate C-8")],
)
def test_a_new_certificate_is_the_reason_of_what_changed_with_it_and_no_change_beside(
    before: str | None, why: str
) -> None:
    one = turned({"bore": 0.04, "certificate": before}, {"bore": 0.0396, "certificate": "C-8"})
    told = [(words, reason) for _, words, reason in of_fields(NO_BOOK, one)]
    assert told == [("bore of nozzle N40: 40\u00a0mm → 39.6\u00a0mm", why)]


def test_a_certificate_that_changed_alone_is_the_change() -> None:
    one = turned({"bore": 0.04, "certificate": "C-7"}, {"bore": 0.04, "certificate": "C-8"})
    assert [(words, why) for _, words, why in of_fields(NO_BOOK, one)] == [
        ("certificate of nozzle N40: C-7 → C-8", "")
    ]


def test_a_draft_says_that_it_is_one() -> None:
    assert summary(moved(measure(ASH)))[0] == "Draft of 2026-11-26: not published yet."
    assert "We corrected" not in " ".join(summary(moved(measure(ASH))))


def test_a_winner_that_changed_is_named_then_and_now() -> None:
    changed = measure(ASH, leader=("Ash", "Birch"), best=(("Ash",), ("Birch", "Ash")))
    page = re.sub(r"<[^>]*>", " ", as_html(notice_of(moved(changed), new="autumn-corrected")))
    assert "Ash is ahead of all." in page
    assert "Between Birch and Ash it is too close to call." in page


def test_what_can_t_be_compared_is_said_in_the_notice() -> None:
    gone = FanMoved("Cedar", Movement.GONE, value(50.0), None, None, "its only mounting was excluded")
    told = moved(
        measure(ASH, gone), unknown=("Level: the obstacle is gone",), damage=("evidence.npz was changed",)
    )
    page = re.sub(r"<[^>]*>", " ", as_html(notice_of(told)))
    assert "Cedar has no value now: its only mounting was excluded." in page
    assert "Level: the obstacle is gone" in page
    assert "file of autumn: evidence.npz was changed" in page


def test_a_fan_that_is_new_is_no_change() -> None:
    new = FanMoved("Newcomer", Movement.NEW, None, value(99.0))
    assert not new.is_moved
    assert not measure(BIRCH, new).is_moved
    assert not moved(measure(BIRCH, new)).is_moved


def test_names_of_a_lab_stay_words_in_notice_and_link(tmp_path: Path) -> None:
    told = moved(
        measure(replace(ASH, fan=HOSTILE)), changes=(Change(Matter.DECISION, f"{HOSTILE} was excluded", 3),)
    )
    page = as_html(notice_of(told, new="autumn-corrected"))
    assert HOSTILE not in page
    old, new = tmp_path / "autumn", tmp_path / "autumn corrected"
    (old / "page").mkdir(parents=True)
    lead_to(Release(old, {"date": "2026-10-01"}), Release(new, {"date": "2026-11-26"}), told)
    script = (old / "page" / "notice.js").read_text("utf-8")
    assert "<" not in script
    told_to_page = json.loads(script.removeprefix("window.stillroomNotice = ").rstrip().rstrip(";"))
    assert told_to_page["href"] == "../../autumn%20corrected/page/index.html"
    assert told_to_page["date"] == "2026-11-26"
    assert HOSTILE in told_to_page["words"]
    assert json.loads((old / "corrected.json").read_text("utf-8"))["by"] == "autumn corrected"


@pytest.mark.parametrize("kind", ["claim", "exclusion"])
def test_a_sentence_that_only_says_what_was_decided_makes_no_correction_due(kind: str) -> None:
    sentence = SentenceMoved("", kind, "before", "now")
    assert moved(measure(BIRCH), sentences=(sentence,)).is_moved == (kind == "claim")
