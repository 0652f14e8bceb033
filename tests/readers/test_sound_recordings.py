"""Recordings: exact samples, one channel by its number, and every way in which a file can be cut or wrong.

Samples are held against Python's own wave module with struct (whole numbers), against NumPy's reading of the bytes
(floats) and, of FLAC files, against soundfile's reading of the whole file at once.
"""

from __future__ import annotations

import io
import struct
import wave
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from sound_files import FLOAT, RATE, Wav, chunk, noise, samples, wav

from stillroom.errors import BadInput, StillroomError, UnreadableFile
from stillroom.readers.sound.audio import audio_format, blocks, check_audio, is_audio
from stillroom.readers.source import RECORDING_LIMIT, SIZE_LIMIT, Source


def whole(data: bytes, channel: int = 1, frames: int = 700) -> np.ndarray[Any, np.dtype[np.float32]]:
    return np.concatenate(list(blocks(Source("a.wav", data), channel, frames)))


def flac(frames: int = 20_000, channels: int = 2, subtype: str = "PCM_24", rate: int = RATE) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, noise(frames, channels), rate, format="FLAC", subtype=subtype)
    return file.getvalue()


@pytest.mark.parametrize("channels", [1, 2, 3])
@pytest.mark.parametrize("bits", [16, 24, 32])
def test_whole_numbers_come_exactly(bits: int, channels: int) -> None:
    data = wav(1501, channels, bits)
    with wave.open(io.BytesIO(data)) as other:  # an independent decoder
        raw, width = other.readframes(other.getnframes()), other.getsampwidth()
    numbers = [int.from_bytes(raw[i : i + width], "little", signed=True) for i in range(0, len(raw), width)]
    wanted = np.array(numbers, dtype=np.float64).reshape(-1, channels) / 2 ** (bits - 1)
    for channel in range(channels):
        found = whole(data, channel + 1)
        assert found.dtype == np.float32
        assert np.array_equal(found, wanted[:, channel].astype(np.float32))
        if bits <= 24:
            assert np.array_equal(found.astype(np.float64), wanted[:, channel]), "float32 holds 24 bits"


@pytest.mark.parametrize("bits", [32, 64])
def test_float_samples_come_as_they_are(bits: int) -> None:
    values = noise(1501, 2)
    values[7, 1] = 1.75  # beyond full scale: floats hold it
    data = Wav(samples(values, bits, FLOAT), tag=FLOAT, channels=2, bits=bits).bytes()
    assert np.array_equal(whole(data, 2), values[:, 1].astype(np.float32))
    assert check_audio(Source("a.wav", data)).subtype == {32: "FLOAT", 64: "DOUBLE"}[bits]


@pytest.mark.parametrize("subtype", ["PCM_16", "PCM_24"])
def test_flac_comes_as_in_one_piece(subtype: str) -> None:
    data = flac(30_001, 3, subtype, 96_000)
    wanted, rate = soundfile.read(io.BytesIO(data), dtype="float32")
    found = check_audio(Source("a.flac", data))
    assert (found.rate, found.channels, found.frames, found.subtype, found.container) == (
        rate, 3, 30_001, subtype, "FLAC",
    )  # fmt: skip
    for channel in (1, 2, 3):
        assert np.array_equal(whole(data, channel, 4097), wanted[:, channel - 1])


@pytest.mark.parametrize("head", [b"RF64", b"BW64"])
def test_headers_of_64_bits(head: bytes) -> None:
    plain, wide = wav(1000), wav(1000, head=head)
    assert np.array_equal(whole(wide), whole(plain))
    assert audio_format(Source("a.wav", wide)).container == "RF64"


def test_a_file_of_more_than_4_gib_is_told_by_its_header_and_not_read(tmp_path: Path) -> None:
    frames = 2**31 + 12_345  # 24 bits, one channel: 6 GiB of nothing, which takes no room
    head = wav(0, head=b"RF64", data_size=3 * frames, riff_size=3 * frames + 100)
    path = tmp_path / "long.wav"
    with path.open("wb") as file:
        file.write(head)
        file.truncate(len(head) + 3 * frames)
    source = Source.of_path(path)
    assert source.limit == RECORDING_LIMIT > 2**32 > SIZE_LIMIT == Source.of_path(tmp_path / "a.csv").limit
    found = audio_format(source)
    assert found.frames == frames
    assert not next(blocks(source, 1)).any()


def test_extensible_headers_and_odd_chunks() -> None:
    odd = [chunk(b"LIST", b"INFOICMT\x05\0\0\0five\0\0"), chunk(b"junk", b"abc"), chunk(b"iXML", b"<x/>")]
    data = wav(501, 3, 24, extensible=True, before=odd, after=[chunk(b"id3 ", b"x" * 31)])
    assert np.array_equal(whole(data, 3), whole(wav(501, 3, 24), 3))
    # An odd length of samples, with and without the padding that it should have.
    assert len(whole(wav(501, 1, 24))) == 501
    assert len(whole(wav(501, 1, 24)[:-1])) == 501


@pytest.mark.parametrize(
    ("chunks", "recorded"),
    [
        ([chunk(b"bext", bytes(320) + b"2026-05-0410:20:30" + bytes(264))], "2026-05-04T10:20:30"),
        ([chunk(b"bext", bytes(320) + b"2026:05:0410-20-30" + bytes(264))], "2026-05-04T10:20:30"),
        ([chunk(b"bext", bytes(320) + b"2026-05-04" + bytes(272))], "2026-05-04"),
        ([chunk(b"bext", bytes(602))], None),
        ([chunk(b"bext", bytes(100))], None),
        ([chunk(b"bext", bytes(320) + b"2026-31-0410:20:30" + bytes(264))], None),
        ([chunk(b"LIST", b"INFOICRD\x0b\0\0\x002026-05-04\0\0")], "2026-05-04"),
        ([chunk(b"LIST", b"INFOICRD\xff\xff\xff\x7f2026-05-04")], "2026-05-04"),
        ([chunk(b"LIST", b"adtlICRD\x0b\0\0\x002026-05-04\0\0")], None),
    ],
)
def test_when_it_was_recorded(chunks: list[bytes], recorded: str | None) -> None:
    assert audio_format(Source("a.wav", wav(10, before=chunks))).recorded == recorded
    assert audio_format(Source("a.wav", wav(10, after=chunks))).recorded == recorded


def test_when_a_flac_file_was_recorded() -> None:
    file = io.BytesIO()
    with soundfile.SoundFile(file, "w", RATE, 1, "PCM_24", format="FLAC") as made:
        made.date = "2026-05-04T10:20:30"
        made.write(noise(1000))
    assert audio_format(Source("a.flac", file.getvalue())).recorded == "2026-05-04T10:20:30"


def test_an_id3_tag_before_a_flac_file_is_passed_over() -> None:
    data = b"ID3\x04\0\0\0\0\x01\x00" + bytes(128) + flac(2000, 1)
    assert is_audio(Source("a.flac", data))
    assert audio_format(Source("a.flac", data)).frames == 2000


WRONG: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "no bytes at all"),
    "text": (b"flow,p_s\n1,2\n", "no sound"),
    "zip": (b"PK\x03\x04" + bytes(50), "a ZIP container"),
    "film": (b"RIFF" + struct.pack("<I", 100) + b"AVI " + bytes(96), "no WAVE"),
    "zero frames": (wav(0), "not one sample"),
    "no format": (wav(10, without=("fmt",)), "no chunk 'fmt '"),
    "no data": (wav(10, without=("data",)), "no chunk 'data'"),
    "two formats": (wav(10, before=[Wav().fmt()]), "a second chunk 'fmt '"),
    "8 bits": (wav(100, bits=8), "8 bits"),
    "a-law": (Wav(bytes(100), tag=6, bits=8).bytes(), "compressed sound (A-law)"),
    "mp3": (Wav(bytes(100), tag=0x55, bits=16).bytes(), "compressed sound (MP3)"),
    "unknown": (Wav(bytes(100), tag=0x1234, bits=16).bytes(), "0x1234"),
    "float of 16 bits": (Wav(bytes(100), tag=FLOAT, bits=16).bytes(), "samples of 16 bits"),
    "rate 8 kHz": (wav(100, rate=8000), "8,000 samples a second"),
    "rate 384 kHz": (wav(100, rate=384_000), "384,000 samples a second"),
    "no channel": (Wav(bytes(96), channels=0, align=3).bytes(), "0 channels"),
    "wrong align": (wav(100, align=4), "4 bytes a sample"),
    "two rates": (wav(100, bytes_a_second=44_100 * 3), "132,300 bytes a second"),
    "part of a sample": (Wav(bytes(100), bits=24).bytes(), "no multiple of 3"),
    "never closed, 0": (wav(100, data_size=0), "0 bytes of samples as the header says"),
    "never closed, all ones": (wav(100, data_size=0xFFFFFFFF), "4,294,967,295 bytes of samples"),
    "never closed, riff": (wav(100, riff_size=0), "a size of 0"),
    "riff too small": (wav(2000, riff_size=200), "samples up to byte"),
    "much behind it": (wav(100) + bytes(10_000), "of which the header speaks of"),
    "a byte put in": (wav(100) + b"\x7f", "a byte that belongs to no chunk"),
    "bytes put in": (wav(100) + bytes(range(200, 240)), "40 bytes that belong to no chunk"),
    "data longer than the file": (wav(100, data_size=30_000), "and 300 are there"),
    "huge claim of 64 bits": (wav(100, head=b"RF64", data_size=2**62, riff_size=2**62 + 100), "and 300 are there"),
    "never closed, 64 bits": (wav(100, head=b"RF64", data_size=0), "0 bytes of samples"),
    "samples before their format": (
        b"RIFF" + struct.pack("<I", 4 + 8 + 6 + 24) + b"WAVE" + chunk(b"data", bytes(6)) + Wav().fmt(),
        "before their format",
    ),
    "chunks without end": (
        b"RIFF" + struct.pack("<I", 8 * 10_500) + b"WAVE" + chunk(b"LIST", b"") * 10_500,
        "more than 10,000 chunks",
    ),
}  # fmt: skip


@pytest.mark.parametrize("rest", [b"\0", bytes(2000), b"ID3\x04" + bytes(40)])
def test_padding_and_labels_behind_the_samples_do_no_harm(rest: bytes) -> None:
    assert audio_format(Source("a.wav", wav(100) + rest)).frames == 100


@pytest.mark.parametrize("name", WRONG)
def test_what_cannot_be_used_is_refused_with_the_reason(name: str) -> None:
    data, words = WRONG[name]
    with pytest.raises(UnreadableFile) as caught:
        audio_format(Source("take 1.wav", data))
    assert "take 1.wav" in caught.value.place
    assert words in caught.value.found
    assert caught.value.expected


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
@pytest.mark.parametrize("bits", [32, 64])
def test_a_sample_that_is_no_number(value: float, bits: int) -> None:
    values = noise(60_000)
    values[48_000] = value
    source = Source("a.wav", Wav(samples(values, bits, FLOAT), tag=FLOAT, bits=bits).bytes())
    for read in (lambda: check_audio(source), lambda: list(blocks(source, 1))):
        with pytest.raises(UnreadableFile, match="no finite number") as caught:
            read()
        assert caught.value.place == "a.wav, at 1.000 s"


def test_a_double_beyond_what_float32_holds() -> None:
    values = noise(100)
    values[5] = 1e60
    source = Source("a.wav", Wav(samples(values, 64, FLOAT), tag=FLOAT, bits=64).bytes())
    with np.errstate(over="ignore"), pytest.raises(UnreadableFile, match="no finite number"):
        list(blocks(source, 1))


@pytest.mark.parametrize("channel", [0, -1, 3])
def test_a_channel_that_is_not_there(channel: int) -> None:
    with pytest.raises(BadInput) as caught:
        blocks(Source("a.wav", wav(10, 2)), channel)
    assert (caught.value.found, caught.value.expected) == (f"channel {channel}", "1 to 2")


def test_a_recording_cut_at_any_place_is_refused() -> None:
    data = wav(400, 2, 24, before=[chunk(b"bext", bytes(602))])
    for end in range(len(data)):
        with pytest.raises(UnreadableFile):
            audio_format(Source("a.wav", data[:end]))
    assert audio_format(Source("a.wav", data)).frames == 400


def test_a_flac_file_cut_at_any_place_is_refused() -> None:
    data = flac(12_000, 1)
    ends = [*range(0, 200), *range(200, len(data), 397), len(data) - 1]
    for end in ends:
        with pytest.raises(UnreadableFile):
            check_audio(Source("a.flac", data[:end]))
    assert check_audio(Source("a.flac", data)).frames == 12_000


def test_a_damaged_flac_file_is_refused() -> None:
    data = bytearray(flac(12_000, 1))
    data[len(data) // 2] ^= 0x10
    with pytest.raises(UnreadableFile):
        check_audio(Source("a.flac", bytes(data)))


def test_a_flac_file_whose_sum_is_another_is_refused() -> None:
    data = bytearray(flac(5000, 1))
    data[4 + 4 + 18] ^= 0xFF  # the MD5 in its header
    with pytest.raises(UnreadableFile, match="MD5"):
        check_audio(Source("a.flac", bytes(data)))
    data[4 + 4 + 18 : 4 + 4 + 34] = bytes(16)  # a writer that gave none
    assert check_audio(Source("a.flac", bytes(data))).frames == 5000


def test_a_flac_file_that_claims_to_be_longer_is_refused() -> None:
    data = bytearray(flac(5000, 1))
    data[4 + 4 + 14 : 4 + 4 + 18] = struct.pack(">I", 0xFFFFFFFF)
    with pytest.raises(UnreadableFile):
        check_audio(Source("a.flac", bytes(data)))
    data[4 + 4 + 13] &= 0xF0
    data[4 + 4 + 14 : 4 + 4 + 18] = bytes(4)  # no length: whether it is cut can't be known
    with pytest.raises(UnreadableFile, match="no length"):
        check_audio(Source("a.flac", bytes(data)))


def test_memory_stays_small_whatever_the_length(tmp_path: Path) -> None:
    import tracemalloc

    path = tmp_path / "long.wav"
    soundfile.write(path, np.zeros(48_000 * 120), RATE, subtype="PCM_24")  # 17 MB
    source = Source.of_path(path)
    tracemalloc.start()
    assert sum(len(each) for each in blocks(source, 1)) == 48_000 * 120
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 3e6, "a block or two of 65,536 samples, not the file"


BASE = wav(
    60, 2, 24, before=[chunk(b"bext", bytes(602)), chunk(b"LIST", b"INFOICRD\x0b\0\0\x002026-05-04\0\0")]
)
WIDE = wav(60, 2, 24, head=b"RF64")
FLAC = flac(600, 2)


@st.composite
def hostile(draw: st.DrawFn) -> bytes:
    """A right file with some bytes of its header changed, cut, or with bytes put in."""
    data = bytearray(draw(st.sampled_from([BASE, WIDE, FLAC])))
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, min(len(data) - 1, 760)))
        how = draw(st.sampled_from(["byte", "size", "cut", "put"]))
        if how == "byte":
            data[at] = draw(st.integers(0, 255))
        elif how == "size":
            data[at : at + 4] = draw(st.sampled_from([b"\xff" * 4, bytes(4), b"\0\0\0\x80", b"\x01\0\0\0"]))
        elif how == "cut":
            del data[at:]
        else:
            data[at:at] = draw(st.binary(min_size=1, max_size=16))
        if not data:
            break
    return bytes(data)


@given(hostile())
@settings(max_examples=300, deadline=None)
def test_hostile_headers_give_samples_or_a_plain_refusal(data: bytes) -> None:
    source = Source("x.wav", data)
    refused: StillroomError | None = None
    frames = found = 0
    try:
        known = check_audio(source)
        frames = known.frames
        found = sum(len(each) for each in blocks(source, known.channels))
    except StillroomError as error:
        refused = error
    if refused is not None:
        assert refused.place.startswith("x.wav")
        assert refused.found
    else:
        assert 0 < found == frames <= len(data) * 8
