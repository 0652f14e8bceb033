"""Gathering what a dossier is made of."""

from __future__ import annotations

from stillroom.errors import NotPossible, UnknownThing
from stillroom.lab.blocking import open_blocks
from stillroom.lab.book import fans_known
from stillroom.lab.claims import check_claims
from stillroom.lab.executor import Progress, silent
from stillroom.lab.field import as_written
from stillroom.lab.whole import worked_out
from stillroom.publish.contents import gather
from stillroom.publish.dossier.material import Material
from stillroom.store.lab import Lab


def material_of(lab: Lab, fan: str, *, date: str, progress: Progress = silent) -> Material:
    """All that the lab has of one fan, placed in the comparisons that it would publish today.

    Where nothing can be compared yet, the fan still has its runs, claims and findings.

    Parameters
    ----------
    fan : its name, in whatever case. date : of the dossier, ISO 8601.

    Raises
    ------
    UnknownThing : a fan that the lab doesn't know.
    """
    whole = worked_out(lab, progress)
    (name,) = as_written(whole.book, whole.graph, (fan,))
    known = whole.graph.fans | set(whole.book.fans) | set(fans_known(whole.book).values())
    if name not in known:
        raise UnknownThing("fan", found=repr(fan), expected=", ".join(sorted(known)) or "a fan of the lab")
    try:
        contents = gather(lab, "dossier", date=date, progress=progress)
    except NotPossible:
        blocked = open_blocks(whole.found, whole.book.decisions)
        claims = check_claims(lab, whole.book, whole.graph, only=(name,), blocked=blocked, progress=progress)
        return Material(whole, name, date, (), claims)
    return Material(contents.whole, name, date, contents.published, contents.claims)
