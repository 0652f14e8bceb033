"""A small laboratory with sound only: two fans in free air, each with a ramp and dwells, brought in and reduced."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from stillroom.demo.calendar import USUAL_DAY, calendar_of
from stillroom.demo.catalogue import fans, obstacles
from stillroom.demo.fan import Setting
from stillroom.demo.plan import Mounting
from stillroom.demo.sound.plan import Session, Visit, dwell, ramp
from stillroom.demo.sound.room import AIR_DENSITY
from stillroom.demo.sound.truth import Blowing, LimitTruth, SoundTruth, limit_truths
from stillroom.demo.sound.voices import mounted_voice
from stillroom.demo.sound.write import World, build_world, write_sound
from stillroom.demo.tables import write_fans
from stillroom.demo.write import samples
from stillroom.lab.book import open_book
from stillroom.lab.intake.intake import bring_in
from stillroom.lab.recipes import build_graph
from stillroom.lab.reducing import reduce_lab
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.set_list import AtNoise, set_list
from stillroom.measures import Condition
from stillroom.records.settings import template
from stillroom.store import folder
from stillroom.store.lab import Lab

LIMITS = (27.0, 32.0, 37.0)
"""Between them the inverting fan inverts, also where its sample is loud or quiet."""
DUTIES = (46.0, 64.0, 82.0, 100.0)


@dataclass(frozen=True)
class SmallLab:
    """What was written, and what the laboratory says of it: {(fan, limit): row of the set list}."""

    world: World
    session: Session
    truth: SoundTruth
    rows: dict[tuple[str, float | None], AtNoise]

    def of_model(self, fan: str, limit: float) -> LimitTruth:
        """The truth of the model, in the usual air."""
        blowing = Blowing(self.world.models[fan], self.world.voice(fan), None)
        return next(limit_truths(blowing, "", "", (limit,)))

    def of_mounting(self, fan: str, limit: float) -> LimitTruth:
        """The truth of the mounting as it hung there, on the laboratory's own scale."""
        (visit,) = (each for each in self.session.visits if each.fan == fan)
        voice = mounted_voice(self.world.room, self.world.voice(fan, "s1"), visit.name, self.session.day)
        air = 20 * math.log10(self.world.room.density(self.session.day, visit.name) / AIR_DENSITY)
        voice = replace(voice, level=voice.level + self.world.room.bias + air)
        return next(limit_truths(Blowing(self.world.samples[fan, "s1"], voice, None), "s1", "", (limit,)))


def small_lab(base: Path, seed: int, names: Sequence[str]) -> SmallLab:
    """Write the files, bring them in, reduce them with few trials and ask for the set list."""
    models = fans(seed, obstacles(seed, full=False), full=False)
    bought = samples(models, tuple(Mounting(name, "s1", 1) for name in names), seed)
    world = build_world(seed, models, bought, {})
    session = Session(2, 9, tuple(_visits(names)))
    files = base / "files"
    files.mkdir(parents=True)
    write_fans(files, models)
    truth, _ = write_sound(files, world, calendar_of(USUAL_DAY, 6), (session,), (105, 365), metered=False)
    path = base / "lab"
    folder.make(path, template("Small").replace("# trials = 2000", "trials = 500"))
    with Lab(path) as lab:
        bring_in(lab, [files], {}).refuse_bad()
        book = open_book(lab)
        graph = build_graph(book)
        reduce_lab(lab, graph, workers=1)
        found = set_list(Sounds(lab, book, graph), [Condition(noise=each) for each in LIMITS])
    return SmallLab(world, session, truth, {(each.fan, each.noise): each for each in found.rows})


def _visits(names: Sequence[str]) -> Iterator[Visit]:
    for name in names:
        yield Visit(name, "s1", 1, (ramp(), *(dwell(Setting(each)) for each in DUTIES)))
