"""Who and what there is in the invented laboratory: fans, makers, obstacles. All names are made up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from stillroom.demo.draws import Draws
from stillroom.demo.fan import REFERENCE_SPEED, Fan, Obstacle, Shape, crossings

CONTENDERS = ("Bracken", "Tormentil", "Bilberry", "Asphodel")
"""Fans whose airflow through the 27 mm radiator at full speed is nearly the same."""
STALLING = "Asphodel"
"""The fan with a deep dip, which the dense radiator meets several times."""
QUICK = (*CONTENDERS, "Sedge", "Sundew")
OTHERS_120 = ("Crowberry", "Cottongrass", "Cloudberry", "Bogbean", "Gorse", "Milkwort")
OTHERS_140 = ("Bearberry", "Lousewort", "Bedstraw", "Spearwort", "Eyebright")
BY_VOLTAGE = ("Butterwort", "Cranberry", "Stonecrop")
"""Fans without a control wire, set by their supply voltage; the last is of 140 mm."""
OTHERS = (*OTHERS_120, *OTHERS_140, *BY_VOLTAGE)
REFERENCE_FAN = "Bogmyrtle"
"""The fan that is measured first, in the middle and last of each day to watch the rig."""
RETIRED = ("Harebell", "Cowberry")
"""Fans of earlier rounds, of which only finished numbers are left."""
MAKERS = ("Fennock", "Ulverhag", "Tarnbeck", "Skelrigg", "Quillmoor")
SHOPS = ("Mirefold Parts", "Hagstone Supply", "Peatlane")
INITIALS = ("A. M.", "K. T.", "R. O.")

REFERENCE_OBSTACLE = "rad27"
FIRST_VERSION = "1"
DENSE_OBSTACLE = "dense"
COMMON_FLOW = 72.0
"""Airflow of the contenders through the 27 mm radiator at full speed [m³/h]."""

BEHIND = 0.95
"""The other fans of 120 mm reach less than this share of it."""

_OBSTACLES = (
    # name, kind, description, a [Pa/(m³/h)], b [Pa/(m³/h)²]: per 120 mm tile
    ("mesh", "filter", "mesh filter", 0.035, 3e-4),
    ("rad27", "radiator", "radiator, 27 mm thick", 0.085, 1.15e-3),
    ("dense", "radiator", "dense radiator with a dust filter", 0.16, 2.6e-3),
    ("grille", "grille", "open grille", 0.0, 1.2e-4),
    ("fine", "filter", "fine filter", 0.08, 6e-4),
    ("rad45", "radiator", "radiator, 45 mm thick", 0.11, 1.5e-3),
)


def obstacles(seed: int, *, full: bool) -> tuple[Obstacle, ...]:
    """The obstacles, each a few per cent off its kind's usual resistance.

    Three of 120 mm; with `full` six of 120 mm, the reference radiator in its second version too, and the
    first three once more with an opening of 140 mm.
    """
    found = [_obstacle(seed, row, 120) for row in (_OBSTACLES if full else _OBSTACLES[:3])]
    if full:
        place = [each.name for each in found].index(REFERENCE_OBSTACLE)
        first = found[place] = replace(found[place], several=True)
        found.append(replace(first, version="2", a=first.a * SWAPPED[0], b=first.b * SWAPPED[1]))
        found += [_obstacle(seed, row, 140) for row in _OBSTACLES[:3]]
    return tuple(found)


SWAPPED = (1.05, 1.09)
"""Resistance of the second radiator of a kind over the first's: a and b."""


def fans(seed: int, obstructions: tuple[Obstacle, ...], *, full: bool) -> tuple[Fan, ...]:
    """The fan models: six, or with `full` twenty and the reference fan."""
    by_name = {each.name: each for each in obstructions if each.version == FIRST_VERSION}
    found = list(_quick(seed, by_name[REFERENCE_OBSTACLE], by_name[DENSE_OBSTACLE]))
    if full:
        radiator = by_name[REFERENCE_OBSTACLE]
        for i, name in enumerate(OTHERS_120):
            fan = _drawn(seed, name, i, size=120, thickness=30 if i % 6 == 5 else 25)
            found.append(_behind(seed, fan, radiator))
        for i, name in enumerate(OTHERS_140):
            found.append(_drawn(seed, name, i, size=140, thickness=25))
        for i, name in enumerate(BY_VOLTAGE):
            size = 140 if name == BY_VOLTAGE[-1] else 120
            fan = replace(_drawn(seed, name, i, size=size, thickness=25), wires=3, dead_volts=1.6 + 0.2 * i)
            found.append(fan if size == 140 else _behind(seed, fan, radiator))
        found.append(_drawn(seed, REFERENCE_FAN, 0, size=120, thickness=25))
    return tuple(found)


def retired(seed: int) -> tuple[Fan, ...]:
    """Fans of earlier rounds, of which only finished numbers are left."""
    return tuple(_drawn(seed, name, i, size=120, thickness=25) for i, name in enumerate(RETIRED))


def _obstacle(seed: int, row: tuple[str, str, str, float, float], tile: int) -> Obstacle:
    name, kind, description, a, b = row
    if tile == 140:
        name, a, b = f"{name}-140", 0.73 * a, 0.54 * b
    draws = Draws(seed, f"obstacle {name}")
    return Obstacle(
        name=name,
        version=FIRST_VERSION,
        kind=kind,
        description=description,
        tile=tile / 1000,
        a=a * 3600 * draws.near_one(0.03),
        b=b * 3600**2 * draws.near_one(0.03),
    )


def _quick(seed: int, radiator: Obstacle, dense: Obstacle) -> Iterator[Fan]:
    for i, name in enumerate(QUICK):
        fan = _drawn(seed, name, i, size=120, thickness=25)
        draws = Draws(seed, f"target {name}")
        share = 1.0 + draws.between(-0.006, 0.006) if name in CONTENDERS else (0.93, 0.86)[i - 4]
        wanted = share * COMMON_FLOW / 3600
        if name == STALLING:
            fan = _stalling(_reaching(fan, radiator, wanted), dense)
        yield _reaching(fan, radiator, wanted)


def _behind(seed: int, fan: Fan, radiator: Obstacle) -> Fan:
    """The fan, slower where it would come too near the contenders."""
    met = crossings(fan, radiator.drop, free_speed=fan.full_speed, sagging=True)
    if met[-1].flow < BEHIND * COMMON_FLOW / 3600:
        return fan
    share = BEHIND - Draws(seed, f"behind {fan.name}").between(0.0, 0.14)
    return _reaching(fan, radiator, share * COMMON_FLOW / 3600)


def _stalling(fan: Fan, obstacle: Obstacle) -> Fan:
    """The fan with a deep, narrow dip placed where an obstacle meets its curve three times.

    Of the places tried, the one that keeps three crossings over the widest span of resistances.
    """
    widest, best = 0, fan
    for place in range(30, 47, 2):
        tried = replace(fan, shape=replace(fan.shape, dip=0.5, dip_at=place / 100, dip_width=0.05))
        held = 0
        for speed, sagging in ((fan.full_speed, True), (REFERENCE_SPEED, False)):
            for scale in (0.9, 0.95, 1.0, 1.05, 1.1):
                heavier = replace(obstacle, a=obstacle.a * scale, b=obstacle.b * scale)
                held += len(crossings(tried, heavier.drop, free_speed=speed, sagging=sagging)) == 3
        if held > widest:
            widest, best = held, tried
    return best


def _reaching(fan: Fan, obstacle: Obstacle, flow: float) -> Fan:
    """The fan with the full speed at which it moves `flow` [m³/s] through an obstacle."""
    low, high = 10.0, 60.0
    for _ in range(22):  # far finer than the whole rpm that are kept
        middle = (low + high) / 2
        met = crossings(fan, obstacle.drop, free_speed=middle, sagging=True)
        if met[-1].flow < flow:
            low = middle
        else:
            high = middle
    return replace(fan, full_speed=round(low * 60) / 60)


def _drawn(seed: int, name: str, i: int, *, size: int, thickness: int) -> Fan:
    """A fan model drawn from the usual ranges of its size.

    k_q in m³/h per rpm, k_p in Pa per rpm², speed in rpm, power in W at 1,500 rpm.
    """
    draws = Draws(seed, f"model {name}")
    usual = {
        (120, 25): ((0.054, 0.066), (6.0e-6, 8.5e-6), (450, 1800), (0.7, 1.2), (7, 9, 11)),
        (120, 30): ((0.058, 0.066), (7.5e-6, 1.0e-5), (500, 2900), (1.0, 1.5), (7, 9)),
        (140, 25): ((0.085, 0.105), (7.0e-6, 1.2e-5), (400, 1650), (1.2, 1.8), (7, 9)),
    }
    k_q, k_p, speeds, watts, blades = usual[size, thickness]
    idle, rubbing = 0.12, 0.006
    power = draws.between(*watts)
    return Fan(
        name=name,
        maker=MAKERS[i % len(MAKERS)],
        size=size / 1000,
        thickness=thickness / 1000,
        blades=blades[i % len(blades)],
        wires=4,
        pulses=2,
        k_q=draws.between(*k_q) / 60,
        k_p=draws.between(*k_p) * 3600,
        shape=Shape(
            a=draws.between(0.28, 0.45),
            m=draws.between(2.3, 3.1),
            dip=draws.between(0.05, 0.16),
            dip_at=draws.between(0.35, 0.45),
            dip_width=draws.between(0.09, 0.12),
        ),
        reynolds=draws.between(0.02, 0.04),
        full_speed=round(speeds[1] * draws.between(0.94, 1.06)) / 60,
        lowest_speed=round(speeds[0] * draws.between(0.95, 1.15)) / 60,
        dead_duty=draws.between(0.12, 0.18),
        duty_power=draws.between(0.92, 1.08),
        sag=draws.between(0.015, 0.035),
        idle=idle,
        rubbing=rubbing,
        cubic=(power - idle - rubbing * 25) / 25**3,
    )
