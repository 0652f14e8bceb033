"""Whether measures were registered before their data: by the journal's order, by hand-made labs without a reduction."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from stillroom.compare.candidates import Margin, MarginKind
from stillroom.errors import BadInput, StillroomError, UnknownThing
from stillroom.lab.book import open_book
from stillroom.lab.compared import compared
from stillroom.lab.disputes import disputed, disputes_of, standing_disputes
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.margin_words import margin_in
from stillroom.lab.measure_words import asked_from
from stillroom.lab.recipes import build_graph
from stillroom.lab.registering import Registered, Registry
from stillroom.lab.whole import worked_out
from stillroom.measures import measure_named
from stillroom.publish.account import account_of
from stillroom.publish.contents import gather
from stillroom.publish.correcting.comparing import Then, compare_measure
from stillroom.publish.page.fan_files import FanFiles
from stillroom.publish.standing_words import readers_word
from stillroom.publish.tables.pairs import letters_of
from stillroom.records.publishing import Round
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.journal import WITHDRAWN, Note
from stillroom.store.lab import Lab

FREE = "free-airflow"


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    folder.make(tmp_path / "lab", template("Test"))
    with Lab(tmp_path / "lab") as opened:
        yield opened


def table(lab: Lab, name: str, text: str) -> None:
    path = lab.path.parent / name
    path.write_text(text, encoding="utf-8")
    bring_in(lab, [path], {}).refuse_bad()


def measure(lab: Lab, fan: str, *, factor: float = 1.0, day: str = "") -> None:
    """Bring in a sweep of a fan at full setting; `day` stands in the file where it is told."""
    share = factor * (1.0 + len(fan) / 100.0)
    rows = [(20.0 - 2.0 * at, 10.0 * at * share) for at in range(11)]
    lines = [f"{p:.2f},{q:.3f},1500" for p, q in rows]
    head = "p_s [Pa],Q [m³/h],n [rpm]"
    head = f"date: {day}\n{head}" if day else head
    path = lab.path.parent / f"{fan}-{factor:g}.csv"
    path.write_text("\n".join([head, *lines, ""]), encoding="utf-8")
    bring_in(lab, [path], {"fan": fan, "sample": "s1", "duty": "100"}).refuse_bad()


def register(
    lab: Lab, measure: str = FREE, margin: str = "5 %", round_: str = "autumn", note: str = ""
) -> None:
    table(
        lab,
        "rounds.csv",
        f"round,question,measure,margin,note\n{round_},Which one?,{measure},{margin},{note}\n",
    )


def found(lab: Lab, words: str = FREE) -> Registered | None:
    book = open_book(lab)
    return Registry(lab, book, build_graph(book)).of(asked_from(words))


def there(lab: Lab, words: str = FREE) -> Registered:
    registered = found(lab, words)
    assert registered is not None
    return registered


def test_a_measure_registered_before_its_data(lab: Lab) -> None:
    register(lab)
    measure(lab, "Sedge")
    measure(lab, "Bracken")
    got = there(lab)
    assert got.is_before
    assert (got.fans, got.late, got.earlier) == (2, (), ())
    assert got.words == f"registered on {got.day} before its data"
    assert got.margin == Margin(0.05, MarginKind.RELATIVE)
    assert (got.round, got.question, got.margin_words) == ("autumn", "Which one?", "")
    assert [(each.sequence, each.time) for each in entries(lab)] == [(got.sequence, got.time)]


def entries(lab: Lab) -> list[Registered]:
    """The rounds' entries as the journal itself has them."""
    rows = lab.database.execute("SELECT sequence, time FROM journal WHERE kind = 'round'")
    return [replace(there(lab), sequence=sequence, time=time) for sequence, time in rows]


def test_data_of_some_fans_were_in(lab: Lab) -> None:
    measure(lab, "Sedge")
    register(lab)
    measure(lab, "Bracken")
    measure(lab, "Tormentil")
    got = there(lab)
    assert (got.late, got.fans) == (("Sedge",), 3)
    assert got.words == f"registered on {got.day}, after data of 1 of 3 fans were in"


def test_a_measure_that_no_round_names_is_not_registered(lab: Lab) -> None:
    register(lab, "maximum-pressure")
    measure(lab, "Sedge")
    assert found(lab) is None
    assert found(lab, "maximum-pressure") is not None


def test_the_same_measure_at_another_setting_is_another(lab: Lab) -> None:
    register(lab, "free-airflow at 1500 rpm")
    measure(lab, "Sedge")
    assert found(lab) is None
    assert there(lab, "free-airflow at 1500 rpm").is_before
    assert there(lab, "free-airflow  at 1500rpm").is_before


def test_data_that_came_in_later_but_bear_an_earlier_date(lab: Lab) -> None:
    register(lab)
    measure(lab, "Sedge", day="2001-05-06")
    measure(lab, "Bracken")
    got = there(lab)
    assert not got.is_before
    assert (got.late, got.earlier) == ((), ("Sedge",))
    assert got.words.endswith("before its data came in, but data of 1 of 2 fans bear an earlier date")


def test_a_later_run_of_a_fan_that_was_seen_does_not_wash_it_clean(lab: Lab) -> None:
    measure(lab, "Sedge")
    register(lab)
    measure(lab, "Sedge", factor=1.01)
    assert there(lab).late == ("Sedge",)


def test_a_date_that_somebody_typed_counts_for_nothing(lab: Lab) -> None:
    measure(lab, "Sedge")
    register(lab, note="registered on 2001-01-01")
    assert there(lab).late == ("Sedge",)


def test_the_margin_that_was_registered_counts_and_a_later_one_is_said(lab: Lab) -> None:
    register(lab, margin="3 %")
    measure(lab, "Sedge")
    register(lab, margin="8 %")
    got = there(lab)
    assert got.margin == Margin(0.03, MarginKind.RELATIVE)
    assert got.is_before
    assert got.changed == ((got.day, "8 %"),)
    assert got.margin_words == (
        "the margin of 3 % that was registered is used, not the one of the lab’s settings;"
        f" a margin of 8 % was told on {got.day}, after its data"
    )


def test_a_margin_changed_before_the_data_is_the_registered_one(lab: Lab) -> None:
    register(lab, margin="3 %")
    register(lab, margin="5 %")
    measure(lab, "Sedge")
    got = there(lab)
    assert got.margin == Margin(0.05, MarginKind.RELATIVE)
    assert got.margin_words == ""


def test_a_margin_told_only_after_the_data_is_said(lab: Lab) -> None:
    register(lab, margin="")
    measure(lab, "Sedge")
    assert there(lab).margin_words == "no margin was registered"
    register(lab, margin="5 %")
    late = f"a margin of 5 % was told on {there(lab).day}, after its data"
    assert there(lab).margin_words == f"no margin was registered; {late}"


def test_a_round_that_was_withdrawn_registers_nothing(lab: Lab) -> None:
    register(lab)
    lab.write([Note(WITHDRAWN, f"autumn/{FREE}", {"kind": Round.kind})])
    measure(lab, "Sedge")
    assert found(lab) is None
    register(lab)
    assert there(lab).late == ("Sedge",), "registered anew, it counts from then on"


def test_the_first_of_two_rounds_counts(lab: Lab) -> None:
    register(lab, round_="spring")
    measure(lab, "Sedge")
    register(lab, round_="autumn")
    assert there(lab).round == "spring"
    assert there(lab).is_before


# --- the tables ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("measure", "margin", "thing"),
    [
        ("nonsense", "5 %", "measure"),
        ("free-airflow", "5", "margin of free-airflow"),
        ("free-airflow", "0.4 K", "margin of free-airflow"),
        ("level", "5 %", "margin of level"),
        ("free-airflow", "-5 %", "margin of free-airflow"),
    ],
)
def test_a_round_that_registers_nothing_is_refused(lab: Lab, measure: str, margin: str, thing: str) -> None:
    with pytest.raises(StillroomError) as refused:
        register(lab, measure, margin)
    assert thing in refused.value.thing
    assert "rounds.csv, line 2" in refused.value.place
    assert not open_book(lab).rounds


def test_a_bare_margin_takes_the_unit_of_its_column(lab: Lab) -> None:
    table(lab, "rounds.csv", "round,measure,margin [%]\nautumn,free-airflow,3\n")
    assert open_book(lab).rounds["autumn/free-airflow"].margin == "3 %"


@pytest.mark.parametrize(
    ("words", "measure", "size"),
    [("5 %", "airflow", 0.05), ("2,5%", "airflow", 0.025), ("1 dB", "level", 1.0), ("1 dBA", "level", 1.0),
     ("0.4 K", "heat", 0.4), ("0.4 °C", "heat", 0.4)],
)  # fmt: skip
def test_margins_are_read_with_their_unit(words: str, measure: str, size: float) -> None:
    assert margin_in(words, measure_named(measure)).size == pytest.approx(size)


def test_a_dispute_stands_until_it_is_settled(lab: Lab) -> None:
    table(
        lab,
        "disputes.csv",
        "fan,measure,since,by,text\nSedge,airflow through rad27 at 35 dBA,2026-11-20,Quillmoor,No\n",
    )
    book = open_book(lab)
    assert disputed(book, "Sedge") == "under dispute since 2026-11-20"
    assert disputed(book, "Sedge", "airflow through rad27 at 35 dBA") == "under dispute since 2026-11-20"
    assert disputed(book, "Sedge", "airflow through rad27 at 30 dBA") == ""
    assert disputed(book, "Bracken") == ""
    table(lab, "disputes.csv", "fan,measure,since,by,text,reply,reply date,settled\n"
          "Sedge,airflow through rad27 at 35 dBA,2026-11-20,Quillmoor,No,Yes,2026-11-22,measured again\n")  # fmt: skip
    book = open_book(lab)
    assert disputed(book, "Sedge") == ""
    assert standing_disputes(book) == []
    assert len(book.disputes) == 1


@pytest.mark.parametrize(
    ("told", "asked", "is_disputed"),
    [("", "free-airflow", True), ("free-airflow", "free-airflow at 1500 rpm", True),
     ("free-airflow at 1500 rpm", "free-airflow", False), ("maximum-pressure", "free-airflow", False)],
)  # fmt: skip
def test_a_dispute_is_about_its_measure(lab: Lab, told: str, asked: str, is_disputed: bool) -> None:
    table(lab, "disputes.csv", f"fan,measure,since,text\nSedge,{told},2026-11-20,No\n")
    assert bool(disputed(open_book(lab), "Sedge", asked)) is is_disputed


@pytest.mark.parametrize("told", ["Free airflow", "FREE AIRFLOW", "Free-Airflow"])
def test_a_dispute_may_name_a_measure_by_its_title(lab: Lab, told: str) -> None:
    table(lab, "disputes.csv", f"fan,measure,since,text\nSedge,{told},2026-11-20,No\n")
    book = open_book(lab)
    assert disputed(book, "Sedge", "free-airflow at 1500 rpm")
    assert not disputed(book, "Sedge", "maximum-pressure")


def test_a_dispute_names_its_fan_in_any_capitals_and_counts_wherever_the_fan_stands(lab: Lab) -> None:
    measure(lab, "Sedge")
    measure(lab, "Tormentil")
    table(lab, "disputes.csv", "fan,since,text,settled\nSEDGE,2026-11-20,No,\nsedge,2026-11-02,No,yes\n")
    contents = gather(lab, "one", measures=(FREE,))
    book = contents.book
    assert [each.since for each in disputes_of(book, "Sedge")] == ["2026-11-02", "2026-11-20"]
    assert disputes_of(book, "sedge") == disputes_of(book, "Sedge")
    assert not disputes_of(book, "Tormentil")
    (line,) = (each for each in contents.published[0].ranking.standings if each.fan == "Sedge")
    assert "under dispute since 2026-11-20" in line.marks
    page = FanFiles(contents, account_of(contents)).of("Sedge")
    assert [each["since"] for each in page["disputes"]] == ["2026-11-02", "2026-11-20"]


def test_of_two_fans_that_differ_in_capitals_only_a_dispute_is_about_the_one_that_it_names(lab: Lab) -> None:
    table(lab, "fans.csv", "fan,maker\nSedge,Quillmoor\nSEDGE,Fennock\n")
    table(lab, "disputes.csv", "fan,since,text\nSEDGE,2026-11-20,No\n")
    assert not disputed(open_book(lab), "Sedge")
    assert disputed(open_book(lab), "SEDGE")


def test_the_oldest_dispute_tells_since_when(lab: Lab) -> None:
    table(lab, "disputes.csv", "fan,since,text\nSedge,2026-11-20,No\nSedge,2026-11-02,No\n")
    assert disputed(open_book(lab), "Sedge") == "under dispute since 2026-11-02"


def test_a_dispute_of_no_measure_or_answered_before_it_began_is_refused(lab: Lab) -> None:
    with pytest.raises(UnknownThing):
        table(lab, "disputes.csv", "fan,measure,since,text\nSedge,nonsense,2026-11-20,No\n")
    with pytest.raises(BadInput, match="reply date"):
        table(lab, "disputes.csv", "fan,since,text,reply date\nSedge,2026-11-20,No,2026-11-19\n")


def test_the_registered_margin_is_the_one_that_is_compared_by(lab: Lab) -> None:
    register(lab, margin="30 %")
    measure(lab, "Sedge")
    measure(lab, "Tormentil")
    whole = worked_out(lab)
    assert compared(whole, asked_from(FREE)).ranking.margin == Margin(0.3, MarginKind.RELATIVE)
    assert compared(whole, asked_from("maximum-pressure")).ranking.margin == Margin(0.05, MarginKind.RELATIVE)
    assert compared(whole, asked_from("free-airflow at 1500 rpm")).ranking.margin == Margin(
        0.05, MarginKind.RELATIVE
    )


def test_a_disputed_number_carries_the_mark(lab: Lab) -> None:
    measure(lab, "Sedge")
    measure(lab, "Tormentil")
    table(lab, "disputes.csv", "fan,measure,since,text\nSedge,free-airflow,2026-11-20,No\n")
    published = {
        each.words: each.ranking for each in gather(lab, "one", measures=(FREE, "maximum-pressure")).published
    }
    marks = {(words, each.fan): each.marks for words, found in published.items() for each in found.standings}
    assert "under dispute since 2026-11-20" in marks[FREE, "Sedge"]
    del marks[FREE, "Sedge"]
    assert not any("dispute" in mark for each in marks.values() for mark in each)


def test_what_is_said_twice_is_said_in_the_same_words(lab: Lab) -> None:
    measure(lab, "Sedge")
    measure(lab, "Tormentil")
    contents = gather(lab, "one", measures=(FREE,))
    (published,) = contents.published
    now = replace(published.ranking, unit="dBA", margin=Margin(1.0, MarginKind.ABSOLUTE))
    told = now.as_dict() | {"margin": {"size": 2.0, "kind": "absolute"}, "verdicts": letters_of(now)}
    moved = compare_measure(Then("level", "", "level", told, {}), now, now)
    assert "The practical margin was 2 dB and is 1 dB now." in moved.notes

    unranked = replace(published.ranking.standings[-1], rank=None)
    ranking = replace(published.ranking, best=(), standings=(*published.ranking.standings[:-1], unranked))
    shown = replace(contents, published=(replace(published, ranking=ranking),))
    page = FanFiles(shown, account_of(shown)).of(unranked.fan)
    assert page["standings"][0]["verdict"] == readers_word(unranked, ranking) == "not ranked"
    assert account_of(contents).document.footer == contents.imprint == "Test · release one"
