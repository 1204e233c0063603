"""Frames with a right check and any values at all: anybody can write them, and a recording that has some is still read."""

import random
from contextlib import suppress

import numpy as np
import pytest
from test_recording_catalogue import record

from frothline.errors import FrothlineError
from frothline.readings.marks import marks
from frothline.readings.table import read_table
from frothline.recording.catalogue import Catalogue
from frothline.recording.reader import load, verify
from frothline.wire import MESSAGES, encode


def forged(draw, message):
    """A frame of this message; its numbers are extreme or drawn, its texts are signs, digits and no UTF-8."""
    values = {}
    for field in message.fields:
        if field.count > 1:
            values[field.name] = bytes(draw.choice([0, 32, 45, 49, 61, 255]) for _ in range(field.count))
        elif field.name != "sequence":
            least, most = (int(end) for end in (np.iinfo(field.dtype).min, np.iinfo(field.dtype).max))
            values[field.name] = draw.choice([least, most, 0, 1, draw.randint(least, most)])
    return encode(message.name, draw.randrange(60_000), **values)


@pytest.mark.parametrize("seed", [1, *(pytest.param(k, marks=pytest.mark.exhaustive) for k in range(2, 30))])
@pytest.mark.filterwarnings("ignore::RuntimeWarning")
def test_a_recording_with_a_forged_frame_is_listed_checked_and_read_or_refused_in_words(tmp_path, seed):
    path, draw = record(tmp_path, "a", seconds=1), random.Random(seed)
    whole = path.read_bytes()
    ends = [at + 1 for at, byte in enumerate(whole) if byte == 0]
    messages = list(MESSAGES.values())
    for message in draw.sample(messages, 8) if seed == 1 else messages:
        at = draw.choice(ends)
        path.write_bytes(whole[:at] + forged(draw, message) + whole[at:])
        (entry,) = Catalogue(tmp_path)
        assert entry.state in {"closed", "open", "newer"}, message.name
        for read in (verify, read_table, lambda one: marks(load(one))):
            with suppress(FrothlineError):
                read(path)
