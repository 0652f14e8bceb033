"""When a step from readings to results was done: what a lab's data went through, and the formulas it took."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from stillroom.lab.book import Placed
from stillroom.lab.purposes import Purpose
from stillroom.publish.methodology import cited
from stillroom.publish.methodology.cited import Cited
from stillroom.publish.methodology.facts import Facts


def airflow(facts: Facts) -> bool:
    """Whether airflow was measured."""
    return facts.did(Purpose.AIRFLOW)


def sound(facts: Facts) -> bool:
    """Whether sound was measured."""
    return facts.did(Purpose.SOUND)


def heat(facts: Facts) -> bool:
    """Whether heat was measured."""
    return facts.did(Purpose.HEAT)


def control(facts: Facts) -> bool:
    """Whether the control was."""
    return facts.did(Purpose.CONTROL)


def _bodies(facts: Facts, purpose: Purpose) -> Iterator[dict[str, Any]]:
    return (body for _, body in facts.good(facts.by_purpose.get(purpose, ())))


def _by_wet_bulb(one: Placed) -> bool:
    return "wet_bulb_temperature" in one.taken.quantities and "relative_humidity" not in one.taken.quantities


def wet_bulb(facts: Facts) -> bool:
    """Whether a run read a wet bulb and no humidity."""
    return any(map(_by_wet_bulb, facts.placed.get(Purpose.AIRFLOW, ())))


def humidity(facts: Facts) -> bool:
    """Whether a run had its humidity otherwise."""
    return not all(map(_by_wet_bulb, facts.placed.get(Purpose.AIRFLOW, ())))


def agreed(facts: Facts) -> bool:
    """Whether spreads were agreed."""
    return bool(facts.book.spreads)


def nozzles(facts: Facts) -> bool:
    """Whether nozzles were open."""
    return bool(facts.nozzles)


def metered(facts: Facts) -> bool:
    """Whether a rig gave airflow itself."""
    read = (set(one.taken.quantities) for one in facts.placed.get(Purpose.AIRFLOW, ()))
    return any("flow" in each and "nozzle_pressure" not in each for each in read)


def obstacles(facts: Facts) -> bool:
    """Whether obstacles were measured."""
    return any(True for _ in facts.good(facts.obstacles))


def directions(facts: Facts) -> bool:
    """Whether sweeps went both ways."""
    return len({one.direction for one in facts.placed.get(Purpose.AIRFLOW, ()) if one.direction}) > 1


def asks(of: Callable[[Any], Any]) -> Callable[[Facts], bool]:
    """Whether a published measure asks for something."""
    return lambda facts: any(bool(of(each.asked)) for each in facts.contents.published)


def measures(*starts: str) -> Callable[[Facts], bool]:
    """Whether a measure of such a name is published."""
    return asks(lambda asked: asked.measure.name.startswith(starts))


def recorded(facts: Facts) -> bool:
    """Whether there are recordings."""
    return any("audio" in one.taken.layout for one in facts.placed.get(Purpose.SOUND, ()))


def tables(facts: Facts) -> bool:
    """Whether there are tables of levels."""
    return any("audio" not in one.taken.layout for one in facts.placed.get(Purpose.SOUND, ()))


def of_recordings(holds: Callable[[dict[str, Any]], bool]) -> Callable[[Facts], bool]:
    """Whether something holds for a recording."""
    return lambda facts: any(
        holds(each) for body in _bodies(facts, Purpose.SOUND) for each in body["recordings"]
    )


def of_steps(holds: Callable[[dict[str, Any]], bool]) -> Callable[[Facts], bool]:
    """Whether something holds for a step of a heat run."""
    return lambda facts: any(holds(each) for body in _bodies(facts, Purpose.HEAT) for each in body["steps"])


def clocks(facts: Facts) -> bool:
    """Whether a run had several clocks."""
    return any(len(body["clocks"]) > 1 for body in _bodies(facts, Purpose.HEAT))


def files(facts: Facts) -> bool:
    """Whether a run had several files."""
    return any(len(body["logs"]) > 1 for body in _bodies(facts, Purpose.HEAT))


def heat_by_airflow(facts: Facts) -> bool:
    """Whether both heat and airflow were measured."""
    return facts.did(Purpose.HEAT) and facts.did(Purpose.AIRFLOW)


def control_tables(*kinds: str) -> Callable[[Facts], bool]:
    """Whether there are such tables of the control."""
    return lambda facts: any(
        run["table"] in kinds for body in _bodies(facts, Purpose.CONTROL) for run in body["runs"]
    )


def compared(facts: Facts) -> bool:
    """Whether anything was compared."""
    return bool(facts.contents.published)


def claimed(facts: Facts) -> bool:
    """Whether claims were checked."""
    return bool(facts.contents.claims)


# --- formulas that hang on what was used ---------------------------------------------------------------------


def of_nozzles(facts: Facts) -> tuple[Cited, ...]:
    """The equations of the nozzles that were open, by the length of their throats."""
    ratios = {
        facts.book.nozzles[each].length_ratio or 0.6 for each in facts.nozzles if each in facts.book.nozzles
    }
    known = (cited.COEFFICIENTS.get(round(each, 3)) for each in sorted(ratios, reverse=True))
    return (cited.NOZZLE_FLOW, *(each for each in known if each is not None))


def of_obstacles(facts: Facts) -> tuple[Cited, ...]:
    """The laws of the obstacles that were measured."""
    laws = {body["law"] for _, body in facts.good(facts.obstacles)}
    return tuple(cited.RESISTANCES[each] for each in sorted(laws))
