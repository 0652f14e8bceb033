"""A comparison at a noise limit: the limits of its fans, and the fans that have none."""

from __future__ import annotations

from dataclasses import replace

from stillroom.compare.candidates import Excluded
from stillroom.errors import NotPossible
from stillroom.lab.field import Field
from stillroom.lab.question import AtLimit
from stillroom.lab.sound.fan_sound import Sounds
from stillroom.lab.sound.limits import kept_limit
from stillroom.lab.system_words import Plain
from stillroom.lab.through import Through
from stillroom.store.results import Result


def sound_obstacle(through: Through) -> str:
    """The name under which sound is sought that was measured with the same obstacle; "" in free air."""
    return through.mounted or through.words


def limited(sounds: Sounds, field: Field) -> Field:
    """The same comparison with the limit of each fan; one without a limit, or too loud for it, can't be ranked."""
    question = field.question
    if not question.condition.is_limited:
        return field
    limits: dict[str, Result] = {}
    gone: list[Excluded] = []
    for fan in field.nodes:
        try:
            found = kept_limit(sounds, fan, sound_obstacle(question.through), question.condition)
        except NotPossible as error:
            gone.append(Excluded(fan, error.found, measured=True))
            continue
        if found.failed:
            gone.append(Excluded(fan, found.failed, measured=True))
        else:
            limits[fan] = found
    told = sounds.comparable
    return replace(
        field,
        question=replace(question, at_limit=AtLimit(limits, told.geometry, limit_conditions(sounds))),
        nodes={fan: nodes for fan, nodes in field.nodes.items() if fan in limits},
        excluded=(*field.excluded, *gone),
    )


def limit_conditions(sounds: Sounds) -> dict[str, Plain]:
    """The conditions of the sound, and the rule by which a limit is met."""
    return {"noise rule": sounds.book.settings.sound.rule, **sounds.comparable.conditions}
