"""Frames against what others published or packaged: the check, the stuffing, and the golden frames."""

import zlib

import crcmod.predefined
import numpy as np
import pytest
from cobs import cobs as packaged_cobs
from hypothesis import example, given, settings
from hypothesis import strategies as st
from wire_strategies import blocks, messages

from frothline.wire import MESSAGES, Damage, Received, StreamDecoder, cobs, decode_all, encode
from frothline.wire.crc import crc32, crc32_columns


def test_the_check_value_of_the_crc_catalogue():
    # Greg Cook, Catalogue of parametrised CRC algorithms, CRC-32/ISO-HDLC: check = 0xcbf43926
    assert crc32(b"123456789") == 0xCBF43926
    column = np.frombuffer(b"123456789", dtype=np.uint8)[:, None]
    assert crc32_columns(column).tolist() == [0xCBF43926]


@given(st.lists(st.binary(min_size=20, max_size=20), min_size=1, max_size=20), st.integers(1, 20))
def test_the_check_of_many_frames_at_once_is_that_of_two_other_libraries(texts, length):
    texts = [text[:length] for text in texts]
    columns = np.frombuffer(b"".join(texts), dtype=np.uint8).reshape(len(texts), length).T
    other = crcmod.predefined.mkPredefinedCrcFun("crc-32")
    expected = [zlib.crc32(text) for text in texts]
    assert crc32_columns(columns).tolist() == expected == [other(text) for text in texts]


@pytest.mark.parametrize("length", [1, 2, 249, 253])
def test_the_check_of_many_frames_holds_up_to_the_longest(length):
    columns = np.random.default_rng(length).integers(0, 256, (length, 50), dtype=np.uint8)
    assert crc32_columns(columns).tolist() == [zlib.crc32(columns[:, k].tobytes()) for k in range(50)]


# The example packet of Cheshire and Baker 1999 (figure from memory) and rows that the packaged encoders print in their
# documentation. Stuffed form without the delimiter.
PUBLISHED = [
    ("", "01"),
    ("00", "01 01"),
    ("00 00", "01 01 01"),
    ("00 11 00", "01 02 11 01"),
    ("11 22 00 33", "03 11 22 02 33"),
    ("11 22 33 44", "05 11 22 33 44"),
    ("11 00 00 00", "02 11 01 01 01"),
    ("de ad be ef", "05 de ad be ef"),
    # the paper's packet: the head of an IP datagram
    ("45 00 00 2c 4c 79 00 00 40 06 4f 37", "02 45 01 04 2c 4c 79 01 05 40 06 4f 37"),
]
ONE_TO_254 = bytes(range(1, 255))


@pytest.mark.parametrize(("text", "stuffed"), PUBLISHED)
def test_stuffing_as_published(text, stuffed):
    assert cobs.encode(bytes.fromhex(text)) == bytes.fromhex(stuffed)
    assert cobs.decode(bytes.fromhex(stuffed)) == bytes.fromhex(text)


def test_a_full_block_announces_254_bytes_and_no_zero():
    assert cobs.encode(ONE_TO_254) == b"\xff" + ONE_TO_254
    assert cobs.encode(b"\0" + ONE_TO_254) == b"\x01\xff" + ONE_TO_254
    assert cobs.encode(ONE_TO_254 + b"\xff") == b"\xff" + ONE_TO_254 + b"\x02\xff"
    assert cobs.decode(b"\xff" + ONE_TO_254 + b"\x01") == ONE_TO_254


with_long_runs = st.lists(
    st.binary(max_size=20) | st.builds(lambda n, b: bytes([b]) * n, st.integers(250, 260), st.integers(0, 255)),
    max_size=6,
).map(b"".join)


@given(with_long_runs)
def test_stuffing_agrees_with_the_packaged_one(data):
    stuffed = cobs.encode(data)
    assert stuffed == packaged_cobs.encode(data)
    assert cobs.decode(stuffed) == data


@given(st.binary(min_size=1, max_size=40))
def test_what_the_packaged_decoder_refuses_ours_refuses_too(data):
    try:
        expected = packaged_cobs.decode(data)
    except packaged_cobs.DecodeError:
        with pytest.raises(cobs.Malformed):
            cobs.decode(data)
    else:
        assert cobs.decode(data) == expected


def golden_frames():
    for block in blocks("frames.txt"):
        words = dict(block)
        fields = [value.partition(" ")[::2] for word, value in block if word == "field"]
        yield words["frame"], dict(fields), words


GOLDEN = list(golden_frames())


def test_there_is_a_golden_frame_of_every_message():
    assert {name for name, *_ in GOLDEN} == set(MESSAGES)


@pytest.mark.parametrize(("name", "fields", "words"), GOLDEN, ids=[f"{k}-{g[0]}" for k, g in enumerate(GOLDEN)])
def test_golden_frame(name, fields, words):
    """Encoding gives the published bytes, decoding gives the published values."""
    message, wire, payload = MESSAGES[name], bytes.fromhex(words["wire"]), bytes.fromhex(words["payload"])
    values = {}
    for field in message.fields:
        text = fields[field.name]
        values[field.name] = text if field.is_text else bytes.fromhex(text) if field.count > 1 else int(text)
    assert list(fields) == list(message.dtype.names)
    assert zlib.crc32(payload) == int(words["check"], 16)
    if len(payload) == message.size:  # longer ones are from a newer sender
        assert encode(name, int(fields["sequence"]), **values) == wire
    (received,) = StreamDecoder().feed(wire)
    assert isinstance(received, Received)
    assert (received.name, received.sequence, received.raw) == (name, int(fields["sequence"]), wire)
    for field in message.fields:
        value = received.record[field.name]
        got = value.decode() if field.is_text else value.tobytes() if field.count > 1 else int(value)
        assert got == values[field.name], field.name
    table = decode_all(wire).tables[name]
    assert table.tobytes() == received.record.tobytes()


@pytest.mark.parametrize("block", list(blocks("damaged.txt")))
def test_golden_damage(block):
    words = dict(block)
    wire = bytes.fromhex(words["wire"])
    decoder = StreamDecoder()
    expected = [Damage(0, len(wire) - 1, words["damage"])]
    assert decoder.feed(wire) == expected
    assert decode_all(wire).events() == expected
    assert decoder.counts.unknown + decoder.counts.damaged == 1
    assert decoder.counts.unknown == (words["damage"] == "unknown-id")


@given(messages())
@example(("set_rate", 0, {"rate": 0}))
@settings(max_examples=300)
def test_what_is_encoded_comes_back(drawn):
    name, sequence, values = drawn
    wire = encode(name, sequence, **values)
    assert wire.index(0) == len(wire) - 1
    (received,) = StreamDecoder().feed(wire)
    assert (received.name, received.sequence) == (name, sequence)
    for field in MESSAGES[name].fields:
        value = received.record[field.name]
        if field.is_text:
            assert value.decode() == values[field.name]
        elif field.count > 1:
            assert value.tobytes() == values[field.name]
        else:
            assert int(value) == values[field.name]
