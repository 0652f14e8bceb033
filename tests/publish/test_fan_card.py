"""Cards of fans: one sheet each, its numbers those of the rankings, its words those of the records."""

from __future__ import annotations

import base64
import math
import re
import struct
import zlib
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from document_examples import HOSTILE
from pypdf import PdfReader
from test_documents_pdf import elements, words

from stillroom import wording
from stillroom.compare.candidates import Bound
from stillroom.lab.executor import silent
from stillroom.publish.contents import Contents
from stillroom.publish.document import Callout, CalloutKind, Figure, plain
from stillroom.publish.document.as_text import as_text
from stillroom.publish.dossier.photos import picture_of
from stillroom.publish.fan_card import (
    PHOTO_PIXELS,
    about,
    card_files,
    card_of,
    drawn,
    photo_of,
    price_words,
    set_card,
    small_photo,
    write_fan_cards,
)
from stillroom.publish.standing_words import readers_word
from stillroom.records.products import Price
from stillroom.records.publishing import Dispute

MARKS = re.compile(r"\s+")


def flat(text: str) -> str:
    """Words with every blank alike: cells break over lines."""
    return MARKS.sub(" ", text)


@pytest.fixture(scope="module")
def folder(gathered: Contents, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("cards") / "documents"
    made = write_fan_cards(gathered, place, silent)
    assert sorted(made) == sorted(place.iterdir())
    return place


@pytest.fixture(scope="module")
def cards(gathered: Contents, folder: Path) -> Mapping[str, PdfReader]:
    return {fan: PdfReader(folder / name) for fan, name in card_files(gathered.fans).items()}


@pytest.fixture(scope="module")
def told(cards: Mapping[str, PdfReader]) -> Mapping[str, str]:
    """The words of each card."""
    return {fan: flat(words(read)) for fan, read in cards.items()}


def other(contents: Contents, **changes: object) -> Contents:
    """The same contents with other records."""
    return replace(contents, whole=contents.whole._replace(book=replace(contents.book, **changes)))  # type: ignore[arg-type]


def test_every_ranked_fan_has_a_card_on_one_sheet(
    gathered: Contents, cards: Mapping[str, PdfReader], told: Mapping[str, str]
) -> None:
    assert set(cards) == {each.fan for one in gathered.published for each in one.ranking.standings}
    for fan, read in cards.items():
        assert len(read.pages) == 1
        root = read.trailer["/Root"]
        assert root["/Lang"] == "en"
        assert "<pdfuaid:part>1</pdfuaid:part>" in root["/Metadata"].get_data().decode()
        assert read.metadata is not None
        assert read.metadata.title == fan
        assert read.metadata["/CreationDate"].startswith("D:20260304")
        spoken = [str(each["/Alt"]) for each in elements(read) if each["/S"] == "/Figure" and "/Alt" in each]
        *photos, curve, level = spoken
        assert photos == [f"Photo of {fan}"] * (photo_of(gathered, fan) is not None)
        assert "PQ curves, static pressure against airflow" in curve
        assert "m³/h" not in curve.replace("Airflow, m³/h", "")
        assert "Level" in level
        said = told[fan]
        assert f"release {gathered.name} · {gathered.date}" in said
        assert "Method " in said


def test_the_numbers_are_those_of_the_rankings(gathered: Contents, told: Mapping[str, str]) -> None:
    seen = 0
    for one in gathered.published:
        ranked = sum(each.rank is not None for each in one.ranking.standings)
        for each in one.ranking.standings:
            said = told[each.fan]
            assert flat(one.title) in said
            if each.bound is Bound.NONE and math.isfinite(each.low) and math.isfinite(each.high):
                number = wording.with_interval(each.value, each.low, each.high, one.ranking.unit)
                place = f"{wording.rank_range(*each.rank)} of {ranked}" if each.rank else "none"
                row = f"{number} {place} {readers_word(each, one.ranking)} {each.how.value}"
                assert flat(f"{row} {each.samples} {each.mountings}") in said
                seen += 1
            for mark in each.marks:
                assert flat(mark) in said
    assert seen >= 30


def test_claims_stand_beside_what_was_measured(gathered: Contents, told: Mapping[str, str]) -> None:
    shown = [each for each in gathered.claims if each.claim.fan in told]
    assert shown
    for each in shown:
        said = told[each.claim.fan]
        assert flat(each.words) in said
        assert wording.with_unit(f"{each.claim.value:g}", each.claim.unit).replace("\u00a0", " ") in said


def test_a_card_says_whose_fan_it_is_and_what_it_costs(gathered: Contents, told: Mapping[str, str]) -> None:
    for fan, said in told.items():
        record = gathered.book.fans[fan]
        price = next(each for each in gathered.book.prices.values() if each.fan == fan)
        assert record.maker is not None
        assert record.maker in said
        assert f"{1e3 * (record.size or 0):g} mm × {1e3 * (record.thickness or 0):g} mm" in said
        assert f"{price.price:.2f} {price.currency} on {price.date}, {price.region}" in said
        assert flat(about(gathered, fan)) in said


def test_the_page_leads_to_every_card(gathered: Contents, folder: Path) -> None:
    page = (folder / "fans.html").read_text(encoding="utf-8")
    targets = re.findall(r'href="([^"#]+)"', page)
    assert targets == list(card_files(gathered.fans).values())
    assert all((folder / each).is_file() for each in targets)


def test_a_disputed_fan_carries_the_dispute_and_the_reply(gathered: Contents) -> None:
    dispute = Dispute(
        fan="Sedge", measure="free-airflow", since="2026-02-02", by=f"Quillmoor {HOSTILE}", text="Too low",
        reply="We measured a second unit", reply_date="2026-02-09",
    )  # fmt: skip
    settled = replace(dispute, fan="Bracken", settled="2026-02-10")
    told = other(gathered, disputes={each.name: each for each in (dispute, settled)})
    card = card_of(told, "Sedge", "x.pdf")
    (callout,) = [each for each in card.document.blocks if isinstance(each, Callout)]
    assert callout.kind is CalloutKind.CAUTION
    assert plain(callout.text) == (
        f"Under dispute since 2026-02-02 by Quillmoor {HOSTILE} (free-airflow): Too low."
        " The laboratory’s reply of 2026-02-09: We measured a second unit."
    )
    assert as_text(card.document).count("under dispute since 2026-02-02") == 1
    assert "dispute" not in as_text(card_of(told, "Bracken", "x.pdf").document)


def test_words_of_records_are_words_on_a_card(gathered: Contents, tmp_path: Path) -> None:
    record = replace(gathered.book.fans["Sedge"], maker=HOSTILE, model=None)
    card = card_of(other(gathered, fans={**gathered.book.fans, "Sedge": record}), "Sedge", "x.pdf")
    read = PdfReader(set_card(tmp_path, card))
    assert HOSTILE[:40] in flat(words(read))
    assert len(read.pages) == 1


def test_a_card_is_the_same_bytes_each_time(gathered: Contents, folder: Path, tmp_path: Path) -> None:
    name = card_files(gathered.fans)["Sedge"]
    again = set_card(tmp_path, card_of(gathered, "Sedge", name))
    assert again.read_bytes() == (folder / name).read_bytes()


def test_a_fan_without_sound_or_curve_says_so(gathered: Contents, monkeypatch: pytest.MonkeyPatch) -> None:
    graph = replace(gathered.whole.graph, sounds=())
    card = card_of(replace(gathered, whole=gathered.whole._replace(graph=graph)), "Sedge", "x.pdf")
    assert len(card.pictures) == 1
    assert "No level against speed is drawn:" in as_text(card.document)
    assert len([each for each in drawn(card).blocks if isinstance(each, Figure)]) == 1


def png(wide: int, high: int) -> bytes:
    """A grey picture (PNG, third edition, 5 and 11)."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    rows = b"".join(b"\0" + bytes([40 + row % 200]) * wide for row in range(high))
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    note = chunk(b"tEXt", b"Comment\0taken at home")
    chunks = (chunk(b"IHDR", head), note, chunk(b"IDAT", zlib.compress(rows)), chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)


@pytest.mark.parametrize(("wide", "high"), [(1200, 900), (40, 20), (3000, 100)])
def test_a_photo_stands_beside_the_title(gathered: Contents, tmp_path: Path, wide: int, high: int) -> None:
    photo = picture_of(png(wide, high), "a photo")
    figure = small_photo(photo, "Sedge")
    assert f'viewBox="0 0 {wide} {high}"' in figure.svg
    inside = base64.b64decode(figure.svg.partition("base64,")[2].partition('"')[0])
    pixels = struct.unpack(">II", inside[16:24])
    assert max(pixels) == min(PHOTO_PIXELS, max(wide, high))
    assert b"home" not in inside
    card = replace(card_of(gathered, "Sedge", "x.pdf"), photo=photo, pictures=())
    read = PdfReader(set_card(tmp_path, card))
    assert len(read.pages) == 1
    assert [str(each["/Alt"]) for each in elements(read) if "/Alt" in each] == ["Photo of Sedge"]


def test_a_photo_on_its_side_is_brought_upright() -> None:
    turned = replace(picture_of(png(120, 60), "a photo"), turned=6)
    assert 'viewBox="0 0 60 120"' in small_photo(turned, "Sedge").svg


def test_each_fan_has_a_file_of_its_own() -> None:
    names = card_files(("Fan A", "fan-a", "Fän A", "風", "☃", "x" * 300))
    assert len(set(names.values())) == 6
    assert all(re.fullmatch(r"fan-[a-z0-9-]+\.pdf|fan(-\d)?\.pdf", each) for each in names.values())
    assert all(len(each) < 120 for each in names.values())


def test_the_latest_price_counts_and_the_lowest_of_its_day() -> None:
    told = [
        Price(fan="A", price=9.0, currency="EUR", date="2026-01-01", region="EU"),
        Price(fan="A", price=12.5, currency="EUR", date="2026-02-01", region="EU"),
        Price(fan="A", price=11.0, currency="EUR", date="2026-02-01", region="UK", shop="Peatlane"),
        Price(fan="A", price=14.0, currency="USD", date="2026-02-01"),
        Price(fan="B", price=3.0),
    ]
    assert price_words(told, "A") == "11.00 EUR and 14.00 USD on 2026-02-01, UK"
    assert price_words(told, "B") == "3.00 on a day not told"
    assert price_words(told, "C") == "no price recorded"
