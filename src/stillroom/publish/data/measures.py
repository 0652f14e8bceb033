"""The published measures and their standings as open data."""

from __future__ import annotations

from dataclasses import replace

from stillroom.compare.candidates import MarginKind
from stillroom.core.multiple import Merit
from stillroom.lab.registering import NOT_REGISTERED
from stillroom.lab.system_words import conditions_line
from stillroom.publish.contents import Published
from stillroom.publish.data.cells import Cell
from stillroom.publish.data.fields import AT_LEAST_ZERO, REQUIRED, Field, Link, Row, Table
from stillroom.publish.data.shown import OF_FAN, Shown
from stillroom.publish.data.standing_rows import FIELDS, IN_UNIT, standing_rows
from stillroom.vocabulary import BY_NAME

SLUG = Field("slug", "measure", "Short name of the measure under its condition.", constraints=REQUIRED)
OF_MEASURE = Link(("slug",), "measures", ("slug",))


def measures(shown: Shown) -> Table:
    """One row for each published measure: its definition, unit, condition and margin."""
    fields = (
        SLUG,
        Field("title", "title", "The measure and its condition in words.", constraints=REQUIRED),
        Field("measure", "name", "The measure’s name.", constraints=REQUIRED),
        Field("version", "version", "Of the measure; raised when the same curve would give another number.",
              constraints=REQUIRED),
        Field("definition", "definition", "What the number is.", constraints=REQUIRED),
        Field("quantity", "quantity", "The quantity of its values, with its symbol and SI unit.", constraints=REQUIRED),
        Field("unit", "unit", "Of all its values here.", constraints=REQUIRED),
        Field("better", "better", "Which way is better.",
              constraints={"required": True, "enum": [each.value for each in Merit]}),
        Field("obstacle", "obstacle", "What the air goes through, as it was asked; empty for none."),
        Field("setting", "setting", "At which setting, speed or noise limit."),
        Field("conditions", "conditions", "All conditions under which fans were compared, in one line."),
        Field("margin", "margin",
              "The practical margin: a smaller gap is nothing that a buyer would notice. Fixed before data are seen "
              "where the measure was registered.", "number", constraints=AT_LEAST_ZERO),
        Field("margin_kind", "margin kind", "relative: a share of the mean of two values; absolute: in the unit.",
              constraints={"required": True, "enum": [each.value for each in MarginKind]}),
        Field("best", "best", "The fans that can’t be excluded as the best, parted by a bar."),
        Field("round", "round", "The round by which it was registered."),
        Field("registered", "registered", "Whether a round named it before its data, in words.", constraints=REQUIRED),
    )  # fmt: skip
    rows = tuple(_measure(each) for each in shown.contents.published)
    words = "What is compared: each measure with its definition, its version, its condition and its margin."
    return Table("measures", "Measures", words, fields, rows, ("slug",))


def _measure(each: Published) -> dict[str, Cell]:
    found, told, quantity = each.ranking, each.registered, BY_NAME[each.measure.quantity]
    setting = found.conditions.get("speed")
    return {
        "slug": each.slug,
        "title": each.title,
        "measure": found.measure,
        "version": found.version,
        "definition": found.definition,
        "quantity": f"{quantity.label}, {quantity.symbol}, {quantity.unit}",
        "unit": found.unit,
        "better": each.measure.merit.value,
        "obstacle": each.asked.condition.obstacle or None,
        "setting": str(setting) if setting else None,
        "conditions": conditions_line(found.conditions).removeprefix("Conditions: "),
        "margin": float(f"{found.margin.size:.12g}"),
        "margin_kind": found.margin.kind.value,
        "best": " | ".join(found.best) or None,
        "round": (told.round or None) if told else None,
        "registered": told.words if told else NOT_REGISTERED,
    }


def standings(shown: Shown) -> Table:
    """All standings in one long table."""
    unit = Field("unit", "unit", "Of value, interval and range.", constraints=REQUIRED)
    told = tuple(replace(each, description=_with_unit(each)) for each in FIELDS)
    rows = tuple(_rows(shown))
    words = (
        "Every fan in every published measure, best value first; then those that were measured and can’t be "
        "ranked, with why. The gaps between any two fans are in standings/, in the JSON file of each measure."
    )
    links = (OF_MEASURE, OF_FAN)
    return Table("standings", "Standings", words, (SLUG, unit, *told), rows, ("slug", "fan"), links)


def _with_unit(each: Field) -> str:
    return f"{each.description} In the unit of the row." if each.name in IN_UNIT else each.description


def _rows(shown: Shown) -> list[Row]:
    return [
        {"slug": one.slug, "unit": one.ranking.unit} | row
        for one in shown.contents.published
        for row in standing_rows(one.ranking, shown.contents.book.fans)
    ]
