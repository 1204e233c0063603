"""The recordings of the season in small batches, as a live page gets them: every column is that of the whole recording."""

from operator import itemgetter
from pathlib import Path

import numpy as np
import pytest

from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.wire import AFTER_DESCRIPTION, Received, StreamDecoder, gather
from frothline.wire.decoder import TICKED

SEASON = Path(__file__).parents[2] / "recordings" / "season"
RECORDINGS = sorted(path.stem for path in SEASON.glob("*.froth"))
LINES = 400  # messages of the everyday test: the first slow readings, and some batches after them


def received(name, lines):
    """The messages of a recording up to that number of line messages, in the order of their ticks.

    A slow message may be sent after a line message with the same or a later tick. The whole recording uses it for that
    line message, a batch that ends with the line message cannot.
    """
    found, count, tick = [], 0, 0
    for event in StreamDecoder().feed((SEASON / f"{name}.froth").read_bytes()):
        if isinstance(event, Received):
            tick = int(event.record["tick"]) if event.name in TICKED else tick
            found.append((tick, event.name == "line", event))
            count += event.name == "line"
            if count == lines:
                break
    return [event for *_, event in sorted(found, key=itemgetter(0, 1))]


def converter_of(events):
    said = gather([event for event in events if event.name in ("description", *AFTER_DESCRIPTION)])
    return Converter(RigDescription.from_tables(said))


def columns(batches):
    """All columns of all series put end to end, by series and column."""
    found = {}
    for batch in batches:
        for name, one in batch.items():
            parts = {key: getattr(one, key) for key in ("time", "value", "u", "status", "u_systematic", "u_random")}
            parts |= {f"shared {error}": column for error, column in one.shared.items()}
            for key, column in parts.items():
                found.setdefault((name, key), []).append(column)
    return {key: np.concatenate(parts) for key, parts in found.items()}


def in_batches(events, lines):
    """The messages in batches of that many line messages."""
    batch, count = [], 0
    for event in events:
        batch.append(event)
        count += event.name == "line"
        if count == lines:
            yield batch
            batch, count = [], 0
    yield batch


def compare(name, lines, sizes):
    events = received(name, lines)
    whole = columns([converter_of(events).convert(gather(events))])
    for size in sizes:
        converter = converter_of(events)
        pieces = columns([converter.convert(gather(batch)) for batch in in_batches(events, size)])
        assert whole.keys() == pieces.keys()
        for key, column in whole.items():
            if key[1] == "time":  # the first batch decides where time begins
                assert np.allclose(np.diff(column), np.diff(pieces[key]), rtol=0, atol=1e-9), key
            else:
                assert np.array_equal(column, pieces[key], equal_nan=True), (key, size)


def test_four_messages_at_a_time_give_every_column_of_the_recording():
    compare("03-29-sweep-shop-motor", LINES, [4])


@pytest.mark.exhaustive
@pytest.mark.parametrize("name", RECORDINGS)
def test_any_size_of_batch_gives_every_column_of_any_recording(name):
    compare(name, 10**9, [1, 5, 37])
