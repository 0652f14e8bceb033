"""Words of charts from a lab: versions as they are read out, marks that must be seen, claims in few words."""

from __future__ import annotations

import dataclasses

import pytest

from stillroom.core.claims import ClaimVerdict
from stillroom.demo.truth import Truth
from stillroom.lab.book import Book, open_book
from stillroom.lab.claims import check_claims
from stillroom.lab.eras.bridges import BRIDGED, ERA_LEFT_OUT, Bridging
from stillroom.lab.eras.control_charts import ChartEvent
from stillroom.lab.field import Asked
from stillroom.lab.pictures.claim_pictures import claim_chart
from stillroom.lab.pictures.condition_words import through_phrase
from stillroom.lab.pictures.control_picture import _events
from stillroom.lab.pictures.obstacle_pictures import measured_obstacles, obstacle_curves
from stillroom.lab.pictures.picture_words import described, short_name, versions_in_words
from stillroom.lab.pictures.pictures import bar_of, bars, condition_words
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph, build_graph
from stillroom.measures import Condition, measure_named
from stillroom.records.bench import Obstacle
from stillroom.store.lab import Lab

Opened = tuple[Lab, Book, Graph]


@pytest.fixture(scope="module")
def opened(sound: tuple[Lab, Truth]) -> Opened:
    lab, _ = sound
    book = open_book(lab)
    return lab, book, build_graph(book)


def spaced(words: str) -> str:
    return words.replace("\u00a0", " ")


def test_versions_are_said_in_words(opened: Opened) -> None:
    _, book, _ = opened
    told = [Obstacle(obstacle="rad27", version=each, description="radiator, 27 mm thick") for each in "12"]
    book = dataclasses.replace(book, obstacles=dict(book.obstacles) | {each.name: each for each in told})
    assert spaced(described(book, "rad27@2")) == "rad27 version 2 (radiator, 27 mm thick)"
    assert spaced(short_name(book, "rad27@1 + mesh@1")) == "rad27 version 1 + mesh"
    assert spaced(versions_in_words("dust filter@3 + rad27@2")) == "dust filter version 3 + rad27 version 2"
    assert versions_in_words("20 Pa at 60 m³/h") == "20 Pa at 60 m³/h"


def test_the_version_of_an_obstacle_is_said_where_there_are_several(opened: Opened) -> None:
    _, book, _ = opened
    told = {"obstacle": "rad27@1", "speed": None}
    assert through_phrase(told, book) == "through rad27"
    assert spaced(through_phrase(told)) == "through rad27 version 1"
    two = [Obstacle(obstacle="rad27", version=each) for each in "12"]
    both = dataclasses.replace(book, obstacles=dict(book.obstacles) | {each.name: each for each in two})
    assert spaced(through_phrase(told, both)) == "through rad27 version 1"
    assert through_phrase({"obstacle": None, "speed": None}, book) == ""


def test_one_obstacle_is_called_by_its_name_whatever_it_is_described_as(opened: Opened) -> None:
    lab, book, graph = opened
    for said, words in (("radiator, 27 mm thick", "rad27 (radiator, 27 mm thick)"), (None, "rad27")):
        record = Obstacle(obstacle="rad27", version="1", description=said)
        known = dataclasses.replace(book, obstacles=dict(book.obstacles) | {record.name: record})
        picture, _ = obstacle_curves(lab, known, graph, ("rad27",))
        assert spaced(picture.title).startswith(f"How {words} resists the air: Δp = ")
        assert picture.curves[0].label == words


def test_a_ranking_says_what_it_goes_through_in_words(opened: Opened) -> None:
    lab, book, graph = opened
    ask = Asked(measure_named("airflow"), Condition(obstacle="rad27"))
    found = rank_fans(lab, book, graph, ask)
    told = dict(found.conditions) | {"obstacle": "rad27@2+mesh", "through": "rad27@2 + mesh@1"}
    said = spaced(condition_words(dataclasses.replace(found, conditions=told)))
    assert said == "Through rad27 version 2 + mesh version 1 at full speed"
    assert condition_words(found) == "Through rad27 at full speed"


def test_marks_of_eras_stand_at_the_bar_and_are_explained(opened: Opened) -> None:
    lab, book, graph = opened
    ask = Asked(measure_named("airflow"), Condition(obstacle="rad27"))
    found = rank_fans(lab, book, graph, ask)
    first, second, *rest = found.standings
    marked = dataclasses.replace(first, marks=(*first.marks, BRIDGED, "fan not described"))
    other = dataclasses.replace(second, marks=(*second.marks, ERA_LEFT_OUT))
    assert bar_of(marked, found).note.endswith("bridged")
    assert bar_of(other, found).note.endswith("another era left out")
    seen = dataclasses.replace(found, standings=(marked, other, *rest))
    picture, _ = bars(lab.settings, seen, ask.measure, "", 10)
    assert [each.split(":")[0] for each in picture.notes] == ["Bridged", "Another era left out"]
    plain = dataclasses.replace(
        found, standings=tuple(dataclasses.replace(each, marks=()) for each in seen.standings)
    )
    assert bars(lab.settings, plain, ask.measure, "", 10)[0].notes == ()
    # The words are those that a ranking's bridges yield.
    node = graph.mountings()[0]
    assert list(Bridging(unbridged={node.subject: "why"}).said_of([node])) == [ERA_LEFT_OUT]


def test_claims_in_words_hold_the_counts_what_is_off_and_the_fan_under_review(opened: Opened) -> None:
    lab, book, graph = opened
    checks = check_claims(lab, book, graph)
    fan = checks[0].claim.fan
    off = [each for each in checks if each.verdict in (ClaimVerdict.OUTSIDE, ClaimVerdict.WITHIN_UNCERTAINTY)]
    assert len(off) < len(checks) - 4
    plain, _ = claim_chart(book, checks)
    assert plain.alt.count(": box ") == len(off)
    assert (
        f"{sum(each.verdict is ClaimVerdict.WITHIN_TOLERANCE for each in checks)} within tolerance"
        in plain.alt
    )
    reviewed, _ = claim_chart(book, checks, fan)
    told = {each.claim.name for each in checks if each.claim.fan == fan} | {each.claim.name for each in off}
    assert reviewed.alt.count(": box ") == len(told)
    assert len(plain.rows) == len(checks)


def test_obstacles_are_the_references_where_none_is_named(opened: Opened) -> None:
    lab, book, graph = opened
    some = dataclasses.replace(
        book, settings=dataclasses.replace(book.settings, references=("mesh", "dense"))
    )
    picture, _ = obstacle_curves(lab, some, graph, ())
    assert [each.short for each in picture.curves] == ["mesh", "dense"]
    left = len(measured_obstacles(graph)) - 2
    assert picture.subtitle.endswith(f"; {left} more not shown")
    named, _ = obstacle_curves(lab, some, graph, ("rad27",))
    assert "not shown" not in named.subtitle


def test_events_of_obstacles_stay_off_the_rigs_chart(opened: Opened) -> None:
    _, book, _ = opened
    events = (
        ChartEvent("2026-11-03T08:30", "zeros taken", new_era=False),
        ChartEvent("2026-11-04T16:10", "Rad27 leaked, a new one put in its place", new_era=False),
        ChartEvent("2026-11-05", "chamber led through mesh from now on", new_era=True),
    )

    class Chart:
        dates = ("2026-11-03",)

    Chart.events = events  # type: ignore[attr-defined]
    shown, notes = _events(book, Chart)  # type: ignore[arg-type]
    assert [each.time for each in shown] == ["2026-11-03T08:30", "2026-11-05"]
    assert notes == ["One event at an obstacle not drawn."]
