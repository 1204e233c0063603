"""Hypothesis strategies for messages, streams and chunkings, and a reader of the golden files."""

from pathlib import Path

from hypothesis import strategies as st

from frothline.wire import MESSAGES, encode

GOLDEN = Path(__file__).parents[1] / "golden"
RANGES = {
    "u8": (0, 2**8 - 1),
    "u16": (0, 2**16 - 1),
    "u32": (0, 2**32 - 1),
    "u64": (0, 2**64 - 1),
    "i8": (-(2**7), 2**7 - 1),
    "i16": (-(2**15), 2**15 - 1),
    "i32": (-(2**31), 2**31 - 1),
    "i64": (-(2**63), 2**63 - 1),
}


def values_of(field):
    """Any value that a field can hold; zeros and full bytes often, since they are where stuffing can go wrong."""
    if field.type in RANGES:
        low, high = RANGES[field.type]
        return st.sampled_from([low, high, 0, 1]) | st.integers(low, high)
    if field.is_text:
        # letters of one to four bytes, so that a quarter of the bytes always suffices
        return st.text("aZ09 _-äß°³Ω😀", max_size=field.count // 4)
    return st.binary(min_size=field.count, max_size=field.count)


@st.composite
def messages(draw):
    message = draw(st.sampled_from(list(MESSAGES.values())))
    values = {field.name: draw(values_of(field)) for field in message.fields}
    return message.name, draw(st.integers(0, 0xFFFF)), values


frames = messages().map(lambda drawn: encode(drawn[0], drawn[1], **drawn[2]))
garbage = st.binary(max_size=300)
streams = st.lists(frames | frames | garbage, max_size=12).map(b"".join)


def chunked(data, sizes):
    """The data in pieces of those sizes, the last one as long as it must be."""
    at = 0
    for size in sizes:
        yield data[at : at + size]
        at += size
    yield data[at:]


def blocks(name):
    """The blocks of a golden file, each a list of (word, value)."""
    block = []
    for line in [*(GOLDEN / name).read_text(encoding="utf-8").splitlines(), ""]:
        if line.startswith("#"):
            continue
        if line:
            word, _, value = line.partition(" ")
            block.append((word, value))
        elif block:
            yield block
            block = []
