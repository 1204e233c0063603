"""Connection to the board: ports, search for the rig, reading without loss, clock drift.

rig = open_rig("/dev/ttyUSB0")            # or None: find it
rig.run(on_batch=..., on_event=...)
rig.command("set_rate", rate=200)
"""

from frothline.rig.clock_drift import ClockFit, DriftEstimator
from frothline.rig.finder import FindReport, FoundRig, NoRig, PortCandidate, candidates, find_rigs
from frothline.rig.handshake import BoardIdentity, Chunk, Handshake, ask
from frothline.rig.link import Ack, LinkCounts, LinkEvent, MessageBatch, Rig, open_reader, open_rig
from frothline.rig.port import Line, open_port, register_handlers
from frothline.rig.reader import Back, Gone, Item, PortReader, Reader, Stranger

__all__ = [
    "Ack",
    "Back",
    "BoardIdentity",
    "Chunk",
    "ClockFit",
    "DriftEstimator",
    "FindReport",
    "FoundRig",
    "Gone",
    "Handshake",
    "Item",
    "Line",
    "LinkCounts",
    "LinkEvent",
    "MessageBatch",
    "NoRig",
    "PortCandidate",
    "PortReader",
    "Reader",
    "Rig",
    "Stranger",
    "ask",
    "candidates",
    "find_rigs",
    "open_port",
    "open_reader",
    "open_rig",
    "register_handlers",
]
