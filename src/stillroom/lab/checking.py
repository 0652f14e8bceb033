"""Findings kept by the key of all that their rules read: what was checked once is not checked again."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass

from stillroom.quality import Finding, Print
from stillroom.store import results
from stillroom.store.lab import Lab
from stillroom.store.results import Result

CHECK = "check"
"""The kind of result that findings are kept as."""


@dataclass(frozen=True)
class Found:
    """What a check found, and the fingerprints of the readings that it looked at."""

    findings: Sequence[Finding]
    prints: Sequence[Print] = ()


@dataclass(frozen=True)
class Check:
    """One thing to be checked.

    Parameters
    ----------
    key, subject : of its result. method : the rules with their version. needed : keys of the results that it reads.
    ask : asks the rules.
    """

    key: str
    subject: str
    method: str
    needed: tuple[str, ...]
    ask: Callable[[], Found]

    def result(self) -> Result:
        """What the rules find now."""
        found = self.ask()
        body = {
            "findings": [each.as_dict() for each in found.findings],
            "prints": [each.as_list() for each in found.prints],
        }
        return Result(self.key, CHECK, self.subject, {"curves": list(self.needed)}, self.method, False, body)


def kept_findings(lab: Lab, checks: Iterable[Check]) -> list[Finding]:
    """What checks find; those whose results aren't all there yet are left for later."""
    found: list[Finding] = []
    made: list[Result] = []
    for check in checks:
        kept = results.get(lab.database, check.key)
        if kept is None and are_there(lab, check.needed):
            kept = check.result()
            made.append(kept)
        if kept is not None:
            found += [Finding.from_dict(each) for each in kept.body["findings"]]
    if made:
        lab.put_results(made)
    return found


def are_there(lab: Lab, keys: Collection[str]) -> bool:
    """Whether all results of some keys are there."""
    return results.known(lab.database, lab.path, keys) == set(keys)
