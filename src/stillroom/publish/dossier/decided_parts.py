"""What was found wrong with a fan's runs, what was decided, and what is disputed."""

from __future__ import annotations

from collections.abc import Iterator

from stillroom import wording
from stillroom.lab.disputes import disputes_of, standing_disputes
from stillroom.lab.exclusions import has_lapsed
from stillroom.publish.account.whole_release import flat, one_line
from stillroom.publish.document import Block, Bullets, Callout, CalloutKind, Grid, Heading, Paragraph
from stillroom.publish.dossier.material import Material
from stillroom.quality import Finding
from stillroom.records.acts import Decision
from stillroom.records.publishing import Dispute


def dispute_parts(material: Material) -> Iterator[Block]:
    """The disputes that stand, as a mark on top; those that were settled as a list."""
    for each in standing_disputes(material.book, material.fan):
        yield Callout(CalloutKind.CAUTION, material.veil.over(_words(each)))
    settled = [each for each in disputes_of(material.book, material.fan) if each.settled]
    if settled:
        yield Paragraph("Disputes that were settled:")
        yield Bullets(tuple(material.veil.over(_words(each)) for each in settled))


def _words(dispute: Dispute) -> str:
    what = f"{one_line(dispute.measure)}: " if dispute.measure else ""
    by = f" by {flat(dispute.by)}" if dispute.by else ""
    when = f" on {dispute.reply_date}" if dispute.reply_date else ""
    said = [f"{what}under dispute since {dispute.since}{by}: “{one_line(dispute.text)}”."]
    said[0] = said[0][:1].upper() + said[0][1:]
    said += [f"The laboratory’s reply{when}: “{one_line(dispute.reply)}”."] if dispute.reply else []
    said += [f"Settled: {one_line(dispute.settled)}."] if dispute.settled else []
    return " ".join(said)


def finding_parts(material: Material) -> Iterator[Block]:
    """The findings about the fan, and what was decided of each; decisions that no finding answers any more are told."""
    yield Heading(1, "Findings and decisions")
    own = {f"fan:{material.fan}"}
    own |= {
        f"{kind}:{name}"
        for each in material.runs
        for kind, name in (("run", each.run), ("mounting", each.mounting))
    }
    found = [each for each in material.whole.found if each.subject in own or each.fans == (material.fan,)]
    decisions = {each.finding: each for each in material.book.decisions.values()}
    rows = [_row(material, each, decisions.pop(each.id, None)) for each in found]
    graph = material.whole.graph
    others = [each for each in decisions.values()
              if each.subject in own and not has_lapsed(each, material.whole.found, graph)]  # fmt: skip
    rows += [_decided(material, each) for each in others]
    if rows:
        yield Grid(("rule", "about", "found", "probable cause", "decided"), tuple(rows))
    else:
        yield Paragraph("Nothing was found against its runs.")


def _row(material: Material, finding: Finding, decision: Decision | None) -> tuple[str, ...]:
    over = material.veil.over
    return (
        f"{finding.rule} {finding.title}",
        over(finding.subject.replace(":", " ", 1)),
        over(finding.found),
        over(finding.cause),
        over(_decision(decision)) if decision else ("open, blocks" if finding.blocks else "a mark"),
    )


def _decided(material: Material, decision: Decision) -> tuple[str, ...]:
    about = material.veil.over(decision.subject.replace(":", " ", 1))
    return decision.rule, about, "", "", material.veil.over(_decision(decision))


def _decision(decision: Decision) -> str:
    """What a person decided: "excluded on 2026-11-26 by A. M.: “…”, before any ranking with it"."""
    words = {"exclude": "excluded", "accept": "accepted", "repeat": "to be repeated"}
    after = {True: ", after a ranking with it had been kept", False: ", before any ranking with it", None: ""}
    action = words.get(decision.action, decision.action)
    said = f"{action} on {decision.time[:10]} by {flat(decision.by)}: “{one_line(decision.reason)}”"
    return wording.stopped(said + after[decision.after_ranking])
