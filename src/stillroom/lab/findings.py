"""What a person should look at: facts gathered, rules asked, findings kept per fan by key.

Findings never change data. What was decided of one stands as long as the data that it judged.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import partial

from stillroom.compare.claims import ClaimCheck
from stillroom.compare.printed import subject_of
from stillroom.core.claims import ClaimVerdict
from stillroom.lab.airflow.nodes import CurveNode
from stillroom.lab.blocking import open_blocks
from stillroom.lab.book import Book
from stillroom.lab.checking import CHECK, Check, Found, are_there, kept_findings
from stillroom.lab.claims import check_claims, uncheckable_claims
from stillroom.lab.control.nodes import ControlNode
from stillroom.lab.eras.watch_facts import watch_facts
from stillroom.lab.facts.airflow_facts import AirflowGathering
from stillroom.lab.facts.control_facts import ControlGathering
from stillroom.lab.facts.heat_facts import HeatGathering
from stillroom.lab.facts.heat_law_facts import law_facts
from stillroom.lab.facts.instrument_facts import instrument_facts
from stillroom.lab.facts.kept_values import KeptValues, kept_values
from stillroom.lab.facts.rig_facts import rig_facts
from stillroom.lab.facts.sound_facts import SoundGathering
from stillroom.lab.heat.nodes import HeatNode
from stillroom.lab.recipes import Graph
from stillroom.lab.sound.nodes import SoundNode
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
from stillroom.quality.control import VERSION as CONTROL
from stillroom.quality.control import check_control
from stillroom.quality.facts import ClaimFacts
from stillroom.quality.heat import VERSION as HEAT
from stillroom.quality.heat import check_heat, check_law
from stillroom.quality.sound import VERSION as SOUND
from stillroom.quality.sound import check_sound, told_once
from stillroom.store.lab import Lab


def findings(lab: Lab, book: Book, graph: Graph) -> list[Finding]:
    """All findings of a lab that is reduced, ordered by consequence; what is known already is not redone.

    Ordered: what the leaders and contenders of kept comparisons hang on before what other kept values do;
    then what blocks before what marks; then by how many fans and mountings hang on it, rule and subject.
    """
    return _findings(lab, book, graph, graph.fans | set(book.fans), whole=True)


def findings_of(lab: Lab, book: Book, graph: Graph, fans: Collection[str]) -> list[Finding]:
    """The findings of some fans only, right after their files came in; ordered as those of the whole lab.

    Parameters
    ----------
    fans : their names; a fan whose curves are not worked out yet has no findings.
    """
    return _findings(lab, book, graph, fans, whole=False)


def _findings(lab: Lab, book: Book, graph: Graph, fans: Collection[str], *, whole: bool) -> list[Finding]:
    values = kept_values(lab, book, graph)
    shared = check_instruments(instrument_facts(book, graph))
    shared += check_rigs(rig_facts(book, graph, values), book.settings.limits)
    checked = _checked(lab, book, graph, values, sorted(each for each in fans if each), whole=whole)
    shared += check_copies(_prints(lab, graph), _order(graph))
    found = [*checked, *(each for each in shared if whole or set(each.fans) & set(fans))]
    curves_there = are_there(lab, [each.key for each in graph.curves])
    if whole and graph.heats and curves_there and are_there(lab, [each.key for each in graph.heats]):
        laws = law_facts(lab, book, graph, found)
        found += [each for rig, facts in laws for each in check_law(rig, facts, book.settings.limits)]
    if whole and curves_there:
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


# --- one check a fan, and a kind of test -------------------------------------------------------------------


def _checked(
    lab: Lab, book: Book, graph: Graph, values: KeptValues, fans: Sequence[str], *, whole: bool
) -> list[Finding]:
    """What is found of airflow, sound, heat and control of some fans."""
    airflow = AirflowGathering(lab, book, graph, values)
    sound = SoundGathering(lab, book, graph, values)
    heat = HeatGathering(lab, book, graph, values)
    control = ControlGathering(lab, book, graph)
    of_airflow = _of_airflow(airflow, fans, whole=whole)
    of_sound = _by_fan(f"findings of sound {SOUND}", fans, graph.sounding, sound.key,
                       lambda fan: check_sound(sound.fan(fan)))  # fmt: skip
    of_heat = _by_fan(f"findings of heat {HEAT}", fans, graph.heating, heat.key,
                      lambda fan: check_heat(heat.fan(fan)))  # fmt: skip
    of_control = _by_fan(f"findings of control {CONTROL}", fans, graph.controlled, control.key,
                         lambda fan: check_control(control.fan(fan)))  # fmt: skip
    return [
        *kept_findings(lab, of_airflow),
        *told_once(kept_findings(lab, of_sound)),
        *kept_findings(lab, of_heat),
        *kept_findings(lab, of_control),
    ]


def _of_airflow(gathering: AirflowGathering, fans: Iterable[str], *, whole: bool) -> Iterator[Check]:
    """Checks of airflow of some fans, also of one that is only described; of the whole lab those of its obstacles."""
    method = f"findings {VERSION}"
    for fan in fans:
        nodes = gathering.graph.mountings(fan)
        if nodes or fan in gathering.book.fans:
            needed = tuple(each.key for each in (*nodes, *gathering.obstacles_of(fan)))
            ask = partial(_ask_fan, gathering, fan, nodes)
            yield Check(gathering.fan_key(fan, nodes), fan, method, needed, ask)
    for node in gathering.graph.curves:
        if whole and node.kind == "obstacle":
            ask = partial(_ask_obstacle, gathering, node)
            yield Check(gathering.obstacle_key(node), "", method, (node.key,), ask)


def _ask_fan(gathering: AirflowGathering, fan: str, nodes: Sequence[CurveNode]) -> Found:
    facts = gathering.fan(fan, nodes)
    return Found(check_fan(facts), [each for mounting in facts.mountings for each in prints_of(mounting)])


def _ask_obstacle(gathering: AirflowGathering, node: CurveNode) -> Found:
    facts = gathering.obstacle(node)
    return Found(check_obstacle(facts, gathering.book.settings.limits), prints_of(facts))


def _by_fan(
    method: str,
    fans: Iterable[str],
    nodes_of: Callable[[str], Sequence[SoundNode | HeatNode | ControlNode]],
    key: Callable[[str], str],
    ask: Callable[[str], list[Finding]],
) -> Iterator[Check]:
    """Checks of a kind of test, of those of some fans that it was made with."""
    for fan in fans:
        if needed := tuple(each.key for each in nodes_of(fan)):
            yield Check(key(fan), fan, method, needed, partial(_found, ask, fan))


def _found(ask: Callable[[str], list[Finding]], fan: str) -> Found:
    return Found(ask(fan))


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
