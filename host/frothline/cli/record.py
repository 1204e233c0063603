"""``record``: record a rig to a file, without a page."""

from __future__ import annotations

import threading
import time
from argparse import Namespace
from pathlib import Path

from frothline.bench.loss_words import counted_losses, loss_text, losses_on_board, losses_text
from frothline.bench.recorder import sweep_metadata
from frothline.bench.session import Session
from frothline.bench.snapshot import RecordingState, Snapshot
from frothline.cli.options import checked_rate
from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.errors import InputError, PortLost, RecordingError
from frothline.formatting import reading_text
from frothline.generator.build import Build
from frothline.generator.sheet import read_sheet
from frothline.recording.reader import VerifyReport, verify
from frothline.rounding import counted
from frothline.units import SYSTEMS

FOUND, LOSSES, NO_RIG = 0, 1, 3
THROUGH_OPTIONS = {"dry": "dry-sweep", "wet": "wet"}  # of ``whatif``
LOOK_EVERY = 0.2  # s


def run(options: Namespace, say: Say) -> int:

    build = _sheet(options)
    session = Session(options.port, options.folder, rate=checked_rate(options), **sensors_of(options))
    guided = options.sweep or bool(options.through)
    refused: RecordingError | None = None
    with session:
        metadata = sweep_metadata(options.through, build) if guided else {}
        metadata |= {"note": options.note} if options.note else {}
        session.start(wait=True, record=options.name, metadata=metadata)
        state = session.snapshot().recording
        path = Path() if state is None else state.path
        if words := session.interrupted_words():
            say.note(words)
        say.note(f"recording to {path}; press Ctrl-C to stop")
        if guided:
            session.start_sweep(record=False, through=options.through, build=build)
        began = time.monotonic()
        try:
            _watch(session, options, say, began)
        except KeyboardInterrupt:
            pass  # the usual end of a recording
        took = time.monotonic() - began
        recording = session.snapshot().recording
        try:
            session.stop_recording()
        except RecordingError as error:
            refused = error
        session.catch_up()
        last = session.snapshot()
    return _summary(path, took, last, recording, refused, options.through, say)


def _sheet(options: Namespace) -> Build | None:
    if options.build is None:
        return None
    if not options.through:
        raise InputError("--build needs a sweep through a generator", where="--build", remedy="Give --through as well")

    return read_sheet(options.build)


def _watch(session: Session, options: Namespace, say: Say, began: float) -> None:
    system = SYSTEMS[options.units]
    pause = threading.Event()
    instruction = ""
    while options.seconds is None or time.monotonic() - began < options.seconds:
        pause.wait(LOOK_EVERY)
        now = session.snapshot()
        if now.link.state == "ended":
            return
        if now.link.state == "lost" and now.time - now.link.since > options.wait:
            raise PortLost(f"the port was lost for more than {options.wait:g} s", where=now.link.port)
        if now.recording is None or now.recording.ended:
            return
        if now.sweep is not None and (options.sweep or options.through):
            if now.sweep.instruction != instruction:
                instruction = now.sweep.instruction
                say.note(instruction.upper() + (f"  ({now.sweep.why})" if now.sweep.why else ""))
            if now.sweep.done:
                return
        figures = "  ".join(
            reading_text(one.value, one.u, system[quantity], reason=one.reason, calibrated=one.calibrated)
            for name, quantity in (("line_pressure", "pressure"), ("standard_flow", "flow"))
            if (one := now.latest.get(name)) is not None
        )
        losses = losses_text(counted_losses(now.losses))
        lost = f"  losses: {losses}" if losses else ""
        if now.recording.trouble:
            lost = f"  NOT BEING WRITTEN: {now.recording.trouble}"
        say.progress(f"{time.monotonic() - began:6.0f} s  {figures}  {now.link.words}{lost}")


def _summary(
    path: Path,
    took: float,
    last: Snapshot,
    recording: RecordingState | None,
    refused: RecordingError | None,
    through: str,
    say: Say,
) -> int:
    """The result by what is on the disk; ``recording`` is its state at the end, ``refused`` why it ended badly."""
    say.progress("checking the recording …")
    report: VerifyReport | None = None
    losses = []
    try:
        report = verify(path)
        losses += report.losses()
    except RecordingError as error:
        losses.append(f"no recording at {path}: deleted, moved or never written ({error.what})")
    if recording is not None and recording.dropped:
        losses.append(f"{counted(recording.dropped, 'byte')} from the board not written")
    if refused is not None or (recording is not None and recording.trouble):
        losses.append(str(refused) if refused is not None else recording.trouble if recording is not None else "")
    losses += [loss_text(words, count) for words, count in losses_on_board(last.losses) if count]
    frames = report.frames if report is not None else 0
    text = f"{path}: {took:.1f} s, {counted(frames, 'frame')}, {'; '.join(losses) or 'no data lost'}"
    points = last.through.get(through, ()) if through else last.points
    if through:
        text += (
            f"; {counted(len(points), 'steady point')}, use it in `frothline whatif` with --{THROUGH_OPTIONS[through]}"
        )
    elif last.fit is not None:
        text += "; `frothline curve` gives the air source's curve"
    data = {
        "path": path,
        "seconds": took,
        "frames": frames,
        "lost": losses,
        "losses": last.losses,
        "points": len(points),
        "board": last.board,
    }
    say.result(data, text)
    return LOSSES if losses else FOUND
