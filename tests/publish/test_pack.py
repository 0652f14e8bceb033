"""The chart pack: which charts belong and why, ten bars by one rule, drawn once for what they show, listed with all."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from pack_reading import grown

from stillroom.charts.layout import Layout
from stillroom.charts.series import Bar, RankedBars
from stillroom.lab.executor import silent
from stillroom.lab.pictures.kinds import Kind
from stillroom.publish.contents import Contents
from stillroom.publish.pack import drawing, kept, ranked
from stillroom.publish.pack.belonging import Belongs, belonging
from stillroom.publish.pack.choosing import chosen
from stillroom.publish.pack.writing import Drawn, digest_of, draw_pack, write_pack

NAMES = tuple("ABCDEFGHIJKLMNOPQRSTUVWXY")


def charts(fans: int = 3, *, changed: str = "", footer: str = "lab · 2026-11-25") -> list[Belongs]:
    """Two charts of bars: one of all fans, one without the first; `changed` has another value."""

    def bar(name: str) -> Bar:
        value = 40.0 - ord(name) / 10 + (0.25 if name == changed else 0.0)
        return Bar(name, value, value - 1.0, value + 1.0)

    made = []
    for stem, names in (("all", NAMES[:fans]), ("others", NAMES[1:fans])):
        chart = RankedBars("A leads", "m³/h", "longer is better", footer, "m³/h", tuple(map(bar, names)))
        pages = {Layout.ARTICLE: chart, Layout.WIDE: chart}
        made.append(Belongs(stem, Kind.BARS, "a test", stem, "Airflow", pages, chart))
    return made


def packed(lab: Path, made: list[Belongs], folder: Path) -> Drawn:
    folder.mkdir()
    return draw_pack(lab, made, folder, silent, 1, reveal=False)


# --- the rule -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("best", "fan", "shown", "left", "words"),
    [
        ("AB", "", "ABCDEFGHIJ", 0, "the two that may be the best and the next in order"),
        ("A", "T", "ABCDEFGHIT", 0, "T, the best and the next in order"),
        ("ACL", "T", "ABCDEFGHLT", 0, "T, the three that may be the best and the next in order"),
        ("ABCDEFGHIJKL", "", "ABCDEFGHIJ", 2, "the first of the twelve that may be the best. Not shown: two"),
        (
            "ABCDEFGHIJKL",
            "T",
            "ABCDEFGHIT",
            3,
            "T and the first of the twelve that may be the best. Not shown: three",
        ),
        (
            "ABCDEFGHIJKL",
            "L",
            "ABCDEFGHIL",
            2,
            "the first of the twelve that may be the best. Not shown: two",
        ),
    ],
)
def test_ten_fans_are_chosen_by_the_rule(best: str, fan: str, shown: str, left: int, words: str) -> None:
    choice = chosen(NAMES, tuple(best), fan, 10)
    assert "".join(choice.names) == shown
    assert choice.best_left == left
    assert words in choice.words
    assert choice.words.startswith("Shown are 10 of 25 fans: ")


def test_where_every_fan_has_room_nothing_is_said() -> None:
    assert chosen(NAMES[:10], ("A",), "J", 10).words == ""
    assert chosen(NAMES[:3], (), "Z", 10).fan == ""


def test_a_page_of_ten_tells_the_whole_rankings_finding(gathered: Contents) -> None:
    one = gathered.published[0]
    whole = dataclasses.replace(one, ranking=grown(one.ranking, NAMES, 12))
    few, note = ranked.bars(dataclasses.replace(gathered, highlight="T"), whole, 10)
    many, nothing = ranked.bars(dataclasses.replace(gathered, highlight="T"), whole, 30)
    assert few.title == many.title
    assert "twelve fans" in few.title
    assert [each.label for each in few.bars] == list("ABCDEFGHIT")
    assert [each.label for each in few.bars if each.accent] == ["T"]
    assert note in few.notes
    assert note in few.alt
    assert nothing == ""
    assert len(many.bars) == 25


# --- which charts -------------------------------------------------------------------------------------------


def test_every_published_ranking_has_its_bars_and_each_chart_its_reason(gathered: Contents) -> None:
    found, missing = belonging(gathered)
    names = [each.name for each in found]
    assert len(set(names)) == len(names)
    assert [each.name for each in found if each.kind is Kind.BARS] == [
        each.slug for each in gathered.published
    ]
    assert all(each.why for each in found)
    kinds = {each.kind for each in found} | {each.kind for each in missing}
    assert kinds >= {Kind.MULTIPLES, Kind.TRADEOFF, Kind.CLAIMS, Kind.OBSTACLES, Kind.CURVES, Kind.LEVELS,
                     Kind.RESPONSE, Kind.SETTLING}  # fmt: skip
    for each in found:
        assert each.whole.footer.count(gathered.date) == 1, each.name
        assert f"release {gathered.name}" in each.whole.footer


def test_what_cannot_be_drawn_is_listed_with_why(gathered: Contents) -> None:
    found, missing = belonging(
        dataclasses.replace(gathered, published=gathered.published[:1], highlight="Nobody")
    )
    told = {each.kind: each.why for each in missing}
    assert {Kind.CURVES, Kind.LEVELS, Kind.RESPONSE, Kind.SETTLING} <= set(told)
    assert "Nobody" in told[Kind.CURVES]
    assert [each.kind for each in found if each.kind is Kind.BARS] == [Kind.BARS]


def test_the_list_tells_each_chart_and_its_files(gathered: Contents, tmp_path: Path) -> None:
    few = dataclasses.replace(gathered, published=gathered.published[:1], claims=(), highlight="")
    files = write_pack(few, tmp_path, silent, 1)
    told = json.loads((tmp_path / "charts.json").read_text(encoding="utf-8"))
    listed = [name for each in told["charts"] for name in each["files"]]
    listed += [name for each in told["charts"] if each["reveal"] for name in each["reveal"]["files"]]
    assert sorted([*listed, "charts.json"]) == sorted(each.relative_to(tmp_path).as_posix() for each in files)
    assert sorted(files) == sorted(each for each in tmp_path.rglob("*") if each.is_file())
    first, slug = told["charts"][0], few.published[0].slug
    assert (first["slug"], first["kind"]) == (slug, "bars")
    fans = [each.fan for each in few.published[0].ranking.standings]
    assert first["reveal"]["fans"][::-1][: len(fans)] == fans
    rows = list(csv.reader(io.StringIO((tmp_path / f"{slug}.csv").read_text(encoding="utf-8"))))
    assert [each[0] for each in rows[1 : len(fans) + 1]] == fans
    assert (tmp_path / f"{slug}.txt").read_text(encoding="utf-8").strip() == first["alt"]


# --- drawn once ---------------------------------------------------------------------------------------------


def test_what_is_kept_is_not_drawn_again_and_has_the_same_bytes(tmp_path: Path) -> None:
    first = packed(tmp_path / "lab", charts(), tmp_path / "one")
    again = packed(tmp_path / "lab", charts(), tmp_path / "two")
    elsewhere = packed(tmp_path / "other", charts(), tmp_path / "three")
    assert (first.drawn, again.drawn, elsewhere.drawn) == (4, 0, 4)
    for made in (again, elsewhere):
        for one, other in zip(first.files, made.files, strict=True):
            assert one.name == other.name
            assert one.read_bytes() == other.read_bytes()


def test_with_one_fan_changed_only_the_charts_that_show_it_are_drawn(tmp_path: Path) -> None:
    packed(tmp_path / "lab", charts(), tmp_path / "one")
    assert packed(tmp_path / "lab", charts(changed="A"), tmp_path / "two").drawn == 2
    assert packed(tmp_path / "lab", charts(changed="B"), tmp_path / "three").drawn == 4


def test_a_damaged_bundle_counts_as_not_there(tmp_path: Path) -> None:
    packed(tmp_path / "lab", charts(), tmp_path / "one")
    bundle = sorted((tmp_path / "lab").rglob(f"*{kept.ENDING}"))[0]
    whole = bundle.read_bytes()
    for torn in (whole[:-1], whole[:40] + b"?" + whole[41:], b""):
        bundle.write_bytes(torn)
        assert kept.kept(bundle) is None
    assert packed(tmp_path / "lab", charts(), tmp_path / "two").drawn == 1
    assert bundle.read_bytes() == whole
    assert not list((tmp_path / "lab").rglob("*.part"))


def test_a_drawing_that_is_interrupted_keeps_what_is_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls = []

    def stopped(task: drawing.Task) -> tuple[Path, str]:
        if len(calls) == 2:
            raise KeyboardInterrupt
        calls.append(task)
        return drawing.draw_task(task)

    monkeypatch.setattr("stillroom.publish.pack.writing.draw_task", stopped)
    with pytest.raises(KeyboardInterrupt):
        packed(tmp_path / "lab", charts(), tmp_path / "one")
    monkeypatch.undo()
    assert packed(tmp_path / "lab", charts(), tmp_path / "two").drawn == 2


def test_a_key_tells_any_digit_any_word_and_the_page_apart() -> None:
    one = charts()[0].whole
    other = dataclasses.replace(
        one, bars=(dataclasses.replace(one.bars[0], value=one.bars[0].value + 1e-14), *one.bars[1:])
    )
    keys = {
        kept.key_of("a", one),
        kept.key_of("b", one),
        kept.key_of("a", other),
        kept.key_of("a", one, "asked"),
    }
    assert len(keys) == 4
    assert kept.key_of("a", charts()[0].whole) == kept.key_of("a", one)
    with pytest.raises(TypeError):
        kept.plain(object())


def test_the_digest_moves_with_what_is_shown_and_not_with_the_day() -> None:
    one = charts()[0].whole
    later, moved = charts(footer="lab · 2027-01-01")[0].whole, charts(changed="A")[0].whole
    assert digest_of(one) == digest_of(later)
    assert digest_of(one) != digest_of(moved)


def test_a_page_that_cannot_hold_a_chart_is_left_out(tmp_path: Path) -> None:
    made = packed(tmp_path / "lab", charts(25), tmp_path / "one")
    assert {each.name for each in made.files if "wide" in each.name} == set()
    assert "all.html" in {each.name for each in made.files}


def test_progress_is_told(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    seen: Callable[[str, int, int], None] = lambda _what, done, whole: told.append((done, whole))  # noqa: E731
    (tmp_path / "one").mkdir()
    draw_pack(tmp_path / "lab", charts()[:1], tmp_path / "one", seen, 1, reveal=False)
    assert told == [(0, 2), (1, 2), (2, 2)]
