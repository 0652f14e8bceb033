"""What a person should look at: facts gathered, rules asked, findings kept per fan by key.

Findings never change data. What was decided of one stands as long as the data that it judged.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from stillroom.compare.claims import ClaimCheck
from stillroom.compare.printed import subject_of
from stillroom.core.claims import ClaimVerdict
from stillroom.lab.book import Book, place_all
from stillroom.lab.claims import check_claims, uncheckable_claims
from stillroom.lab.control.checking import control_findings
from stillroom.lab.eras.watch_facts import watch_facts
from stillroom.lab.facts.control_facts import control_instruments
from stillroom.lab.facts.facts import CHECK, Gathering
from stillroom.lab.facts.heat_facts import HeatGathering, heat_instruments
from stillroom.lab.facts.heat_law_facts import law_facts
from stillroom.lab.facts.kept_values import KeptValues, kept_values
from stillroom.lab.facts.rig_facts import instrument_facts, rig_facts
from stillroom.lab.facts.sound_facts import SoundGathering, sound_instruments
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import CurveNode, Graph
from stillroom.lab.sound.nodes import SoundNode
from stillroom.lab.through import through_of
from stillroom.quality import (
    VERSION,
    Finding,
    Print,
    check_boxes,
    check_copies,
    check_fan,
    check_instruments,
    check_obstacle,
    check_rigs,
    check_watch,
    prints_of,
)
from stillroom.quality.facts import ClaimFacts, FanFacts
from stillroom.quality.heat import check_heat, check_law
from stillroom.quality.sound import check_sound, told_once
from stillroom.records.acts import Decision
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result


def findings(lab: Lab, book: Book, graph: Graph) -> list[Finding]:
    """All findings of a lab that is reduced, ordered by consequence; what is known already is not redone.

    Ordered: what the leaders and contenders of kept comparisons hang on before what other kept values do;
    then what blocks before what marks; then by how many fans and mountings hang on it, rule and subject.
    """
    heard = {each.fan for each in graph.sounding()}
    fans = {each.fan for each in graph.mountings()} | heard | {each.fan for each in graph.heats}
    fans |= {each.fan for each in graph.controls} | set(book.fans)
    return _findings(lab, book, graph, fans, whole=True)


def findings_of(lab: Lab, book: Book, graph: Graph, fans: Collection[str]) -> list[Finding]:
    """The findings of some fans only, right after their files came in; ordered as those of the whole lab.

    Parameters
    ----------
    fans : their names; a fan whose curves are not worked out yet has no findings.
    """
    return _findings(lab, book, graph, fans, whole=False)


def _findings(lab: Lab, book: Book, graph: Graph, fans: Collection[str], *, whole: bool) -> list[Finding]:
    values = kept_values(lab, book, graph)
    gathering = Gathering(lab, book, graph, values)
    shared = check_instruments(
        [
            *instrument_facts(book, graph),
            *sound_instruments(book, graph),
            *heat_instruments(book, graph),
            *control_instruments(book, graph),
        ]
    )
    shared += check_rigs(rig_facts(book, graph, values), book.settings.limits)
    checked = _checked(gathering, fans, whole=whole)
    checked += _heard(SoundGathering(lab, book, graph, values), fans)
    checked += _warmed(HeatGathering(lab, book, graph, values), fans)
    checked += control_findings(lab, book, graph, fans)
    shared += check_copies(_prints(lab, graph), _order(graph))
    found = [*checked, *(each for each in shared if whole or set(each.fans) & set(fans))]
    if whole and graph.heats and _reduced(lab, graph.curves) and _reduced(lab, graph.heats):
        laws = law_facts(lab, book, graph, found)
        found += [each for rig, facts in laws for each in check_law(rig, facts, book.settings.limits)]
    if whole and _reduced(lab, graph.curves):
        watched = watch_facts(lab, book, graph, open_blocks(found, book.decisions))
        found += [each for rig in watched for each in check_watch(rig)]
        boxes = check_claims(lab, book, graph, blocked=open_blocks(found, book.decisions), keep=False)
    else:
        boxes = uncheckable_claims(book, graph, fans)
    found += check_boxes([_claim_facts(each) for each in boxes], book.settings.limits)
    return sorted(found, key=lambda each: _consequence(each, values))


def _claim_facts(check: ClaimCheck) -> ClaimFacts:
    """A claim's verdict as the rules are told it."""
    known = subject_of(check.claim.quantity)
    measured = check.measured
    return ClaimFacts(
        claim=check.claim,
        quantity=known[0].dimension if known else "",
        why=(check.why if check.claim.condition else "no condition") if check.unlike else "",
        outside=check.verdict is ClaimVerdict.OUTSIDE,
        falls_short=check.falls_short,
        ratio=check.ratio,
        difference=check.difference,
        z=check.z,
        samples=measured.samples if measured else 0,
        judged=f"{measured.value:.6g}, {measured.samples}, {measured.mountings}" if measured else "",
    )


def _consequence(finding: Finding, values: KeptValues) -> tuple[int, bool, int, int, int, str, str]:
    standing = min((values.standing(fan) for fan in finding.fans), default=values.nothing_shown)
    return (standing, not finding.blocks, -len(finding.fans), -len(finding.mountings), finding.rule,
            finding.subject, finding.found)  # fmt: skip


# --- checking what is not checked yet ----------------------------------------------------------------------


@dataclass(frozen=True)
class _Check:
    """One thing to be checked: key and subject of its result, the curves that it reads, and how."""

    key: str
    subject: str
    nodes: tuple[CurveNode | SoundNode | HeatNode, ...]

    def result(self, found: Sequence[Finding], prints: Sequence[Print]) -> Result:
        body = {"findings": [each.as_dict() for each in found], "prints": [each.as_list() for each in prints]}
        return Result(self.key, CHECK, self.subject, {"curves": [each.key for each in self.nodes]},
                      f"findings {VERSION}", False, body)  # fmt: skip


def _checked(gathering: Gathering, fans: Collection[str], *, whole: bool) -> list[Finding]:
    lab = gathering.lab
    found: list[Finding] = []
    made: list[Result] = []
    for check in _checks(gathering, fans, whole=whole):
        kept = results.get(lab.database, check.key)
        if kept is None and _reduced(lab, check.nodes):
            kept = _made(gathering, check)
            made.append(kept)
        if kept is not None:
            found += [Finding.from_dict(each) for each in kept.body["findings"]]
    if made:
        lab.put_results(made)
    return found


def _heard(gathering: SoundGathering, fans: Collection[str]) -> list[Finding]:
    """What is found of the sound of some fans, once for what several share."""
    lab = gathering.lab
    found: list[Finding] = []
    made: list[Result] = []
    for fan in sorted(fans):
        nodes = tuple(gathering.graph.sounding(fan)) if fan else ()
        if not nodes:
            continue
        check = _Check(gathering.key(fan), fan, nodes)
        kept = results.get(lab.database, check.key)
        if kept is None and _reduced(lab, nodes):
            kept = check.result(check_sound(gathering.fan(fan)), ())
            made.append(kept)
        if kept is not None:
            found += [Finding.from_dict(each) for each in kept.body["findings"]]
    if made:
        lab.put_results(made)
    return told_once(found)


def _warmed(gathering: HeatGathering, fans: Collection[str]) -> list[Finding]:
    """What is found of the heat of some fans."""
    lab = gathering.lab
    found: list[Finding] = []
    made: list[Result] = []
    for fan in sorted(fans):
        nodes = tuple(gathering.graph.heating(fan)) if fan else ()
        if not nodes:
            continue
        check = _Check(gathering.key(fan), fan, nodes)
        kept = results.get(lab.database, check.key)
        if kept is None and _reduced(lab, nodes):
            kept = check.result(check_heat(gathering.fan(fan)), ())
            made.append(kept)
        if kept is not None:
            found += [Finding.from_dict(each) for each in kept.body["findings"]]
    if made:
        lab.put_results(made)
    return found


def _checks(gathering: Gathering, fans: Collection[str], *, whole: bool) -> Iterable[_Check]:
    for fan in sorted(fans):
        nodes = tuple(gathering.graph.mountings(fan)) if fan else ()
        if nodes or fan in gathering.book.fans:
            needed = (*nodes, *gathering.obstacles_of(fan))
            yield _Check(gathering.fan_key(fan, nodes), fan, needed)
    for node in gathering.graph.curves:
        if whole and node.kind == "obstacle":
            yield _Check(gathering.obstacle_key(node), "", (node,))


def _made(gathering: Gathering, check: _Check) -> Result:
    if not check.subject:
        (node,) = (each for each in check.nodes if isinstance(each, CurveNode))
        obstacle = gathering.obstacle(node)
        return check.result(check_obstacle(obstacle, gathering.book.settings.limits), prints_of(obstacle))
    fan = gathering.fan(check.subject, _mountings(check))
    prints = [each for mounting in fan.mountings for each in prints_of(mounting)]
    return check.result(check_fan(fan), prints)


def _mountings(check: _Check) -> list[CurveNode]:
    """The mountings of a fan among what its check reads."""
    return [each for each in check.nodes if isinstance(each, CurveNode) and each.kind == "mounting"]


def fan_facts(lab: Lab, book: Book, fan: str, nodes: Sequence[CurveNode], graph: Graph) -> FanFacts:
    """All that the rules ask of a fan."""
    return Gathering(lab, book, graph, kept_values(lab, book, graph)).fan(fan, nodes)


def _prints(lab: Lab, graph: Graph) -> list[Print]:
    """The fingerprints of all readings that were checked, of runs that are still there."""
    here = {run.placed.run: node for node in graph.curves for run in node.runs}
    query = "SELECT json_extract(body, '$.prints') FROM results WHERE kind = ?"
    told = {}
    for (text,) in lab.database.execute(query, (CHECK,)):
        for each in json.loads(text or "[]"):
            print_ = Print.of(each)
            if print_.run in here:
                node = here[print_.run]
                told[print_.run] = replace(print_, subject=node.subject, fan=node.fan)
    return list(told.values())


def _order(graph: Graph) -> dict[str, str]:
    """When each run was measured or came in, {run: text that sorts}."""
    return {run.placed.run: run.placed.moment for node in graph.curves for run in node.runs}


def _reduced(lab: Lab, nodes: Sequence[CurveNode | SoundNode | HeatNode]) -> bool:
    """Whether every curve of a fan has been worked out."""
    wanted = {each.key for each in nodes}
    return results.known(lab.database, lab.path, wanted) == wanted


def undecided(found: Iterable[Finding], decisions: Mapping[str, Decision]) -> list[Finding]:
    """The findings that nobody has decided. An id holds the key that was judged: when it moves, it is new."""
    return [each for each in found if each.id not in {one.finding for one in decisions.values()}]


def open_blocks(
    found: Iterable[Finding],
    decisions: Mapping[str, Decision],
    through: Collection[str] = (),
    mountings: Collection[str] = (),
) -> dict[str, str]:
    """{mounting: rule in words} of what blocks and has been neither accepted nor excluded.

    A finding whose decision is "repeat" goes on blocking: the numbers are still those that were doubted.

    Parameters
    ----------
    through : obstacles that a comparison goes through; what is found of others blocks nothing in it.
    mountings : that take part in it; what blocks an obstacle blocks them all.
    """
    settled = {each.finding for each in decisions.values() if each.action in {"accept", "exclude"}}
    blocked: dict[str, str] = {}
    for each in found:
        if each.through and each.through not in through:
            continue
        if each.blocks and each.id not in settled:
            for mounting in each.mountings or (mountings if each.through else ()):
                blocked.setdefault(mounting, f"{each.title} (rule {each.rule})")
    return blocked


def open_blocks_of(
    found: Iterable[Finding],
    book: Book,
    graph: Graph,
    through: str,
    fans: Iterable[str],
    *,
    by_sound: bool = False,
    by_heat: bool = False,
    by_control: bool = False,
) -> dict[str, int]:
    """How many open findings block each fan's numbers in a comparison through obstacles; fans without any are left out.

    Parameters
    ----------
    through : as told in a question. fans : who takes part. by_sound : whether the numbers rest on sound too.
    by_heat, by_control : whether they rest on heat runs, or on tests of the control, and not on airflow.
    """
    nodes_of = graph.heating if by_heat else graph.controlled if by_control else graph.mountings
    mountings = {
        fan: {each.blocked_as for each in nodes_of(fan)}
        | {each.blocked_as for each in graph.sounding(fan) if by_sound}
        for fan in fans
    }
    counted: Counter[str] = Counter()
    for each in found:
        blocked = blocked_in([each], book, graph, through).keys() if each.blocks else ()
        counted.update(fan for fan, own in mountings.items() if not own.isdisjoint(blocked))
    return dict(counted)


@dataclass(frozen=True)
class Exclusions:
    """How much of a maker's data is excluded: runs and mountings that decisions exclude, each counted once, and the
    runs that this leaves out of all its runs.
    """

    decisions: int
    runs: int
    of: int

    @property
    def share(self) -> float:
        """Share of the maker's runs that are excluded [1]."""
        return self.runs / self.of if self.of else 0.0


def blocked_in(found: Iterable[Finding], book: Book, graph: Graph, through: str) -> dict[str, str]:
    """{mounting: rule in words} of what blocks a comparison through obstacles, told as in a question."""
    pieces = [each.subject for each in through_of(book, graph, through).nodes]
    every = [each.subject for each in graph.mountings()]
    return open_blocks(found, book.decisions, pieces, every)


def has_lapsed(decision: Decision, found: Iterable[Finding], graph: Graph) -> bool:
    """Whether what a decision judged is no more as it was, so that it decides nothing now.

    Parameters
    ----------
    found : all findings of the lab as it stands.
    """
    if decision.action == "exclude":
        return (decision.subject, decision.key) not in graph.excluded
    return decision.finding not in {each.id for each in found}


def excluded_by_maker(book: Book, graph: Graph) -> dict[str, Exclusions]:
    """The exclusions of each maker's fans that stand, with their share of the maker's runs; makers without any are
    counted as 0.
    """
    placed = [each for each in place_all(book) if each.fan]
    maker = {each.fan: _maker(book, each.fan) for each in placed}
    fans = {f"mounting:{each.mounting}": each.fan for each in placed} | {
        f"run:{each.run}": each.fan for each in placed
    }
    known = dict.fromkeys((each.maker for each in book.fans.values() if each.maker), 0)
    counted, runs, gone = Counter(known), Counter(known), Counter(known)
    standing = [each for each in book.decisions.values()
                if each.action == "exclude" and not has_lapsed(each, (), graph)]  # fmt: skip
    subjects = {each.subject for each in standing}
    for subject in subjects:
        counted[maker.get(fans.get(subject, ""), UNTOLD)] += 1
    for each in placed:
        runs[maker[each.fan]] += 1
        gone[maker[each.fan]] += bool({f"mounting:{each.mounting}", f"run:{each.run}"} & subjects)
    return {name: Exclusions(counted[name], gone[name], runs[name])
            for name in sorted(known.keys() | counted.keys())}  # fmt: skip


UNTOLD = "maker not told"


def _maker(book: Book, fan: str) -> str:
    record = book.fans.get(fan)
    return (record.maker if record else None) or UNTOLD
