from __future__ import annotations

import csv
import dataclasses
import io
import json
import sqlite3
import typing
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillroom import vocabulary
from stillroom.errors import BadInput
from stillroom.records.fields import (
    as_json,
    columns,
    from_json,
    from_sql,
    sql_table,
    sql_values,
    table_header,
)
from stillroom.records.kinds import KINDS
from stillroom.records.products import Fan, Sample

WORDS = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=12)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
LEAVES = st.one_of(WORDS, NUMBERS, st.booleans(), st.integers(-(2**50), 2**50))
VALUES: dict[str, st.SearchStrategy[Any]] = {
    "text": WORDS,
    "number": NUMBERS,
    "whole": st.integers(-(2**62), 2**62),
    "yes-no": st.booleans(),
    "names": st.lists(WORDS, min_size=1, max_size=4).map(tuple),
    "json": st.dictionaries(WORDS, LEAVES, min_size=1, max_size=4),
}


@st.composite
def records(draw: st.DrawFn) -> Any:
    record = KINDS[draw(st.sampled_from(sorted(KINDS)))]
    told = {}
    for column in columns(record):
        if column.required or draw(st.booleans()):
            told[column.field] = draw(VALUES[column.type])
    return record(**told)


@given(records())
@settings(max_examples=300, deadline=None)
def test_a_record_comes_back_from_json_and_from_the_database_exactly(record: Any) -> None:
    kind = type(record)
    text = json.dumps(as_json(record), ensure_ascii=False, allow_nan=False)
    assert from_json(kind, json.loads(text)) == record
    database = sqlite3.connect(":memory:")
    database.execute(sql_table(kind))
    values = [record.name, 1, *sql_values(record)]
    database.execute(f'INSERT INTO "{kind.kind}" VALUES ({",".join("?" * len(values))})', values)
    row = database.execute(f'SELECT * FROM "{kind.kind}"').fetchone()
    database.close()
    assert from_sql(kind, row[2:]) == record


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_field_is_told_once_and_completely(kind: str) -> None:
    record = KINDS[kind]
    assert record.kind == kind
    assert dataclasses.fields(record), "a record has fields"
    known = columns(record)
    headers = [each.header for each in known]
    assert len(set(headers)) == len(headers), "two columns of one header can't be told apart"
    for column in known:
        assert column.type in VALUES
        if column.unit:
            assert column.type == "number"
            assert vocabulary.unit(column.shown).dimension == vocabulary.unit(column.unit).dimension
            assert vocabulary.to_si(1.0, column.unit) == 1.0, "kept in SI"
    hints = typing.get_type_hints(record)
    for column in known:
        optional = type(None) in typing.get_args(hints[column.field])
        assert optional is not column.required, f"{column.field} is required or may be None, not both"


def test_headers_carry_the_unit_that_people_write() -> None:
    assert "full speed [rpm]" in table_header(Fan)
    assert "hours [h]" in table_header(Sample)
    assert table_header(Fan)[0] == "fan"


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_missing_required_field_is_named(kind: str) -> None:
    record = KINDS[kind]
    required = [each for each in columns(record) if each.required]
    with pytest.raises(BadInput, match=required[0].header):
        from_json(record, {})


def test_what_was_not_told_is_left_out_of_json_and_unknown_members_are_ignored() -> None:
    assert as_json(Fan(fan="Bracken")) == {"fan": "Bracken"}
    assert from_json(Fan, {"fan": "Bracken", "from a newer version": 1}) == Fan(fan="Bracken")


def test_a_header_read_back_as_csv_is_the_header() -> None:
    for record in KINDS.values():
        text = io.StringIO()
        csv.writer(text).writerow(table_header(record))
        assert next(csv.reader(io.StringIO(text.getvalue()))) == list(table_header(record))
