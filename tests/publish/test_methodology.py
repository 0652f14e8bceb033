"""The methodology of the demo lab: each part true, its numbers from the lab alone, and what changed told in words."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from stillroom import wording
from stillroom.compare.standing import BridgeNote
from stillroom.lab.exclusions import excluded_by_maker
from stillroom.lab.purposes import Purpose
from stillroom.lab.registering import Registered
from stillroom.publish.contents import Contents, Published, gather
from stillroom.publish.document import Block, Bullets, Document, Grid, Heading, Paragraph, plain
from stillroom.publish.document.as_data import as_data
from stillroom.publish.document.as_text import as_text
from stillroom.publish.methodology import changes_between, changes_since, methodology_of, write_methodology
from stillroom.publish.methodology.facts import Facts
from stillroom.publish.methodology.lines import lines_of
from stillroom.publish.methodology.versions_used import FOLLOWING
from stillroom.records.acts import Decision
from stillroom.records.fields import as_json
from stillroom.records.limits import Limits
from stillroom.records.products import Legacy
from stillroom.store import results
from stillroom.store.lab import Lab

MEASURES = ("airflow through rad27 at 35 dBA", "free-airflow", "heat at 30 dBA", "start-duty")


@pytest.fixture(scope="module")
def contents(published_lab: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Contents]:
    folder = Path(shutil.copytree(published_lab, tmp_path_factory.mktemp("methodology") / "lab"))
    with Lab(folder) as lab:
        yield gather(lab, "autumn", date="2026-11-27", measures=MEASURES)


@pytest.fixture(scope="module")
def document(contents: Contents) -> Document:
    return methodology_of(contents)


def with_book(contents: Contents, **changed: Any) -> Contents:
    """The contents as if the lab's records were others."""
    return replace(contents, whole=contents.whole._replace(book=replace(contents.book, **changed)))


def part(document: Document, *headings: str) -> list[Block]:
    """The blocks under a heading, down to the next of its level or above."""
    found: list[Block] = []
    level = 0
    wanted = list(headings)
    for block in document.blocks:
        if isinstance(block, Heading):
            if level and block.level <= level:
                break
            if not level and wanted and block.text == wanted[0]:
                wanted.pop(0)
                level = 0 if wanted else block.level
                continue
        if level:
            found.append(block)
    assert found, headings
    return found


def words_of(blocks: list[Block]) -> str:
    return as_text(
        Document("x", "", "2026-11-27", tuple(each for each in blocks if not isinstance(each, Heading)))
    )


def grid(document: Document, caption: str) -> Grid:
    return next(each for each in document.blocks if isinstance(each, Grid) and each.caption == caption)


def cells(found: Grid) -> list[list[str]]:
    return [[plain(cell) for cell in row] for row in found.rows]


# --- in plain words ------------------------------------------------------------------------------------------


def test_the_half_page_tells_a_buyer_what_was_measured(contents: Contents, document: Document) -> None:
    first = next(each for each in document.blocks if isinstance(each, Heading))
    assert first.text == "In plain words"
    said = " ".join(words_of(part(document, "In plain words")).split())
    facts = Facts(contents)
    samples = sum(map(len, facts.samples.values()))
    assert (
        f"We measured {wording.plural(len(facts.fans), 'fan')}, {wording.plural(samples, 'sample')}" in said
    )
    assert "how loud they are" in said
    assert "35 dBA at 0.5 m" in said.replace("\u00a0", " ")
    in_time = sum(each.registered is not None for each in contents.published)
    assert (
        f"For {in_time} of 4 comparisons we wrote this down before the data came in; for {4 - in_time} there"
        in said
    )


def test_the_half_page_tells_when_the_margins_were_written_down(contents: Contents) -> None:
    margin = contents.published[0].ranking.margin
    before = Registered("one", "", "", 5, "2026-11-01T10:00:00", 3, (), (), "5 %", margin, margin)
    in_time, late = replace(before, earlier=("Sedge",)), replace(before, late=("Sedge",))
    unsized = replace(before, margin_told="", margin=None)
    count = len(contents.published)

    def said(*registered: Registered | None) -> str:
        told = [registered[min(at, len(registered) - 1)] for at in range(count)]
        published = [
            replace(each, registered=one) for each, one in zip(contents.published, told, strict=True)
        ]
        document = methodology_of(replace(contents, published=tuple(published)))
        return " ".join(words_of(part(document, "In plain words")).split())

    no_record = "There is no record that we fixed these sizes before we measured."
    assert "We fixed these sizes before we measured." in said(before)
    assert "We wrote these sizes down before the data came in." in said(in_time)
    for none in (late, unsized, None):
        assert no_record in said(none)
    mixed = said(before, in_time, late)
    assert f"For 1 of {count} comparisons we fixed this before we measured; for 1 we wrote this down" in mixed
    assert f"came in; for {count - 2} there is no record that we did." in mixed
    assert "not proven to be equal, and the order among them tells you nothing." in mixed


def test_the_half_page_is_half_a_page_without_jargon(document: Document) -> None:
    said = words_of(part(document, "In plain words"))
    assert 150 <= len(said.split()) <= 340
    sentences = re.split(r"(?<=[.:;])\s", said)
    assert max(len(each.split()) for each in sentences) <= 34
    for jargon in (
        "Monte Carlo",
        "coverage",
        "calibration",
        "Reynolds",
        "variance",
        "trial",
        "TOST",
        "σ",
        "95 %",
    ):
        assert jargon not in said


def test_single_samples_are_named(contents: Contents, document: Document) -> None:
    single = sorted(fan for fan, own in Facts(contents).samples.items() if len(own) == 1)
    assert single
    assert wording.listed(single) in " ".join(words_of(part(document, "In plain words")).split())


def test_measures_that_were_fixed_before_the_data_say_so(contents: Contents) -> None:
    def registered(each: Published, *, with_margin: bool = True) -> Published:
        margin = each.ranking.margin
        before = Registered(
            round="autumn", question="", note="", sequence=3, time="2026-10-01T09:00:00+00:00", fans=6, late=(),
            earlier=(), margin_told="as used", margin=margin if with_margin else None, margin_own=margin,
        )  # fmt: skip
        return replace(each, registered=before)

    all_ = methodology_of(replace(contents, published=tuple(map(registered, contents.published))))
    assert "We fixed these sizes before we measured." in words_of(part(all_, "In plain words")).replace(
        "\n", " "
    )
    assert {row[4] for row in cells(grid(all_, "What is published"))} == {"on 2026-10-01 before its data"}
    first, *others = contents.published
    bare = methodology_of(replace(contents, published=(registered(first, with_margin=False), *others)))
    assert "no record that we fixed these sizes" in " ".join(words_of(part(bare, "In plain words")).split())
    assert f"{first.title}: no margin was registered." in " ".join(as_text(bare).split())
    some = methodology_of(replace(contents, published=(registered(first), *others)))
    said = " ".join(words_of(part(some, "In plain words")).split())
    assert f"For 1 of {len(contents.published)} comparisons" in said
    assert {row[4] for row in cells(grid(some, "What is published"))} == {
        "on 2026-10-01 before its data",
        "not registered",
    }


# --- records -------------------------------------------------------------------------------------------------


def test_every_sample_nozzle_and_calibration_stands_as_the_records_tell_it(
    contents: Contents, document: Document
) -> None:
    book, facts = contents.book, Facts(contents)
    samples = {row[0]: row for row in cells(grid(document, "Samples"))}
    assert set(samples) == {f"{fan}/{each}" for fan, own in facts.samples.items() for each in own}
    for name, row in samples.items():
        assert row[1:4] == [
            f"bought {book.samples[name].bought}",
            book.samples[name].shop,
            book.samples[name].lot,
        ]
    for name, bore, _, certificate in cells(grid(document, "Nozzles through which air was led")):
        record = book.nozzles[name]
        assert record.bore_u is not None
        told, _, u = bore.replace("\u00a0mm", "").partition(" ± ")
        assert (float(told) / 1000, float(u) / 1000) == pytest.approx((record.bore, record.bore_u), abs=5e-7)
        assert certificate == record.certificate
    for quantity, instrument, date, certificate, due, _ in cells(grid(document, "Instruments of chamber")):
        record = book.calibrations[f"{instrument}@{date}"]
        assert (certificate, due) == (record.certificate, record.due), quantity


def test_an_uncertainty_is_the_one_that_readings_were_understood_by(
    contents: Contents, document: Document
) -> None:
    rows = {row[1]: row[5] for row in cells(grid(document, "Instruments of heat-1"))}
    record = contents.book.instruments["heater-volts"]
    assert record.accuracy_relative is not None
    assert f"± {100 * record.accuracy_relative:g}\u00a0% of reading" in rows["heater-volts"]
    gauge = {row[1]: row[5] for row in cells(grid(document, "Instruments of chamber"))}["gauge-static"]
    told = contents.book.calibrations["gauge-static@2026-08-03"]
    assert f"offset {told.offset_u:g}\u00a0Pa" in gauge


def test_what_nobody_told_stands_as_not_told_and_never_blank(document: Document) -> None:
    for each in document.blocks:
        if isinstance(each, Grid) and each.caption not in ("Rigs with several eras",):
            blank = [row for row in cells(each) if not all(cell.strip() for cell in row)]
            assert blank == [], each.caption
    assert "not told" in {row[0]: row[1] for row in cells(grid(document, "heat-1"))}["Time constant"]


def test_obstacles_stand_with_their_resistance_and_its_uncertainty(
    contents: Contents, document: Document
) -> None:
    found = {row[0]: row for row in cells(grid(
        document, "Resistance of each obstacle, measured by itself, with standard uncertainties"))}  # fmt: skip
    for node in Facts(contents).obstacles:
        a, b = results.load_arrays(contents.lab.path, node.key)["central"]
        printed = re.search(r"a = ([\d.]+) ± ([\d.]+)", found[node.subject][2])
        assert printed is not None
        assert float(printed[1]) == pytest.approx(
            a / 3600.0, abs=0.6 * 10 ** -len(printed[1].partition(".")[2])
        )
        power = re.search(r"b = \(([\d.]+) ± ([\d.]+)\) · 10⁻(.)", found[node.subject][3])
        assert power is not None
        exponent = "⁰¹²³⁴⁵⁶⁷⁸⁹".index(power[3])
        assert float(power[1]) * 10.0**-exponent == pytest.approx(b / 3600.0**2, rel=0.01)


# --- steps ---------------------------------------------------------------------------------------------------


def test_only_steps_that_were_done_are_written(contents: Contents, document: Document) -> None:
    said = words_of(part(document, "From readings to results"))
    for done in ("Nozzle flow.", "Scale.", "Background.", "Ramps.", "Rise.", "Start attempts.", "Verdicts."):
        assert done in said
    assert "equation 7.19 (L/D 0.6)" in " ".join(said.split())
    assert "equation 7.20" not in said
    assert "Load-line" not in said
    assert "Loudness" not in said
    for method in {each.method for each in Facts(contents).nodes}:
        assert method in said


def test_the_budget_of_each_measure_is_that_of_its_leading_fans(
    contents: Contents, document: Document
) -> None:
    for each in contents.published:
        found = grid(document, each.title)
        assert list(found.headers[1:]) == [one.fan for one in each.ranking.standings if one.rank][:3]
        for column, fan in enumerate(found.headers[1:], start=1):
            key = next(one.key for one in each.ranking.standings if one.fan == fan)
            kept = results.get(contents.lab.database, key)
            assert kept is not None
            shares = kept.body["contributions"]
            samples = sum(share for name, share in shares.items() if name.startswith("sample/"))
            printed = {row[0]: row[column] for row in cells(found)}
            told = printed.get("samples standing for all of their kind", "under 1\u00a0%")
            assert told == (f"{100 * samples:.0f}\u00a0%" if samples >= 0.005 else "under 1\u00a0%")


# --- quality -------------------------------------------------------------------------------------------------


def test_each_exclusion_stands_with_its_reason_and_is_counted_for_its_maker(
    contents: Contents, document: Document
) -> None:
    rows = cells(grid(document, "Exclusions with their reasons"))
    assert len(rows) == len(contents.excluded) > 0
    for decision in contents.excluded:
        reason = " ".join(decision.reason.split())
        assert [f"rule {decision.rule}: {reason}"] == [row[1] for row in rows if row[1].endswith(reason)][:1]
    counts = excluded_by_maker(contents.book, contents.whole.graph)
    printed = {row[0]: row[1:4] for row in cells(grid(document, "Exclusions of each maker’s fans"))}
    for maker, found in counts.items():
        if found.of:
            assert printed[maker] == [str(found.decisions), str(found.runs), str(found.of)]
    assert sum(int(row[0]) for row in printed.values()) == len({each.subject for each in contents.excluded})


def test_findings_are_counted_rule_by_rule(contents: Contents, document: Document) -> None:
    printed = {
        int(row[0]): int(row[2]) for row in cells(grid(document, "Findings at the time of this release"))
    }
    found = [each.rule for each in contents.whole.found]
    assert printed == {rule: found.count(rule) for rule in found}


def test_an_accepted_finding_is_printed_with_its_reason(contents: Contents) -> None:
    finding = next(each for each in contents.whole.found if each.fans)
    accepted = Decision(
        finding=finding.id, rule=str(finding.rule), subject=finding.subject, key=finding.key, action="accept",
        reason="seen again with another gauge", by="A. M.", time="2026-11-26T10:00:00+00:00",
    )  # fmt: skip
    said = as_text(methodology_of(replace(contents, accepted=(accepted,))))
    assert "seen again with another gauge. Decided by A. M. on 2026-11-26." in " ".join(
        said.replace("\n! ", " ").split()
    )


def test_a_changed_threshold_appears_with_its_usual_value_and_in_the_difference(
    contents: Contents, document: Document
) -> None:
    settings = replace(contents.settings, limits=Limits(zero_drift=0.35, collapse=0.025))
    other = methodology_of(with_book(contents, settings=settings))
    rows = cells(grid(other, "Thresholds that differ from the usual ones"))
    assert ["26", "drift of a pressure zero over a run", "0.35 Pa", "0.2 Pa"] in rows
    assert ["29", "flow or pressure against the fan's one curve", "2.5 %", "3 %"] in rows
    said = as_text(changes_document(document, other))
    assert "0.35 Pa" in said
    assert "None: all rules have their usual thresholds." in " ".join(said.split())


# --- time ----------------------------------------------------------------------------------------------------


def test_legacy_numbers_stand_with_where_they_come_from(contents: Contents) -> None:
    old = Legacy(fan="Bracken", measure="airflow", value=48.5, unit="m³/h", low=46.0, high=51.0, obstacle="rad27",
                 date="2024-03-01", source="sheet of 2024")  # fmt: skip
    bare = Legacy(fan="Sedge", measure="airflow", value=61.25, unit="m³/h")
    found = methodology_of(with_book(contents, legacy={each.name: each for each in (old, bare)}))
    rows = [[cell.replace("\u00a0", " ") for cell in row] for row in cells(grid(found, "Legacy numbers"))]
    assert rows == [
        ["Bracken", "airflow", "48.5 m³/h", "46 to 51 m³/h", "through rad27 at full setting", "2024-03-01", "not told",
         "sheet of 2024"],
        ["Sedge", "airflow", "61.25 m³/h", "not told", "at full setting", "not told", "not told", "not told"],
    ]  # fmt: skip


def test_a_bridge_stands_with_what_it_rests_on(contents: Contents) -> None:
    note = BridgeNote("chamber", (1, 2), "'seal changed' (2026-11-24)", 1.0123, 1.0021, 1.0226, ("Sundew/s1",), (2, 1),
                      agree=True, key="0123456789ab")  # fmt: skip
    first, *others = contents.published
    ranking = replace(first.ranking, bridges=(note,))
    found = methodology_of(replace(contents, published=(replace(first, ranking=ranking), *others)))
    (row,) = cells(grid(found, "Bridges, with 95 % intervals"))
    assert row[:2] == [first.title, "chamber"]
    assert row[3:] == ["× 1.0123 (1.0021 to 1.0226)", "Sundew/s1: two mountings before, one after", "yes"]


def test_eras_stand_with_the_event_that_began_them(contents: Contents, document: Document) -> None:
    changes = [each for each in contents.book.events.values() if each.changes_results]
    rows = cells(grid(document, "Rigs with several eras"))
    assert [row[3] for row in rows if row[1] != "1"] == [each.text for each in changes]
    quiet = methodology_of(with_book(contents, events={}))
    assert "no event that can move results was written down" in " ".join(as_text(quiet).split())


def test_the_checks_by_a_reference_fan_are_counted(contents: Contents) -> None:
    settings = replace(contents.settings, reference_fan="Bracken")
    found = methodology_of(with_book(contents, settings=settings))
    rows = {row[0]: row for row in cells(grid(found, "Checks by the reference fan"))}
    sample = "s1"
    graph = contents.whole.graph
    bare = [each for each in graph.mountings("Bracken") if each.sample == sample and not each.obstacle]
    assert rows["chamber"][1] == str(len([each for each in bare if each.rig == "chamber"])) != "0"


def test_what_is_to_be_repeated_is_told(contents: Contents) -> None:
    finding = next(each for each in contents.whole.found if each.fans)
    repeat = Decision(
        finding=finding.id, rule=str(finding.rule), subject=finding.subject, key=finding.key, action="repeat",
        reason="the room was loud", by="A. M.", time="2026-11-26T10:00:00+00:00",
    )  # fmt: skip
    found = methodology_of(with_book(contents, decisions={**contents.book.decisions, finding.id: repeat}))
    said = " ".join(words_of(part(found, "Measurements to be repeated")).split())
    assert "the room was loud. Decided by A. M. on 2026-11-26." in said


# --- differences ---------------------------------------------------------------------------------------------


class Frozen:
    """What a release is asked for by the difference."""

    name, date = "summer", "2026-08-01"

    def __init__(self, document: Document) -> None:
        self.manifest = {"documents/methodology.json": {}}
        self._data = json.loads(json.dumps(as_data(document)))

    def methodology(self) -> dict[str, Any]:
        return dict(self._data)


def changes_document(before: Document, now: Document) -> Document:
    frozen: Any = Frozen(before)
    return changes_since(frozen, now)


def test_the_first_release_says_that_it_is_the_first(document: Document) -> None:
    assert "This is the first release" in as_text(changes_since(None, document))


def test_nothing_changed_is_said(document: Document) -> None:
    assert "Nothing changed" in as_text(changes_document(document, document))


def test_a_changed_bore_appears_old_and_new(contents: Contents, document: Document) -> None:
    nozzle = contents.book.nozzles["N40"]
    other = with_book(
        contents, nozzles={**contents.book.nozzles, "N40": replace(nozzle, bore=nozzle.bore + 4e-4)}
    )
    changes = changes_document(document, methodology_of(other))
    rows = cells(next(each for each in changes.blocks if isinstance(each, Grid)))
    assert rows == [
        [
            "Nozzles through which air was led, N40: Bore and standard uncertainty",
            "40.012\u00a0mm ± 0.010\u00a0mm",
            "40.412\u00a0mm ± 0.010\u00a0mm",
        ]
    ]


def test_a_part_that_is_new_and_one_that_is_gone_are_told(document: Document) -> None:
    without = replace(
        document, blocks=tuple(document.blocks[: document.blocks.index(part(document, "Geometry")[0]) - 1])
    )
    found = changes_between(as_data(without), as_data(document))
    assert ("Geometry",) in found.new_sections
    assert "Geometry" in as_text(changes_document(without, document))
    assert ("Geometry",) in changes_between(as_data(document), as_data(without)).gone_sections


def test_no_line_is_lost_in_a_comparison(document: Document) -> None:
    """Against an empty document every line was added, and the other way round removed."""
    empty = replace(document, blocks=())
    lines = [each for each in lines_of(as_data(document)) if each.table != FOLLOWING]
    assert len(changes_between(as_data(empty), as_data(document)).added) == len(set(lines_by(lines)))
    assert len(changes_between(as_data(document), as_data(empty)).removed) == len(set(lines_by(lines)))


def test_changes_stand_in_the_order_of_the_document(contents: Contents, document: Document) -> None:
    settings = replace(contents.settings, limits=Limits(zero_drift=0.35))
    nozzle = contents.book.nozzles["N12"]
    nozzles = {**contents.book.nozzles, "N12": replace(nozzle, bore=nozzle.bore + 1e-4)}
    other = methodology_of(
        replace(with_book(contents, settings=settings, nozzles=nozzles), question="Which is best?")
    )
    found = changes_between(as_data(document), as_data(other)).sections
    now = [each.text for each in other.blocks if isinstance(each, Heading)]
    places = [now.index(each[-1]) for each in found]
    assert places == sorted(places)
    assert len(places) >= 3


def lines_by(lines: list[Any]) -> list[tuple[Any, ...]]:
    return [(each.section, each.table, each.name, each.words if not each.name else "") for each in lines]


# --- nothing that isn't in the lab ---------------------------------------------------------------------------

NUMBER = re.compile(r"(?<![\w.,/@·⁻-])[\d]+(?:,\d{3})*(?:\.\d+)?(?![\w/@-]|\.\d)")
FACTORS = (
    1.0,
    1000.0,
    60.0,
    3600.0,
    100.0,
    0.01,
    60_000.0,
    1 / 3600.0,
    1 / 60.0,
    57.29577951308232,
    1e-3,
    3600.0**-2,
)


def numbers_in(value: Any) -> Iterator[float]:
    if isinstance(value, bool) or value is None:
        return
    if isinstance(value, int | float):
        yield float(value)
    elif isinstance(value, str):
        yield from (float(each.replace(",", "")) for each in NUMBER.findall(value))
    elif isinstance(value, dict):
        for each in value.values():
            yield from numbers_in(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from numbers_in(each)


def strings_in(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for each in value.values():
            yield from strings_in(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from strings_in(each)


def unexplained(text: str, allowed: list[float], known: set[str]) -> list[str]:
    """The numbers of a text that no value of the lab gives at the digits printed, in any unit of the house."""
    for each in sorted(known, key=len, reverse=True):
        text = text.replace(each, " ")
    text = re.sub(r"\d{4}-\d\d-\d\d", lambda hit: " " if hit[0] in dates_of(known) else hit[0], text)
    lost = []
    for token in NUMBER.findall(text):
        value, places = float(token.replace(",", "")), len(token.partition(".")[2])
        near = 0.5000001 * 10.0**-places
        if not any(abs(one * factor - value) <= near for one in allowed for factor in FACTORS):
            lost.append(token)
    return lost


def dates_of(known: set[str]) -> set[str]:
    return {hit for each in known for hit in re.findall(r"\d{4}-\d\d-\d\d", each)}


RECORDS = (
    "fans",
    "samples",
    "obstacles",
    "rigs",
    "instruments",
    "calibrations",
    "nozzles",
    "events",
    "legacy",
)


def test_no_number_of_fans_rigs_and_geometry_comes_from_anywhere_but_the_records(
    contents: Contents, document: Document
) -> None:
    book, facts = contents.book, Facts(contents)
    bodies = [as_json(each) for name in RECORDS for each in getattr(book, name).values()]
    bodies += [as_json(each.taken) for own in facts.placed.values() for each in own]
    records = [as_json(each) for name in RECORDS for each in getattr(book, name).values()]
    known = {each for each in strings_in(bodies) if len(each) > 1} | {str(contents.date)}
    allowed = sorted({*numbers_in(records)})
    arrays = (results.load_arrays(contents.lab.path, each.key) for each in facts.obstacles)
    allowed += [
        float(each) for one in arrays for each in (*one["central"], *(one["covariance"].diagonal() ** 0.5))
    ]
    allowed += [end for _, body in facts.good(facts.obstacles) for end in body["reach"]]
    counts = [len(facts.nodes), *map(len, facts.by_purpose.values())]
    counts += [sum(each.fan == fan for each in facts.nodes) for fan in facts.fans]
    counts += [
        sum((each.fan, each.sample) == one for each in facts.nodes)
        for one in {(n.fan, n.sample) for n in facts.nodes}
    ]
    counts += [len(own) for own in facts.samples.values()]
    assumed = [
        1013.25,
        25.0,
        20.0,
        3.0,
        50.0,
        15.0,
        0.02,
    ]  # docs/methods.md, what is assumed where nobody told
    for heading in ("Fans and samples", "Rigs and instruments", "Geometry"):
        text = words_of(part(document, heading)).replace("\u00a0", " ")
        text = re.sub(r"\([\d.]+ ± [\d.]+\) · 10⁻.", " ", text)  # of resistances, tested above
        assert unexplained(text, [*allowed, *map(float, counts), *assumed], known) == [], heading


def test_the_walk_finds_a_number_that_is_not_in_the_lab() -> None:
    assert unexplained("a bore of 40.012 mm and one of 41.7 mm", [0.040012], set()) == ["41.7"]


# --- files ---------------------------------------------------------------------------------------------------


def test_hostile_names_are_data_in_every_form(contents: Contents) -> None:
    name = "<script>alert(1)</script> #set page()"
    sample = next(iter(contents.book.samples.values()))
    other = with_book(contents, samples={**contents.book.samples, sample.name: replace(sample, shop=name)})
    found = methodology_of(other)
    assert name in {row[2] for row in cells(grid(found, "Samples"))}


def test_the_files_are_written_twice_with_the_same_bytes(
    contents: Contents, document: Document, tmp_path: Path
) -> None:
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
        files = write_methodology(contents, tmp_path / folder)
    assert [each.name for each in files] == [
        "methodology.pdf",
        "methodology.html",
        "methodology.json",
        "changes.html",
    ]
    for each in files:
        assert each.read_bytes() == (tmp_path / "one" / each.name).read_bytes(), each.name
    assert json.loads((tmp_path / "one" / "methodology.json").read_text(encoding="utf-8")) == as_data(
        document
    )
    pdf = " ".join(
        " ".join(
            page.extract_text() for page in PdfReader(tmp_path / "one" / "methodology.pdf").pages
        ).split()
    )
    assert "In plain words" in pdf
    assert "40.012" in pdf
    assert "□" not in pdf


def test_every_kind_of_measurement_of_the_demo_is_described(contents: Contents, document: Document) -> None:
    assert set(Facts(contents).by_purpose) == set(Purpose)
    text = as_text(document)
    for heading in ("Airflow", "Sound", "Heat", "Control", "Comparing"):
        assert any(isinstance(each, Heading) and each.text == heading for each in document.blocks), heading
    assert "heat-1 (heat)" in text
    assert any(isinstance(each, Bullets) for each in part(document, "If you want to do the same"))
    assert any(isinstance(each, Paragraph) for each in part(document, "Reference fan"))
