"""The way to the board: ports, finding the rig by its answer, reading without loss, the two clocks.

rig = open_rig("/dev/ttyUSB0")            # or None: find it
rig.run(on_batch=..., on_event=...)
rig.command("set_rate", rate=200)
"""

from .answer import Answer, BoardIdentity, Chunk, ask
from .clock import Clock, ClockFit
from .finder import Candidate, FindReport, FoundRig, NoRig, candidates, find_rigs
from .link import Ack, Batch, LinkCounts, LinkEvent, Rig, open_reader, open_rig
from .port import Line, open_port, register_handlers
from .reader import Back, Gone, Item, PortReader, Reader, Stranger

__all__ = [
    "Ack",
    "Answer",
    "Back",
    "Batch",
    "BoardIdentity",
    "Candidate",
    "Chunk",
    "Clock",
    "ClockFit",
    "FindReport",
    "FoundRig",
    "Gone",
    "Item",
    "Line",
    "LinkCounts",
    "LinkEvent",
    "NoRig",
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
