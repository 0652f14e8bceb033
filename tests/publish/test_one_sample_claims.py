"""A box is not said to fail while one sample says so (rule 42), unless a person accepts that with a reason."""

from __future__ import annotations

from pathlib import Path

from stillroom.core.claims import ClaimVerdict
from stillroom.publish.contents import gather
from stillroom.store.lab import Lab
from stillroom.verbs import add, decide, review
from stillroom.verbs.working import Action

FAN, CLAIMED = "Sedge", "120"
"""A fan of which the demo has one sample, and more airflow than it moves [CFM]."""


def test_a_failure_by_one_sample_is_held_back_until_it_is_accepted(own_lab: Path, tmp_path: Path) -> None:
    table = tmp_path / "claims.csv"
    table.write_text(f"fan,quantity,value,unit,condition\n{FAN},airflow,{CLAIMED},CFM,free delivery 12 V\n")
    add(table, lab=own_lab)

    def told() -> list[str]:
        with Lab(own_lab) as lab:
            claims = gather(lab, "spring", measures=("free-airflow",)).claims
        return [each.words for each in claims if each.claim.fan == FAN and f"{each.claim.value:g}" == CLAIMED]

    held = told()
    assert len(held) == 1
    assert held[0].startswith(ClaimVerdict.NOT_CHECKABLE.value)
    assert "one sample only" in held[0]
    assert "%" not in held[0]
    (open_,) = (
        each
        for each in review(lab=own_lab).data["findings"]
        if each["rule"] == 42 and FAN in each["fans"] and CLAIMED in each["found"]
    )
    decide(open_["id"], Action.REPEAT, reason="a second sample is ordered", by="AB", lab=own_lab)
    assert told() == held
    decide(open_["id"], Action.ACCEPT, reason="the maker confirmed it", by="AB", lab=own_lab)
    assert told()[0].startswith("outside")
