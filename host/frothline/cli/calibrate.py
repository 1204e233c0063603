"""``calibrate``: calibration of the sensors in the workshop.

The procedures are in ``sensors.procedures``; this command shows their questions and reads the answers. Questions go to
standard error, and answers are read line by line from standard input, so that they can come from a file.
"""

from __future__ import annotations

import sys
import time
from argparse import Namespace
from dataclasses import replace
from pathlib import Path
from threading import Lock

from frothline.bench.calibration_session import read_answer
from frothline.bench.folders import default_calibration
from frothline.cli.arguments.calibrate import PREVIOUS
from frothline.cli.options import NONE, checked_rate
from frothline.cli.output import Say
from frothline.errors import FitError, InputError, PortLost
from frothline.rig import MessageBatch, Rig, open_rig
from frothline.rounding import counted
from frothline.sensors.calibration import Calibration
from frothline.sensors.calibration_file import load as load_calibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.sensors.converter import Converter
from frothline.sensors.description import RigDescription
from frothline.sensors.procedures.base import Procedure, Question, Stage
from frothline.sensors.procedures.pressure_and_scale import guided
from frothline.sensors.spool import Spool
from frothline.units import SYSTEMS, Unit

DONE = 0
LOOK_EVERY = 0.05  # s
ZEROED = ("pressure", "differential", "scale")


def run(options: Namespace, say: Say) -> int:

    if options.procedure == "zero" and options.channel not in ZEROED:
        raise InputError(f"{options.channel} cannot be zeroed", where="--channel", remedy=f"Give {', '.join(ZEROED)}")
    into, used = _places(options, say)
    known = Calibration() if used is None else load_calibration(used)
    if options.procedure == PREVIOUS:
        save_calibration(into, known.taken_back(options.channel))
        text = f"{into}: the previous calibration of {options.channel} is used; repeat the command to undo this"
        say.result({"path": into, "channel": options.channel, "previous": True}, text)
        return DONE
    with open_rig(options.port) as rig:
        label = rig.answer.label
        spool = Spool.load(options.spool) if options.spool else Spool.for_board(label)
        description = RigDescription.from_tables(rig.tables)
        procedure = guided(options.procedure, description, spool, who=options.who, channel=options.channel)
        bench = _Bench(Converter(description, known, spool), procedure)
        rig.run(bench.take, rate=checked_rate(options))
        say.note(procedure.title)
        made = _made(bench, rig, say, SYSTEMS[options.units], known if known.board else replace(known, board=label))
    save_calibration(into, made)
    channel = made.get(procedure.channel)
    data = {"path": into, "channel": procedure.channel, "zero": made.zeros.get(procedure.channel)}
    if options.procedure == "zero":
        text = f"{into}: zero of {procedure.channel} saved"
    else:
        text = (
            f"{into}: {procedure.channel} from {counted(len(procedure.points), 'point')}; {channel and channel.reason}"
        )
    say.result({**data, "calibration": None if options.procedure == "zero" else channel}, text)
    return DONE


def _made(bench: _Bench, rig: Rig, say: Say, units: dict[str, Unit], known: Calibration) -> Calibration:
    """The accepted calibration; after a refusal, points can be dropped and added."""
    while True:
        _talk(bench, rig, say, units)
        try:
            with bench.lock:
                return bench.procedure.apply(known)
        except FitError as refused:
            say.note(f"   {refused}")


def _places(options: Namespace, say: Say) -> tuple[Path, Path | None]:
    """File to write, and file of the existing calibration or None. A file that is named must exist."""
    named = options.calibration
    into: Path = options.into or (named if named not in {None, NONE} else default_calibration(options.folder))
    if named is not None:
        return into, None if named == NONE else named
    if into.exists():
        return into, into
    # Earlier versions wrote it to the current folder; that file is used too.
    earlier = Path(default_calibration().name)
    if options.into is None and earlier.exists():
        say.note(f"{earlier.resolve()} is copied; from now on {into} is used")
        return into, earlier
    return into, None


class _Bench:
    """Feeds the procedure from the rig's thread, and locks it for the thread of the command line."""

    def __init__(self, converter: Converter, procedure: Procedure) -> None:
        self.converter, self.procedure = converter, procedure
        self.lock = Lock()
        self.shown = ""  # the problem shown last

    def take(self, batch: MessageBatch) -> None:
        series = self.converter.convert(batch.tables)
        with self.lock:
            self.procedure.feed(self.converter.signals, series)


def _talk(bench: _Bench, rig: Rig, say: Say, units: dict[str, Unit]) -> None:
    """Questions and answers until the user finishes."""
    procedure = bench.procedure
    while True:
        with bench.lock:
            prompt = procedure.prompt()
        if prompt.problem != bench.shown:
            bench.shown = prompt.problem
            if prompt.problem:
                say.note(f"   {prompt.problem}")
        if prompt.stage is Stage.ASK:
            say.note(f">> {prompt.say}")
            values = {question.name: _asked(question, units[question.quantity], say) for question in prompt.questions}
            if not prompt.questions:
                _line("   Press Enter when done", say)
            bench.shown = ""
            with bench.lock:
                try:
                    procedure.answer(**values)
                except InputError as refused:  # ask the questions again
                    procedure.problem = str(refused)
        elif prompt.stage is Stage.HOLD and procedure.timed:
            _line(f">> {prompt.say} (Enter)", say)
            with bench.lock:
                procedure.stop()
        elif prompt.stage is Stage.HOLD:
            _hold(bench, rig, say)
        elif prompt.stage is Stage.CHOOSE:
            if isinstance(procedure.channel, str) and procedure.fewest == 1 and procedure.points:
                return
            word = _line(f"   {prompt.say} [Enter: another, d: drop the last, f: finish]", say)
            with bench.lock:
                if word == "f" and len(procedure.points) >= procedure.fewest:
                    return
                if word == "d":
                    procedure.drop()
                elif word != "f":
                    procedure.again()


def _hold(bench: _Bench, rig: Rig, say: Say) -> None:

    said = ""
    while True:
        time.sleep(LOOK_EVERY)
        if rig.away:
            raise PortLost("the port was lost during a point", where=rig.url, remedy="Check the cable")
        with bench.lock:
            prompt = bench.procedure.prompt()
        if prompt.stage is not Stage.HOLD:
            return
        if prompt.problem != said:
            said = prompt.problem
            say.note(f"   {said}")
        say.progress(f"   {prompt.say} {prompt.progress:4.0%}")


def _asked(question: Question, unit: Unit, say: Say) -> float:

    usual = "" if question.default is None else f" [{unit.from_si(question.default):g}]"
    while True:
        text = _line(f"   {question.words}, {unit.symbol}{usual}:", say)
        try:
            return read_answer(question, text, unit)
        except InputError as error:
            say.note(f"   {error}")


def _line(words: str, say: Say) -> str:
    say.note(words)
    text = sys.stdin.readline()
    if not text:
        raise InputError("the input ended before the calibration was complete", where="standard input")
    return text.strip()
