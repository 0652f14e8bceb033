"""What a dossier is made of: one fan of the lab, its samples, its runs and the nodes that rest on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from stillroom.compare.claims import ClaimCheck
from stillroom.lab.book import Book, Placed, place_all
from stillroom.lab.purposes import Purpose
from stillroom.lab.recipes import AnyNode
from stillroom.lab.whole import Whole
from stillroom.publish.contents import Published
from stillroom.publish.dossier.veil import Veil
from stillroom.records.products import Sample
from stillroom.records.publishing import Photo


@dataclass(frozen=True)
class Material:
    """One fan with all that the lab has of it.

    Parameters
    ----------
    whole : the lab with everything worked out. fan : as the lab writes it. date : of the dossier.
    published : the comparisons that it is placed in. claims : all that were checked.
    """

    whole: Whole
    fan: str
    date: str
    published: tuple[Published, ...]
    claims: tuple[ClaimCheck, ...]

    @property
    def book(self) -> Book:
        """All records of the lab."""
        return self.whole.book

    @cached_property
    def veil(self) -> Veil:
        """What keeps other fans unnamed."""
        return Veil(self.fan, self.whole.book, self.whole.graph)

    @cached_property
    def runs(self) -> tuple[Placed, ...]:
        """Its runs, used or not, in the order of their dates."""
        own = [each for each in place_all(self.book) if each.fan == self.fan]
        return tuple(sorted(own, key=lambda each: (list(Purpose).index(each.purpose), each.moment, each.run)))

    @cached_property
    def nodes(self) -> tuple[AnyNode, ...]:
        """The mountings that its numbers rest on, by what was measured."""
        return tuple(each for purpose in Purpose for each in self.whole.graph.nodes(purpose, self.fan))

    @cached_property
    def samples(self) -> dict[str, Sample | None]:
        """{sample: its record}, None for one that was measured and never registered."""
        records = {each.sample: each for each in self.book.samples.values() if each.fan == self.fan}
        return {**records, **{each.sample: None for each in self.runs if each.sample not in records}}

    def photos_of(self, sample: str | None = None) -> Sequence[Photo]:
        """Its photos, of one sample where it is named, in the order of their files' names."""
        own = [each for each in self.book.photos.values() if each.fan.casefold() == self.fan.casefold()]
        return sorted(
            (each for each in own if sample is None or _number(each.sample or "") == _number(sample)),
            key=lambda each: (each.file, each.sha256),
        )


def _number(sample: str) -> str:
    """A sample's name for comparison: "s1", "S1" and "1" are one."""
    return sample.casefold().removeprefix("s")
