"""Pictures on cards are kept: with one fan changed only its own are drawn, and a kept one gives the same card."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from stillroom.publish.contents import Contents
from stillroom.publish.fan_card import Card, card_files, card_of, set_card


def drawings(lab: Path) -> set[Path]:
    """The drawings that a lab's cache keeps."""
    return set((lab / "cache" / "charts").rglob("*.bundle"))


def all_set(cards: list[Card], folder: Path) -> dict[str, bytes]:
    """The files of cards."""
    folder.mkdir()
    return {each.fan: set_card(folder, each).read_bytes() for each in cards}


def test_with_one_fan_changed_only_its_pictures_are_drawn(gathered: Contents, tmp_path: Path) -> None:
    names = card_files(gathered.fans)
    lab = tmp_path / "lab"
    cards = [replace(card_of(gathered, fan, names[fan]), lab=lab) for fan in gathered.fans[:3]]
    first = all_set(cards, tmp_path / "first")
    before = drawings(lab)
    assert len(before) == sum(len(each.pictures) for each in cards) > 3

    assert all_set(cards, tmp_path / "again") == first
    assert drawings(lab) == before

    curve = cards[1].pictures[0]
    cards[1] = replace(cards[1], pictures=(replace(curve, title="Another curve"), *cards[1].pictures[1:]))
    after = all_set(cards, tmp_path / "after")
    assert len(drawings(lab) - before) == 1
    assert [fan for fan in first if after[fan] != first[fan]] == [cards[1].fan]


def test_a_release_of_another_name_and_day_draws_no_picture_anew(gathered: Contents, tmp_path: Path) -> None:
    fan = gathered.fans[0]
    lab = tmp_path / "lab"
    all_set([replace(card_of(gathered, fan, "a.pdf"), lab=lab)], tmp_path / "first")
    before = drawings(lab)
    later = replace(gathered, name="summer 2026", date="2026-07-01")
    all_set([replace(card_of(later, fan, "a.pdf"), lab=lab)], tmp_path / "later")
    assert drawings(lab) == before


def test_a_torn_drawing_is_drawn_anew(gathered: Contents, tmp_path: Path) -> None:
    cards = [replace(card_of(gathered, gathered.fans[0], "a.pdf"), lab=tmp_path / "lab")]
    first = all_set(cards, tmp_path / "first")
    for each in drawings(tmp_path / "lab"):
        each.write_bytes(each.read_bytes()[:-9])
    assert all_set(cards, tmp_path / "again") == first
