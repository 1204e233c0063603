"""A recording of any length at 500 Hz: the head of a simulated rig, then a stream that is made at once."""

from line_stream import stream

from frothline.recording.disk import SystemClock
from frothline.recording.host_frames import HostFrames
from frothline.simulation import modelled
from frothline.wire import AFTER_DESCRIPTION, Received, StreamDecoder

RATE = 500


def head(rate=RATE, identity=bytes(range(16))):
    """The first frames of a segment: the host's, and the description of a simulated rig."""
    host = HostFrames(identity, "made for a measurement of speed", SystemClock())
    sent = StreamDecoder().feed(modelled.stream(f"modelled://steady?rate={rate}&seed=1", 0.5)[0])
    described = [
        one.raw for one in sent if isinstance(one, Received) and one.name in ("description", *AFTER_DESCRIPTION)
    ]
    return host.opened(0, None) + b"".join(described)


def write(path, seconds, seed=1, rate=RATE):
    """Write a recording that was not closed, of that many seconds, and return its size in bytes."""
    with path.open("wb") as file:
        file.write(head(rate))
        for block in stream(seconds, rate, seed):
            file.write(block)
    return path.stat().st_size
