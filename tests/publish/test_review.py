"""The review: the account's sentences, the release's charts, and where the rest is; nothing of its own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from document_examples import DRAWING
from pypdf import PdfReader
from test_documents_pdf import elements, words
from test_fan_card import flat

from stillroom.lab.executor import silent
from stillroom.publish.account import Kind, account_of
from stillroom.publish.contents import Contents
from stillroom.publish.document import Callout, CalloutKind, Document, Figure, Heading
from stillroom.publish.document.as_text import as_text
from stillroom.publish.methodology.plain import TITLE
from stillroom.publish.pack.belonging import belonging
from stillroom.publish.review import FINDINGS, PLACES, answer, review_of, write_review


@pytest.fixture(scope="module")
def release(gathered: Contents, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A release's folder with a small drawing in place of each chart of its pack."""
    place = tmp_path_factory.mktemp("release")
    (place / "charts").mkdir()
    for each in belonging(gathered)[0]:
        (place / "charts" / f"{each.name}-article-light.svg").write_text(DRAWING, encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def document(gathered: Contents, release: Path) -> Document:
    return review_of(gathered, release / "charts")


def test_the_review_asks_and_answers_in_the_accounts_words(gathered: Contents, document: Document) -> None:
    account = account_of(gathered)
    said = answer(gathered, account)
    assert said == account.of(gathered.published[0].slug, Kind.PLACE)[0].text
    text = flat(as_text(document))
    assert f"Question: {gathered.question}" in text
    assert f"Answer: {flat(said)}" in text
    whole = replace(gathered, highlight="")
    by_best = answer(whole, account_of(whole))
    assert by_best in [each.text for each in account_of(whole).of(gathered.published[0].slug, Kind.BEST)]


def test_the_answer_is_of_the_first_measure_that_ranks_the_fan(gathered: Contents) -> None:
    assert answer(replace(gathered, published=()), account_of(replace(gathered, published=()))) == (
        "Nothing that was measured could be ranked."
    )


def test_every_finding_and_every_sentence_on_the_fan_is_in_it(gathered: Contents, document: Document) -> None:
    text = flat(as_text(document))
    account = account_of(gathered)
    for one in gathered.published:
        for each in (*account.of(one.slug, *FINDINGS, Kind.PLACE), *account.of(one.slug, Kind.REGISTERED)):
            assert flat(each.text) in text
    for each in account.about(gathered.highlight):
        if each.kind is not Kind.CLAIM:
            assert flat(each.text) in text
    for check in gathered.claims:
        if check.claim.fan == gathered.highlight:
            assert flat(check.words) in text


def test_the_charts_are_those_of_the_release(gathered: Contents, document: Document) -> None:
    figures = [each for each in document.blocks if isinstance(each, Figure)]
    charts, _ = belonging(gathered)
    assert {each.svg for each in figures} == {DRAWING}
    shown = {each.alt for each in figures}
    assert {each.pages[next(iter(each.pages))].alt for each in charts if each.slug} <= shown
    assert len(figures) == len([each for each in charts if each.name != "obstacles"])


def test_the_pdf_carries_its_marks_and_is_the_same_each_time(gathered: Contents, release: Path) -> None:
    (made,) = write_review(gathered, release / "documents", silent)
    first = made.read_bytes()
    assert write_review(gathered, release / "documents", silent) == [made]
    assert made.read_bytes() == first
    read = PdfReader(made)
    assert read.metadata is not None
    assert read.metadata.title == "Review of Sedge"
    assert "<pdfuaid:part>1</pdfuaid:part>" in read.trailer["/Root"]["/Metadata"].get_data().decode()
    figures = [each for each in elements(read) if each["/S"] == "/Figure"]
    assert figures
    assert all(str(each.get("/Alt", "")).strip() for each in figures)
    said = flat(words(read))
    assert TITLE in said
    for one in gathered.published:
        assert flat(one.title) in said
    for place, _ in PLACES:
        assert place in said


def test_accepted_findings_stand_with_their_reasons(gathered: Contents, document: Document) -> None:
    told = [
        each for each in document.blocks if isinstance(each, Callout) and each.kind is CalloutKind.ACCEPTED
    ]
    assert len(told) == len(gathered.accepted)


def test_a_review_of_the_round_draws_its_charts_where_there_is_no_pack(
    gathered: Contents, tmp_path: Path
) -> None:
    few = replace(gathered, published=gathered.published[:1], highlight="", claims=(), question="")
    document = review_of(few, tmp_path / "charts")
    assert document.title == "Review of spring 2026"
    figures = [each for each in document.blocks if isinstance(each, Figure)]
    assert figures
    assert all("<svg" in each.svg for each in figures)
    heads = [each.text for each in document.blocks if isinstance(each, Heading)]
    assert not [each for each in heads if each.startswith("More about")]
    assert "No question was written down" in as_text(document)
