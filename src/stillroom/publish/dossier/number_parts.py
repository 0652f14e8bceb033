"""What was found: the fan's numbers and places with other fans unnamed, each mounting, uncertainty, claims."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from stillroom import wording
from stillroom.compare.standing import Standing
from stillroom.lab.disputes import disputed
from stillroom.lab.ranking_words import NEEDED, gap_unit
from stillroom.lab.registering import NOT_REGISTERED
from stillroom.publish.account.ranked import Told
from stillroom.publish.account.whole_release import claim_sentences
from stillroom.publish.contents import Published
from stillroom.publish.document import Block, Bullets, Grid, Heading, Paragraph
from stillroom.publish.dossier.material import Material
from stillroom.publish.methodology.uncertainty import by_source
from stillroom.publish.methodology.words import share_words, two_digits
from stillroom.publish.standing_words import AGAINST, value_words
from stillroom.store import results
from stillroom.store.results import Result
from stillroom.vocabulary import from_si, unit

VALUE = "mounting value"

LEAST_SHARE = 0.02
"""Sources with a smaller part of the variance are summed up [1]."""

NUMBERS = ("measure", "value, 95 %", "list", "places", "how", "samples", "mountings", "marks")


def number_parts(material: Material) -> Iterator[Block]:
    """Its number and place in each comparison, what each mounting gave, and what the uncertainty is made of."""
    yield Heading(1, "Numbers and places")
    placed = [(each, own) for each in material.published if (own := _standing(each, material.fan))]
    if not placed:
        yield Paragraph("The fan stands in no comparison.")
        return
    yield Paragraph(
        "Other fans are named by their place in the list alone: “fan 2 of 6”. Their numbers are not given."
    )
    yield Grid(NUMBERS, tuple(_row(material, *each) for each in placed), right=(5, 6))
    yield Bullets(tuple(_against(material.fan, each) for each, _ in placed))
    yield Bullets(_registered([each for each, _ in placed]))
    yield from _mountings(material, placed)
    yield from _budgets(material, placed)


def _standing(published: Published, fan: str) -> Standing | None:
    return next((each for each in published.ranking.standings if each.fan == fan), None)


def _row(material: Material, published: Published, own: Standing) -> tuple[str, ...]:
    ranked = [each.fan for each in published.ranking.standings if each.rank]
    place = f"fan {ranked.index(own.fan) + 1} of {len(ranked)}" if own.rank else "not ranked"
    marks = dict.fromkeys((*own.marks, disputed(material.book, own.fan, published.words)))
    return (
        published.title,
        value_words(own, published.ranking.unit),
        place,
        wording.rank_range(*own.rank) if own.rank else "none",
        own.how.value,
        str(own.samples),
        str(own.mountings),
        material.veil.over("; ".join(each for each in marks if each)),
    )


def _against(fan: str, published: Published) -> str:
    """Ahead of, behind and too close to call against whom, by places in the list."""
    told = Told(published.ranking, published.slug, published.title)
    names = [each.fan for each in told.ranked]
    groups: dict[str, list[int]] = {}
    for place, other in enumerate(names, start=1):
        if other != fan and fan in names:
            groups.setdefault(AGAINST[told.verdict(fan, other)], []).append(place)
    said = [f"{words} {_fans(groups[words])}" for words in dict.fromkeys(AGAINST.values()) if words in groups]
    return (
        f"{published.title}: {'; '.join(said) or 'compared with no other fan'} (of {len(names)} in the list)."
    )


def _fans(places: Sequence[int]) -> str:
    return f"fan{'' if len(places) == 1 else 's'} {wording.listed([str(each) for each in places])}"


def _registered(published: Sequence[Published]) -> tuple[str, ...]:
    """When the measures were registered, those of which the same is said together."""
    told: dict[str, list[str]] = {}
    for each in published:
        words = each.registered.words if each.registered else NOT_REGISTERED
        told.setdefault(words, []).append(each.title)
    return tuple(
        f"{wording.sentence(words).rstrip('.')}: {'; '.join(titles)}." for words, titles in told.items()
    )


# --- mountings, uncertainty ------------------------------------------------------------------------------------------


def _mountings(material: Material, placed: Sequence[tuple[Published, Standing]]) -> Iterator[Block]:
    """What each mounting gave by itself: so the second sample can be seen beside the first."""
    samples = {each.subject: each.sample for each in material.nodes}
    rows = []
    for published, own in placed:
        for mounting, value in sorted(_values(material, own).items()):
            symbol = published.ranking.unit
            number = wording.with_unit(wording.bare(from_si(value, symbol)), symbol)
            rows.append((published.title, samples.get(mounting, ""), material.veil.over(mounting), number))
    if rows:
        yield Heading(2, "Each mounting by itself")
        yield Grid(("measure", "sample", "mounting", "value"), tuple(rows), right=(3,))


def _values(material: Material, own: Standing) -> dict[str, float]:
    """{mounting: its value, SI} of those on which a number rests."""
    database = material.whole.lab.database
    kept = results.get(database, own.key)
    inputs = kept.inputs.get("values", {}) if kept else {}
    found = {mounting: results.get(database, key) for mounting, key in inputs.items()}
    return {
        mounting: float(each.body["value"])
        for mounting, each in found.items()
        if each and each.kind == VALUE and not each.failed
    }


def _budgets(material: Material, placed: Sequence[tuple[Published, Standing]]) -> Iterator[Block]:
    """The uncertainty of each number: its size, and what part of the variance comes from where."""
    yield Heading(1, "Uncertainty")
    items = []
    for published, own in placed:
        kept = results.get(material.whole.lab.database, own.key)
        if kept is not None and kept.body.get("contributions"):
            items.append(material.veil.over(_budget(published, kept)))
    yield Bullets(tuple(items)) if items else Paragraph("No budget could be written of these numbers.")


def _budget(published: Published, kept: Result) -> str:
    shares = by_source(kept.body["contributions"])
    large = sorted(((share, name) for name, share in shares.items() if share >= LEAST_SHARE), reverse=True)
    symbol = published.ranking.unit
    size = two_digits(float(kept.body["standard_uncertainty"]) / unit(symbol).factor, gap_unit(symbol))
    said = [f"{name} {share_words(share)}" for share, name in large]
    rest = 1.0 - sum(share for share, _ in large)
    said += [f"all else {share_words(rest)}"] if rest > 0.0 else []
    return f"{published.title}: standard uncertainty {size}; of its variance {', '.join(said)}."


# --- claims, exclusions ----------------------------------------------------------------------------------------------


def claim_parts(material: Material) -> Iterator[Block]:
    """What the box claims beside what was measured."""
    yield Heading(1, "What the box claims")
    own = [each for each in material.claims if each.claim.fan == material.fan]
    items = tuple(each.text for each in claim_sentences(own))
    yield Bullets(items) if items else Paragraph("No claim of the box is recorded.")
    out = [
        each.why for one in material.published for each in one.ranking.excluded if each.fan == material.fan
    ]
    if out:
        reasons = dict.fromkeys(material.veil.over(each.partition(NEEDED)[0]) for each in out)
        yield Paragraph(f"Where it is not ranked: {'; '.join(reasons)}.")
