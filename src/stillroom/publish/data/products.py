"""Fans as products, the units that were bought, prices, and what boxes claim, as open data."""

from __future__ import annotations

from collections.abc import Iterable

from stillroom.compare.claims import ClaimCheck
from stillroom.core.claims import ClaimVerdict
from stillroom.lab.purposes import Purpose
from stillroom.publish.data.cells import Cell, decimal_of, figures, places_of
from stillroom.publish.data.fields import AT_LEAST_ZERO, Field, Table, of_record, row_of
from stillroom.publish.data.shown import FAN, MARKS, OF_FAN, OF_SAMPLE, RIG, Shown, joined
from stillroom.records.products import Claim, Fan, Price, Sample
from stillroom.vocabulary import from_si

OF_A_FAN = ("fan", "maker", "model", "size", "thickness", "blades", "wires", "pulses", "full_speed")
OF_A_SAMPLE = ("fan", "sample", "bought", "shop", "lot", "condition", "hours")
OF_A_PRICE = ("fan", "price", "currency", "date", "region", "shop")
OF_A_CLAIM = ("fan", "quantity", "value", "unit", "condition", "tolerance")


def fans(shown: Shown) -> Table:
    """The fans that are published."""
    records = shown.contents.book.fans
    rows = (row_of(records[each], *OF_A_FAN) if each in records else {"fan": each} for each in shown.fans)
    words = "The fans as products. Pulses are those of the tachometer wire in one turn; the full speed is as printed."
    return Table("fans", "Fans", words, of_record(Fan, *OF_A_FAN), tuple(rows), ("fan",))


def samples(shown: Shown) -> Table:
    """The physical units that were measured, and those that are registered."""
    records = shown.contents.book.samples
    measured = {(each.fan, each.sample) for _, each, _ in shown.nodes}
    told = {(each.fan, each.sample): each for each in records.values() if each.fan in shown.fans}
    registered = Field(
        "registered", "registered", "Whether anything but its number is known of it.", "boolean"
    )
    fields = (*of_record(Sample, *OF_A_SAMPLE), registered)
    rows = tuple(_sample(*each, told.get(each)) for each in sorted(measured | told.keys()))
    words = "The units that were bought or supplied, with shop, lot and condition. The model of fan is judged by them."
    return Table("samples", "Samples", words, fields, rows, ("fan", "sample"), (OF_FAN,))


def _sample(fan: str, sample: str, record: Sample | None) -> dict[str, Cell]:
    if record is None:
        return {"fan": fan, "sample": sample, "registered": False}
    return row_of(record, *OF_A_SAMPLE) | {"registered": record.registered is not False}


def mountings(shown: Shown) -> Table:
    """Every act of fitting a sample to a rig that a published number may rest on."""
    fields = (
        Field("mounting", "mounting", "Its name.", constraints={"required": True, "unique": True}),
        FAN,
        *of_record(Sample, "sample"),
        RIG,
        Field("date", "date", "The day of its first reading, ISO 8601."),
        *(
            Field(each.value, each.value, f"Whether {each.value} was measured with it.", "boolean")
            for each in Purpose
        ),
        Field("key", "key", "Keys of its results, parted by blanks."),
    )
    found: dict[str, dict[str, Cell]] = {}
    for purpose, node, key in shown.nodes:
        row = found.setdefault(
            node.subject,
            {"mounting": node.subject, "fan": node.fan, "sample": node.sample, "rig": node.rig or None,
             "date": node.date, **dict.fromkeys((each.value for each in Purpose), False)},
        )  # fmt: skip
        row |= {purpose.value: True, "date": min(str(row["date"]), node.date)}
        row["key"] = f"{row['key']} {key}" if "key" in row else key
    words = (
        "The mountings: the unit of replication is the mounting and the sample, never the reading. A mounting whose "
        "name ends with its test was measured in that test alone."
    )
    rows = tuple(found[each] for each in sorted(found))
    return Table("mountings", "Mountings", words, fields, rows, ("mounting",), (OF_SAMPLE,))


def prices(shown: Shown) -> Table:
    """What shops ask."""
    told = [each for each in shown.contents.book.prices.values() if each.fan in shown.fans]
    ordered = sorted(told, key=lambda each: (each.fan, each.date or "", each.shop or "", each.price))
    rows = tuple(row_of(each, *OF_A_PRICE) for each in ordered)
    words = "Prices of one fan, each with its date and region as far as they are known."
    fields = of_record(Price, *OF_A_PRICE, price=AT_LEAST_ZERO)
    return Table("prices", "Prices", words, fields, rows, (), (OF_FAN,))


def claims(shown: Shown) -> Table:
    """What boxes claim beside what was measured."""
    fields = (
        *of_record(Claim, *OF_A_CLAIM),
        Field("measured", "measured", "What was found under the claim’s condition, in its unit.", "number"),
        Field("low", "95 % from", "Lower end of its 95 % interval.", "number"),
        Field("high", "95 % to", "Upper end of its 95 % interval.", "number"),
        Field("verdict", "verdict", "What may be said of the claim.",
              constraints={"required": True, "enum": [each.value for each in ClaimVerdict]}),
        Field("words", "in words", "The verdict as it is printed, or why the claim can’t be checked."),
        Field("failure", "published as a failure", "Whether it falls short, by enough samples.", "boolean"),
        Field("score", "score", "Measured less claimed, over the uncertainty of both.", "number",
              definition="ζ score of ISO 13528:2015, 9.6, with half of the printed tolerance as the claim’s."),
        Field("samples", "samples", "On how many samples it rests.", "integer", constraints=AT_LEAST_ZERO),
        Field("mountings", "mountings", "On how many mountings it rests.", "integer", constraints=AT_LEAST_ZERO),
        MARKS,
        Field("key", "key", "Key of the result that was measured."),
    )  # fmt: skip
    words = (
        "The box beside the bench. A claim without its condition is not checkable, never false; one sample proves no "
        "failure."
    )
    return Table("claims", "Claims", words, fields, tuple(_checked(shown)), (), (OF_FAN,))


def _checked(shown: Shown) -> Iterable[dict[str, Cell]]:
    for each in shown.contents.claims:
        if each.claim.fan in shown.fans:
            yield row_of(each.claim, *OF_A_CLAIM) | _tolerance(each) | _measured(each)


def _tolerance(check: ClaimCheck) -> dict[str, Cell]:
    """The relative tolerance by which a claim was judged: it may stand in its condition alone; that of a level does."""
    if check.is_level or not check.tolerance:
        return {}
    return {"tolerance": figures(from_si(check.tolerance, "%"))}


def _measured(check: ClaimCheck) -> dict[str, Cell]:
    found, unit = check.measured, check.claim.unit
    told: dict[str, Cell] = {
        "verdict": check.verdict.value,
        "words": check.words,
        "failure": check.is_failure,
        "score": figures(check.z, 3),
    }
    if found is None:
        return told
    value, low, high = (from_si(each, unit) for each in (found.value, found.low, found.high))
    places = places_of(value, low, high)
    return told | {
        "measured": decimal_of(value, places),
        "low": decimal_of(low, places),
        "high": decimal_of(high, places),
        "samples": found.samples,
        "mountings": found.mountings,
        "marks": joined(found.marks),
        "key": found.key,
    }
