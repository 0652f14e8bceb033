"""The demo's account step by step: from a plain spreadsheet to a ranking that can be defended."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from stillroom import wording
from stillroom.compare.standing import Ranking, Standing
from stillroom.demo.rigs import LATER
from stillroom.demo.truth import Truth
from stillroom.lab.blocking import open_blocks
from stillroom.lab.book import Book, open_book
from stillroom.lab.curves import result_of
from stillroom.lab.executor import Progress
from stillroom.lab.field import Asked
from stillroom.lab.findings import findings, findings_of
from stillroom.lab.pictures import pictures
from stillroom.lab.ranking import rank_fans
from stillroom.lab.recipes import Graph, build_graph
from stillroom.lab.reducing import Reduced, reduce_lab
from stillroom.measures import Condition, measure_named
from stillroom.quality import Finding
from stillroom.records.acts import Decision
from stillroom.records.bench import Nozzle
from stillroom.records.fields import as_json
from stillroom.store.journal import Note
from stillroom.store.lab import Lab, now
from stillroom.verbs.said import Said, Table
from stillroom.verbs.story_heat import HeatAtSameNoise, heat_numbers
from stillroom.verbs.story_round import RestOfTheRound
from stillroom.verbs.story_sound import LIMIT, AtSameNoise, interval_words, recording_numbers

HOUR = 3600.0
UNIT = "m³/h"
MEASURE = "airflow"
CLEARLY = 1.2
"""A factor beyond which a sweep reads flow or pressure clearly wrong."""


@dataclass(frozen=True)
class _Judged:
    """The lab at one moment of the story, reduced, with its findings."""

    book: Book
    graph: Graph
    found: list[Finding]
    work: Reduced


@dataclass(frozen=True)
class _State(_Judged):
    """The same with its ranking at full speed."""

    ranking: Ranking


def tell(lab: Lab, truth: Truth, dir: Path, progress: Progress) -> Said:
    """Do the main job and say what happened."""
    obstacle = truth.reference_obstacle
    asked = Asked(measure_named(MEASURE), Condition(None, obstacle))
    first = _judged(lab, replace(open_book(lab), decisions={}), progress, whole=truth.full)
    caught = [each for each in first.found if _is_caught(each, truth.reference_fan)]
    checks = [each for each in first.found if _is_of_check(each, truth.reference_fan)]
    _decide(lab, caught, "exclude")
    _decide(lab, checks, "accept")
    then = _judged(lab, open_book(lab), progress, whole=truth.full)
    blocked = open_blocks(then.found, then.book.decisions)
    quiet = AtSameNoise(lab, truth, then.book, then.graph, obstacle, blocked, progress)
    files = quiet.charts(dir / "charts")  # what the reader waits for comes first
    before, after = (_ranked(lab, each, asked, progress) for each in (first, then))
    warm = _heats(lab, truth, (first, then), progress)
    if warm:
        files = (*files, *warm[1].charts(dir / "charts"))
    tables: tuple[tuple[str, Table], ...] = (
        (
            "1. A plain spreadsheet beside ours, at full speed",
            _spreadsheet(truth, after.ranking, quiet.ranked),
        ),
        (f"2. Faults caught on the way: {len(caught)}", _faults(lab, caught, before, after, warm)),
        (
            f"3. The speed that {LIMIT:g} dBA leaves each fan, measured with {obstacle} mounted",
            quiet.speeds(),
        ),
        ("4. The truth, which only the demo knows, beside our intervals", quiet.truths()),
        *((f"5. {each.heading}", each.table()) for each in warm[1:]),
    )
    step = len(tables) + 1
    data: dict[str, Any] = {
        "before": before.ranking.as_dict(),
        "after": after.ranking.as_dict(),
        "at_noise": quiet.ranked.as_dict(),
        "caught": [each.as_dict() for each in caught],
    }
    if truth.full:
        rest = RestOfTheRound(lab, truth, after.book, after.graph, asked, after.ranking, blocked, before.found,
                              progress, [each.ranked for each in warm[1:]])  # fmt: skip
        tables = (
            *tables,
            (f"{step}. What else befell the round", rest.table()),
            (f"{step + 1}. The set list for the heat rig", quiet.settings()),
        )
        files = (*files, *quiet.panels(dir / "charts"), *rest.panels(dir / "charts"))
    else:
        moved, work = _with_other_bore(lab, truth, asked, {each.subject for each in caught}, progress)
        heading = (f"{step}. One nozzle bore changed ({_bore_words(truth)}): what moves at full speed, and what is "
                   f"worked out anew ({work.made} of {work.curves} curves)")  # fmt: skip
        tables = (*tables, (heading, _moved(after.ranking, moved)))
        data["with_other_bore"] = moved.as_dict()
    if warm:
        data["heat_at_noise"] = warm[1].ranked.as_dict()
    return Said(
        pictures.ranking_words(quiet.ranked, asked.measure),
        tables=tables,
        lines=(
            *_own_file(dir, quiet.ranked.standings[0].fan, obstacle, len(tables) + 1),
            *(f"Chart: {each}" for each in files if each.suffix in {".png", ".html"}),
        ),
        data=data | {"charts": [str(each) for each in files]},
    )


def _heats(
    lab: Lab, truth: Truth, moments: Sequence[_Judged], progress: Progress
) -> tuple[HeatAtSameNoise, ...]:
    """The heat rig before and after what was decided; nothing where no fan was run on it."""
    if truth.heat is None:
        return ()
    return tuple(
        HeatAtSameNoise(
            lab, truth, each.book, each.graph, open_blocks(each.found, each.book.decisions), progress
        )
        for each in moments
    )


def _judged(lab: Lab, book: Book, progress: Progress, *, whole: bool) -> _Judged:
    """The lab reduced, with the findings of its fans; `whole`: with those of obstacles, checks and boxes too."""
    graph = build_graph(book)
    work = reduce_lab(lab, graph, progress=progress)
    fans = {each.fan for each in graph.mountings()} | {each.fan for each in graph.sounding()}
    found = findings(lab, book, graph) if whole else findings_of(lab, book, graph, fans)
    return _Judged(book, graph, found, work)


def _ranked(lab: Lab, judged: _Judged, asked: Asked, progress: Progress) -> _State:
    blocked = open_blocks(judged.found, judged.book.decisions)
    ranked = rank_fans(lab, judged.book, judged.graph, asked, blocked=blocked, progress=progress)
    return _State(**vars(judged), ranking=ranked.in_unit(UNIT))


def _is_caught(each: Finding, reference: str) -> bool:
    measured = each.subject.startswith(("run:", "mounting:"))
    return each.blocks and measured and not _is_of_check(each, reference)


def _is_of_check(each: Finding, reference: str) -> bool:
    """Whether it doubts a check of the rig: that one stays, since it tells of the rig and not of the fan."""
    return each.blocks and bool(reference) and each.fans == (reference,)


def _decide(lab: Lab, found: list[Finding], action: str) -> None:
    """The demo's operator decides, each with its cause as the reason."""
    standing = {(each.subject, each.key) for each in lab.current(Decision).values()}
    decisions = [
        Decision(finding=each.id, rule=str(each.rule), subject=each.subject, key=each.key, action=action,
                 reason=each.cause, by="the demo", time=now())
        for each in found if (each.subject, each.key) not in standing
    ]  # fmt: skip
    if decisions:
        lab.write([Note(each.kind, each.name, as_json(each)) for each in decisions], by="the demo")


def _spreadsheet(truth: Truth, ours: Ranking, quiet: Ranking) -> Table:
    standing = {each.fan: each for each in ours.standings}
    at_noise = {each.fan: f"{each.value:.0f}" for each in quiet.standings}
    rows = tuple(
        (
            str(plain.rank),
            plain.fan,
            f"{plain.flow * HOUR:.1f}",
            *_our_words(standing.get(plain.fan)),
            at_noise.get(plain.fan, ""),
        )
        for plain in truth.plain
    )
    theirs, measured = {plain.fan for plain in truth.plain}, {each.fan for each in truth.fans}
    rows += tuple(
        ("left aside", each.fan, "", *_our_words(each), at_noise.get(each.fan, ""))
        for each in ours.standings
        if each.fan in measured and each.fan not in theirs
    )
    headers = (
        "spreadsheet's place",
        "fan",
        f"spreadsheet [{UNIT}]",
        "ours, with 95 %",
        "our place",
        "ours says",
        f"at {LIMIT:g} dBA [{UNIT}]",
    )
    return Table(headers, rows, right=(2, 6))


def _our_words(each: Standing | None) -> tuple[str, str, str]:
    if each is None:
        return ("not ranked", "", "")
    return (interval_words(each), wording.places(each.rank), each.verdict.value)


def _faults(
    lab: Lab, caught: list[Finding], before: _State, after: _State, warm: Sequence[HeatAtSameNoise]
) -> Table:
    """Each fault with its number before and after: the fan's airflow or temperature rise, or what one sweep read."""
    values = {each.fan: each.value for each in before.ranking.standings}
    sound = {each.fan: each.value for each in after.ranking.standings}
    rows = []
    for each in caught:
        numbers = heat_numbers(before.graph, each, warm) or recording_numbers(lab, before.graph, each)
        numbers = numbers or _sweep_numbers(lab, each, before)
        numbers = numbers or (_number(values, each.fans), _number(sound, each.fans))
        rows.append((_where(each), each.found, each.cause, *numbers))
    headers = ("where", "what was read", "probable cause", "number before", "after")
    return Table(headers, tuple(rows), right=(3, 4))


def _sweep_numbers(lab: Lab, finding: Finding, state: _State) -> tuple[str, str] | None:
    """What a doubted sweep read at its greatest, and what the fan's curve says it was; None for mountings."""
    kind, _, name = finding.subject.partition(":")
    if finding.name == "speed-disagrees":
        return _speed_numbers(lab, name, state)
    if kind != "run":
        return None
    node = next(each for each in state.graph.curves if name in [run.placed.run for run in each.runs])
    body = result_of(lab, node).body
    place = [each["run"] for each in body["runs"]].index(name)
    run = body["runs"][place]
    check = next(each for each in body["curve"]["sweeps"] if each["sweep"] == place)
    flow, pressure = check["flow_scale"]["value"], check["pressure_scale"]["value"]
    if max(flow, 1 / flow, pressure, 1 / pressure) < CLEARLY:
        return None
    if max(flow, 1 / flow) > max(pressure, 1 / pressure):
        most = max(run["flow"]) * HOUR
        return f"{most:.1f} {UNIT}", f"{most / flow:.1f} {UNIT}"
    most = max(run["pressure"])
    return f"{most:.1f} Pa", f"{most / pressure:.1f} Pa"


def _speed_numbers(lab: Lab, mounting: str, state: _State) -> tuple[str, str]:
    """The greatest speed that a mounting's tachometer told, and that of the same sample's other mountings."""
    told: dict[str, float] = {}
    here = next(each for each in state.graph.curves if each.subject == mounting)
    for node in state.graph.mountings(here.fan):
        if node.sample == here.sample:
            told[node.subject] = max(max(run["speed"]) for run in result_of(lab, node).body["runs"]) * 60
    others = [speed for name, speed in told.items() if name != mounting]
    return f"{told[mounting]:,.0f} rpm", f"{min(others):,.0f} rpm" if others else "none"


def _where(each: Finding) -> str:
    """A mounting by its name, a run by its file."""
    kind, _, name = each.subject.partition(":")
    return name if kind == "mounting" else each.place.rpartition("exports/")[2] or each.place


def _number(values: Mapping[str, float], fans: tuple[str, ...]) -> str:
    known = [f"{values[each]:.1f} {UNIT}" for each in fans if each in values]
    return ", ".join(known) or "none"


def _bore_words(truth: Truth) -> str:
    change = truth.nozzle_change
    return f"{change.nozzle} {change.before * 1000:.3f} to {change.after * 1000:.3f} mm"


def _with_other_bore(
    lab: Lab, truth: Truth, asked: Asked, subjects: set[str], progress: Progress
) -> tuple[Ranking, Reduced]:
    """What if: the same lab with one other bore, then as it was.

    What was judged has moved, so the decisions have lapsed: the same ones are made again.
    """
    was = lab.current(Nozzle)[truth.nozzle_change.nozzle]
    other = replace(was, bore=truth.nozzle_change.after)
    lab.write([Note(other.kind, other.name, as_json(other), "the demo's what-if")], by="the demo")
    try:
        other = _judged(lab, open_book(lab), progress, whole=False)
        again = [each for each in other.found if each.subject in subjects]
        _decide(lab, [each for each in again if _is_caught(each, "")], "exclude")
        state = _ranked(lab, _judged(lab, open_book(lab), progress, whole=False), asked, progress)
    finally:
        lab.write([Note(was.kind, was.name, as_json(was), "the demo's what-if, taken back")], by="the demo")
    return state.ranking, other.work


def _moved(before: Ranking, after: Ranking) -> Table:
    there = {each.fan: each for each in after.standings}
    rows = tuple(
        (each.fan, f"{each.value:.2f}", f"{there[each.fan].value:.2f}",
         f"{100 * (there[each.fan].value / each.value - 1):+.2f} %", there[each.fan].verdict.value)
        for each in before.standings if each.fan in there
    )  # fmt: skip
    return Table(("fan", f"old [{UNIT}]", f"new [{UNIT}]", "moves by", "new verdict"), rows, right=(1, 2, 3))


def _own_file(dir: Path, fan: str, obstacle: str, step: int) -> tuple[str, ...]:
    return (
        "",
        f"{step}. Now your own file",
        f"    stillroom add your-file.csv --as fan=MyFan --as sample=1 --lab {dir}",
        f"    stillroom rank airflow --through {obstacle} --lab {dir}",
        "  or your own recordings: a folder with cal94-before.wav, bg-before.wav and MyFan/s1/60pct.wav",
        f"    stillroom add that-folder --preview --lab {dir}    (docs/recording.md says how to record and name them)",
        f"    stillroom rank airflow --through {obstacle} --noise 30 --lab {dir}",
        "",
        f"{step + 1}. Publish, and correct it when a certificate proves wrong",
        f"    stillroom publish round-1 --highlight {fan} --lab {dir}",
        f"    stillroom add {dir / LATER} --lab {dir}    (a nozzle's bore was 0.4 mm off)",
        f"    stillroom decide again exclude --reason 'bore corrected, judged as before' --by NAME --lab {dir}",
        f"    stillroom correct round-1 --publish --lab {dir}",
        "    (from the checkout: python3 start.py for stillroom)",
        "",
    )
