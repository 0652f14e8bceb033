"""Publishing: a frozen release from the lab as it stands."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from stillroom import wording
from stillroom.lab.executor import Progress, shared_workers, silent
from stillroom.lab.pictures.pictures import ranking_words
from stillroom.publish.contents import Contents, gather
from stillroom.publish.freezing import freeze
from stillroom.publish.release import Release, checked_name
from stillroom.quality import Finding
from stillroom.verbs.doors import open_lab
from stillroom.verbs.said import BLOCKED, Said, Table


def publish(
    name: str,
    *,
    highlight: str = "",
    question: str = "",
    measure: tuple[str, ...] = (),
    lab: Path | None = None,
    progress: Progress = silent,
) -> Said:
    """Freeze a release: charts, tables, open data, documents and the reader's page, in releases/NAME.

    It stops where open findings block what it would say. `decide FINDING accept --reason …` lets one pass; the release
    prints the reason.

    Parameters
    ----------
    name : of the release, such as 'summer-2026'; it is the name of its folder.
    highlight : the fan under review: it carries the accent, and the review is about it.
    question : what the round asked, in words; that of the round where none is given.
    measure : what is published, as 'airflow through rad27 at 35 dBA'; one --measure for each. Without one: those of
        [publish] in lab.toml, else those that a round registered, else the usual ones.
    lab : the lab's folder; the nearest lab.toml upwards where none is given.
    """
    checked_name(name)
    with shared_workers(), open_lab(lab) as opened:
        contents = gather(
            opened, name, highlight=highlight, question=question, measures=measure, progress=progress
        )
        if contents.blocking:
            return blocked(contents.blocking)
        made = freeze(contents, progress)
    return _said(contents, made)


def blocked(findings: Sequence[Finding]) -> Said:
    """What blocks, as a list."""
    many = wording.plural(len(findings), "open finding")
    verb = "blocks" if len(findings) == 1 else "block"
    rows = tuple((each.id, str(each.rule), ", ".join(each.fans), each.title) for each in findings)
    return Said(
        f"Not published: {many} {verb} what the release would say.",
        tables=(("", Table(("finding", "rule", "fans", "what"), rows)),),
        lines=(
            "`stillroom review` tells each in full; `stillroom decide FINDING exclude --reason …` leaves it out,"
            " `accept` lets it pass: the release prints the reason.",
        ),
        data={"published": False, "blocking": [{"id": each.id, "rule": each.rule, "title": each.title,
                                                "fans": list(each.fans)} for each in findings]},
        code=BLOCKED,
    )  # fmt: skip


def _said(contents: Contents, made: Release) -> Said:
    size = sum(each["bytes"] for each in made.manifest.values())
    findings = [ranking_words(each.ranking, each.measure) for each in contents.published]
    accepted = wording.plural(len(contents.accepted), "finding")
    return Said(
        f"Published {made.name}: {wording.plural(len(made.manifest), 'file')}, {size / 1e6:.1f} MB, in {made.folder}.",
        lines=(
            *findings,
            *([f"Accepted by a person and printed in the release: {accepted}."] if contents.accepted else []),
            f"For editors: {made.folder / 'index.html'}",
            f"For readers: {made.folder / 'page' / 'index.html'}",
        ),
        data={
            "published": True,
            "release": made.name,
            "folder": str(made.folder),
            "files": len(made.manifest),
            "bytes": size,
            "measures": list(made.measures),
        },
    )
