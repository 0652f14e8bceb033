"""Every published number equals the one worked out anew, to its last printed digit; an altered one is found."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import number_walk
import openpyxl
import pytest
from document_examples import DRAWING
from number_walk import WALKS, pdf_text

from stillroom.charts.layout import Layout
from stillroom.lab.executor import silent
from stillroom.publish.account import account_of, write_account
from stillroom.publish.contents import Contents, gather
from stillroom.publish.data.writing import write_open_data
from stillroom.publish.fan_card import card_files, card_of, set_card
from stillroom.publish.methodology.writing import write_methodology
from stillroom.publish.pack.belonging import belonging
from stillroom.publish.pack.writing import draw_pack
from stillroom.publish.page.fan_files import FanFiles
from stillroom.publish.page.writing import as_script
from stillroom.publish.review import write_review
from stillroom.publish.tables.writing import write_standings
from stillroom.store.lab import Lab

MEASURES = ("airflow through rad27 at 35 dBA", "heat at 30 dBA", "free-power", "start-duty")
CARDS = ("Sedge", "Bracken")


def _gathered(lab: Lab) -> Contents:
    return gather(lab, "walked", highlight="Sedge", question="Which?", measures=MEASURES, date="2026-03-04")


@pytest.fixture(scope="module")
def labs(
    published_lab: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[Contents, Contents]]:
    """What is published, and the same worked out anew in a copy from which all curves and levels were deleted."""
    place = tmp_path_factory.mktemp("walk")
    with Lab(Path(shutil.copytree(published_lab, place / "lab"))) as lab:
        contents = _gathered(lab)
        anew = Path(shutil.copytree(published_lab, place / "anew"))
        shutil.rmtree(anew / "cache")
        (anew / "cache").mkdir()
        with Lab(anew) as other:
            yield contents, _gathered(other)


@pytest.fixture(scope="module")
def folder(labs: tuple[Contents, Contents], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The files of a release that hold numbers, by the makers of a release; of charts the article's pictures."""
    contents, place = labs[0], tmp_path_factory.mktemp("release")
    charts, documents, fans = place / "charts", place / "documents", place / "page" / "fans"
    for each in (charts, documents, fans):
        each.mkdir(parents=True)
    write_standings(contents, place / "standings", silent)
    write_open_data(contents, place / "data", silent)
    told = [
        replace(each, pages={Layout.ARTICLE: each.pages[Layout.ARTICLE]}) for each in belonging(contents)[0]
    ]
    draw_pack(contents.lab.path, told, charts, silent, 1, reveal=False)
    write_account(contents, documents, silent)
    write_methodology(contents, documents, silent)
    names = card_files(contents.fans)
    for fan in CARDS:
        set_card(documents, card_of(contents, fan, names[fan]))
    _with_drawings(contents, [each.name for each in told], documents)
    made = FanFiles(contents, account_of(contents))
    for index, fan in enumerate(CARDS):
        (fans / f"{index}.js").write_text(
            f"stillroomFan({index}, {as_script(made.of(fan))});\n", encoding="utf-8"
        )
    return place


def _with_drawings(contents: Contents, names: list[str], documents: Path) -> None:
    """The review with a small drawing in place of each chart: setting them takes long, and they are walked as files."""
    beside = documents.parent.parent / "drawn"
    (beside / "charts").mkdir(parents=True)
    (beside / "documents").mkdir()
    for each in names:
        (beside / "charts" / f"{each}-article-light.svg").write_text(DRAWING, encoding="utf-8")
    write_review(contents, beside / "documents", silent)
    shutil.copy(beside / "documents" / "review.pdf", documents / "review.pdf")


@pytest.mark.slow
@pytest.mark.parametrize("name", WALKS)
def test_every_number_is_the_one_worked_out_anew(
    name: str, folder: Path, labs: tuple[Contents, Contents]
) -> None:
    assert list(WALKS[name](folder, labs[1])) == []


# --- an altered number is found -----------------------------------------------------------------------------


def _number_before(text: str, after: str) -> str:
    """The text with the last digit changed of the first number after some words."""
    begin = text.index(after) + len(after)
    hit = re.compile(r"\d+(?:\.\d+)?").search(text, begin)
    assert hit, f"no number after {after!r}"
    last = hit.end() - 1
    return text[:last] + str((int(text[last]) + 3) % 10) + text[last + 1 :]


def _in_text(path: str, after: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        file = folder / path
        file.write_text(_number_before(file.read_text(encoding="utf-8"), after), encoding="utf-8", newline="")

    return change


def _in_pdf(name: str, after: str) -> Callable[[Path], None]:
    def change(folder: Path) -> None:
        path = folder / "documents" / name
        path.with_suffix(".words").write_text(_number_before(pdf_text(path), after), encoding="utf-8")

    return change


def _in_workbook(folder: Path) -> None:
    path = folder / "standings" / "standings.xlsx"
    book = openpyxl.load_workbook(path)
    cell = next(each for each in book.worksheets[1][3] if isinstance(each.value, float))
    cell.value = round(cell.value + 0.1, 3)
    book.save(path)


AIRFLOW = "airflow-through-rad27-at-35-dba"
ALTERED: dict[str, Callable[[Path], None]] = {
    "tables": _in_text(f"standings/{AIRFLOW}.csv", "too close to call,"),
    "json": _in_text("standings/heat-at-30-dba.json", '"low": '),
    "workbook": _in_workbook,
    "open data": _in_text("data/standings.csv", "too close to call,"),
    "claims": _in_text("data/claims.csv", '± 10 %",10.0,'),
    "tables of bars": _in_text(f"charts/{AIRFLOW}.csv", "Bilberry,,"),
    "pictures of bars": _in_text("charts/heat-at-30-dba-article-dark.svg", ">15."),
    "tables of other charts": _in_text("charts/obstacles.csv", "fitted,"),
    "cards": _in_pdf("fan-sedge.pdf", "Electrical power at free delivery "),
    "account": _in_text("documents/account.txt", "has the best value, "),
    "review": _in_pdf("review.pdf", "fans by airflow through rad27 at 35 dBA, with "),
    "methodology": _in_pdf("methodology.pdf", "Barometric pressure barometer "),
    "page": _in_text("page/fans/0.js", '"value":'),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", WALKS)
def test_an_altered_number_is_found(
    name: str, folder: Path, labs: tuple[Contents, Contents], tmp_path: Path
) -> None:
    own = Path(shutil.copytree(folder, tmp_path / "own"))
    ALTERED[name](own)
    assert list(WALKS[name](own, labs[1])), f"a number of {name} was altered and nobody saw it"


def test_the_walk_prints_by_a_rule_of_its_own() -> None:
    """JCGM 100:2008, 7.2.6, by hand: two digits below 30, else one."""
    assert [number_walk.places(each) for each in (7.4, 2.35, 0.96, 0.0996, 250.0, 9.96)] == [
        0,
        1,
        1,
        2,
        -1,
        0,
    ]
    assert number_walk.interval_words(71.26, 60.1, 74.9, "m³/h") == "71 m³/h (60 to 75)"
    assert number_walk.printed(-0.04, 1) in {"−0.0", "0.0"}
