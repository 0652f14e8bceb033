"""The account of a release from end to end: its sentences, and the page, text and data that hold them."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

from stillroom.compare.candidates import How
from stillroom.compare.claims import ClaimCheck, Measured
from stillroom.core.claims import ClaimVerdict
from stillroom.lab.book import open_book
from stillroom.lab.deciding import decisions
from stillroom.lab.executor import silent
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.whole import worked_out
from stillroom.publish.account import Account, Kind, account_of, write_account
from stillroom.publish.account.whole_release import claim_sentences, excluded_sentences
from stillroom.publish.contents import Contents, gather
from stillroom.publish.document.as_text import as_text
from stillroom.publish.standing_words import value_words
from stillroom.records.acts import Decision
from stillroom.records.fields import as_json
from stillroom.records.products import Claim
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.journal import Note
from stillroom.store.lab import Lab

ROUNDS = "round,question,measure,margin\nautumn,Which is the best?,airflow through rad27,5 %\n"
DISPUTES = "fan,measure,since,by,text,reply\nSundew,maximum-pressure,2026-11-21,Skelrigg,Too low,We measured it twice\n"
MEASURES = ("airflow through rad27", "maximum-pressure", "heat at 35 dBA")


@dataclass(frozen=True)
class Told:
    contents: Contents
    account: Account
    folder: Path
    files: list[Path]

    def texts(self, *kinds: Kind, slug: str | None = None) -> list[str]:
        return [each.text for each in self.account.sentences
                if each.kind in kinds and slug in (None, each.slug)]  # fmt: skip


@pytest.fixture(scope="module")
def told(published_lab: Path, tmp_path_factory: pytest.TempPathFactory) -> Told:
    home = tmp_path_factory.mktemp("account")
    path = Path(shutil.copytree(published_lab, home / "lab"))
    for name, text in (("rounds.csv", ROUNDS), ("disputes.csv", DISPUTES)):
        (home / name).write_text(text, encoding="utf-8")
    with Lab(path) as lab:
        bring_in(lab, [home / "rounds.csv", home / "disputes.csv"], {}).refuse_bad()
        whole = worked_out(lab)
        finding = next(each for each in whole.found if each.fans == ("Tormentil",))
        made = decisions(lab, whole.book, whole.graph, [finding], "accept", "heard\nat two places", "A. M.")
        lab.write([Note(each.kind, each.name, as_json(each)) for each in made])
        question = "Which is the best?"
        contents = gather(
            lab, "autumn", highlight="sedge", question=question, measures=MEASURES, date="2026-11-26"
        )
        account = account_of(contents)
        files = write_account(contents, home / "documents", silent)
        write_account(contents, home / "again", silent)
    return Told(contents, account, home, files)


@pytest.mark.slow
def test_each_measure_says_who_may_be_the_best_when_it_was_registered_and_where_the_fan_under_review_stands(
    told: Told,
) -> None:
    assert len(told.contents.published) == len(MEASURES)
    for each in told.contents.published:
        kinds = [one.kind for one in told.account.of(each.slug)]
        assert kinds.count(Kind.BEST) == kinds.count(Kind.REGISTERED) == 1
        assert Kind.PLACE in kinds
        (registered,) = told.texts(Kind.REGISTERED, slug=each.slug)
        words = each.registered.words if each.registered else "not registered"
        assert words in registered
    assert "after data of 6 of 6 fans were in" in " ".join(told.texts(Kind.REGISTERED))


@pytest.mark.slow
def test_its_numbers_are_those_of_the_standings(told: Told) -> None:
    for published in told.contents.published:
        of = {each.fan: value_words(each, published.ranking.unit) for each in published.ranking.standings}
        leader = published.ranking.best[0]
        (best,) = told.texts(Kind.BEST, slug=published.slug)
        assert of[leader] in best
        place = told.texts(Kind.PLACE, slug=published.slug)[0]
        assert of["Sedge"] in place
        assert {each.how for each in published.ranking.standings} <= set(How)


@pytest.mark.slow
def test_claims_exclusions_accepted_findings_and_disputes_are_told(told: Told) -> None:
    assert len(told.texts(Kind.CLAIM)) == 18
    (accepted,) = told.texts(Kind.ACCEPTED)
    assert re.search(r"Published with an accepted finding of rule \d+ \(.+\) about .+: .+; accepted on \d{4}-\d\d-\d\d"
                     r" by A\. M\.: “heard at two places”\.", accepted)  # fmt: skip
    excluded = told.texts(Kind.EXCLUDED)
    assert any("mounting Bracken-s2-m2" in each and "by the demo" in each for each in excluded)
    assert excluded[-1].startswith("Runs excluded, by maker: ")
    assert told.texts(Kind.DISPUTE) == [
        "The number of Sundew is under dispute since 2026-11-21.",
        "The number of Sundew for maximum-pressure is under dispute since 2026-11-21 by Skelrigg;"
        " the laboratory replied: “We measured it twice”.",
    ]


@pytest.mark.slow
def test_the_page_the_text_and_the_data_hold_every_sentence(told: Told) -> None:
    names = ["account.html", "account.txt", "account.json"]
    assert told.files == [told.folder / "documents" / each for each in names]
    page, text, data = (each.read_text(encoding="utf-8") for each in told.files)
    assert [each.read_bytes() for each in told.files] == [
        (told.folder / "again" / each).read_bytes() for each in names
    ]
    assert text == as_text(told.account.document)
    letters = re.sub(r"\W+", "", text)  # a callout's lines begin with a bar
    for each in told.account.sentences:
        assert re.sub(r"\W+", "", each.text) in letters
    loaded = json.loads(data)
    assert (loaded["schema"], loaded["release"], loaded["date"]) == (
        "stillroom/account/1",
        "autumn",
        "2026-11-26",
    )
    assert [tuple(each["fans"]) for each in loaded["sentences"]] == [
        each.fans for each in told.account.sentences
    ]
    assert [each["text"] for each in loaded["sentences"]] == [each.text for each in told.account.sentences]
    assert "<h1>What may be said</h1>" in page
    assert "Which is the best?" in text


# --- without a finished lab ----------------------------------------------------------------------------------------


def claim(verdict: ClaimVerdict, samples: int, value: float = 80.0) -> ClaimCheck:
    printed = Claim(fan="Sedge", quantity="airflow", value=100.0, unit="m³/h", condition="free\ndelivery")
    si = 1.0 / 3600.0
    found = Measured(value * si, (value - 1) * si, (value + 1) * si, 0.5 * si, samples, 2 * samples, "key")
    return ClaimCheck(printed, "free airflow", 100.0 * si, 0.0, verdict, -20.0, found)


@pytest.mark.parametrize(
    ("check", "words"),
    [
        (claim(ClaimVerdict.OUTSIDE, 2), "measured 80.0 m³/h (79.0 to 81.0) on two samples; outside, 20 % below"),
        (claim(ClaimVerdict.OUTSIDE, 1), "1 sample: not published as a failure."),
        (claim(ClaimVerdict.OUTSIDE, 2, 120.0), "outside, 20 % above the claim: no failure."),
        (claim(ClaimVerdict.WITHIN_UNCERTAINTY, 1), "within uncertainty."),
        (replace(claim(ClaimVerdict.NOT_CHECKABLE, 1), measured=None, why="its condition isn’t printed"),
         "on the box: not checkable: its condition isn’t printed."),
    ],
)  # fmt: skip
def test_a_claim_is_a_failure_only_by_two_samples(check: ClaimCheck, words: str) -> None:
    (said,) = claim_sentences([check])
    assert said.fans == ("Sedge",)
    text = re.sub(r"\s", " ", said.text)
    assert text.startswith("Sedge, free airflow of 100 m³/h (free delivery) on the box: ")
    assert words in text


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    folder.make(tmp_path / "lab", template("Test"))
    with Lab(tmp_path / "lab") as lab:
        for number, fan in enumerate(("<script>alert(1)</script>", '"&=1+1', "שלום")):
            share = 1.0 + number / 10.0
            rows = [f"{20.0 - 2.0 * at:.1f},{10.0 * at * share:.2f},1500" for at in range(11)]
            path = tmp_path / f"{number}.csv"
            path.write_text("\n".join(["p_s [Pa],Q [m³/h],n [rpm]", *rows, ""]), encoding="utf-8")
            bring_in(lab, [path], {"fan": fan, "sample": "s1", "duty": "100"}).refuse_bad()
    return tmp_path / "lab"


def test_names_are_words_and_never_markup(hostile: Path) -> None:
    with Lab(hostile) as lab:
        contents = gather(lab, "one", measures=("free-airflow",), date="2026-03-01")
        files = write_account(contents, hostile / "documents", silent)
        sentences = account_of(contents).sentences
    page = files[0].read_text(encoding="utf-8")
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)" in page
    assert any("\u2068שלום\u2069" in each.text for each in sentences), "it doesn't turn the sentence"


@pytest.mark.parametrize(
    ("after", "words"),
    [
        (True, ", after a ranking with it had been kept."),
        (False, ", before any ranking with it."),
        (None, "2026-03-02."),
    ],
)
def test_an_exclusion_after_a_ranking_is_said(hostile: Path, after: bool | None, words: str) -> None:
    with Lab(hostile) as lab:
        whole = worked_out(lab)
        run = next(iter(open_book(lab).taken.values())).run
        decision = Decision(finding="1", rule="29", subject=f"run:{run}", key="k", action="exclude", reason="a leak.",
                            by="A. M.", time="2026-03-02T10:00:00", after_ranking=after)  # fmt: skip
        said = list(excluded_sentences([decision], whole.book, whole.graph))
    assert said[0].text.endswith(words)
    assert "“a leak”, by A. M. on 2026-03-02" in said[0].text
    assert said[0].fans == ("<script>alert(1)</script>",)
