"""The command line: ``frothline <command>``, with the same capabilities as the pages.

Results go to standard output, progress and errors to standard error, so that a script can read the one without the
other. ``--json`` makes the result one JSON document (``find``, ``record`` and the rest) with SI values only. A command
is a module of this package with the same name, whose ``run`` returns the exit code. Its ``add_options`` and its help
text, ``ABOUT``, are in ``arguments``: the help of a command loads only the options, and the command is imported when it
runs.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module

from frothline import __version__
from frothline.cli.output import Say
from frothline.cli.plain_text import write_everything
from frothline.errors import FitError, FrothlineError, InputError, PortError, RecordingError, SensorError, WireError
from frothline.preferences import use_preferences

OK, LOSSES, USAGE, PORT, RECORDING, FIT, SENSOR, INTERNAL, INTERRUPTED = 0, 1, 2, 3, 4, 5, 6, 70, 130
EXIT_CODES = {
    OK: "done, and nothing is wrong",
    LOSSES: "done, but something was lost or refused: a recording with gaps or damage, a rig that lost frames",
    USAGE: "the command line or a hand-written file is wrong",
    PORT: "the rig: no port, port busy, silent or lost, not a rig, another protocol",
    RECORDING: "a recording cannot be read or written",
    FIT: "not enough points for the fit",
    SENSOR: "counts cannot be converted to SI values",
    INTERNAL: "a bug in this program",
    INTERRUPTED: "stopped by Ctrl-C before there was a result",
}
_BRANCHES: tuple[tuple[type[FrothlineError], int], ...] = (
    (InputError, USAGE),
    (PortError, PORT),
    (WireError, PORT),
    (RecordingError, RECORDING),
    (FitError, FIT),
    (SensorError, SENSOR),
)


@dataclass(frozen=True)
class Command:
    """One command; its module has the same name."""

    name: str
    help: str
    aliases: tuple[str, ...] = ()

    def run(self, options: argparse.Namespace, say: Say) -> int:
        """Import the command, run it and return its exit code."""
        return int(import_module(f"frothline.cli.{self.name}").run(options, say))


COMMANDS = (
    Command("demo", "show everything with a simulated rig; no board needed"),
    Command("live", "serve the live pages for a rig"),
    Command("record", "record a rig to a file, without a page"),
    Command("find", "look for a rig on every serial port"),
    Command("check", "test a rig part by part and print a card"),
    Command("flash", "write the firmware to a board"),
    Command("calibrate", "calibrate a sensor against something known, step by step"),
    Command("settings", "show or change the board's settings: its name and sensors"),
    Command("verify", "check a recording for damage"),
    Command("table", "write a recording as a table (CSV, Parquet)", ("export",)),
    Command("overview", "show a recording over time: lowest and highest values in equal stretches"),
    Command("curve", "fit an air source's curve to recorded sweeps"),
    Command("sources", "how to measure each kind of air source, its hazards, and how long a tank lasts"),
    Command("compare", "compare several air sources and show which can drive a generator"),
    Command("library", "files of measured sources: search, pool, and the curve of a source that nobody measured"),
    Command("recordings", "list the recordings of a folder, searched and filtered"),
    Command("trials", "compare runs with their builds and samples"),
    Command("effects", "which change made a difference, and which changes the trials cannot separate"),
    Command("plan", "what to try next, from the parts at hand"),
    Command("build", "check a build sheet, draw it, or start a new one"),
    Command("whatif", "predict the effect of a changed part or air source"),
    Command("sample", "density, expansion and drainage of a weighed foam sample"),
    Command("drainage", "drainage curve of foam from a few readings: quarter and half times"),
    Command("jar", "what survives of the foam in a jar of slurry, before a bag is risked"),
    Command("bubbles", "bubble diameter and growth from photos of foam, and the target to print"),
    Command("batch", "mix quantities and generator run time"),
    Command("agents", "foaming agents: surface tension by the weight of drops, and soaps compared in blocks"),
    Command("pourplan", "plan a pour: mixes, foam, timetable, form pressure, shopping, density to expect"),
    Command("pours", "what became of the foam in concrete: survival, densities, settlement, strength"),
    Command("completion", "print what a shell needs to complete commands and options"),
    Command("report", "write a report of a sweep, a run or a series of trials"),
)


def parser(arguments: Sequence[str] | None = None) -> argparse.ArgumentParser:
    """Parser of all commands, with the options of the command in ``arguments``; of all commands without arguments."""
    codes = "\n".join(f"  {code:>3}  {words}" for code, words in EXIT_CODES.items())
    top = argparse.ArgumentParser(
        prog="frothline",
        description="Measures air sources and foam generators for cellular concrete.",
        epilog=f"exit codes:\n{codes}\n\n`frothline <command> --help` shows the options of each command.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    top.add_argument("--version", action="version", version=f"frothline {__version__}")
    top.add_argument("--traceback", action="store_true", help="show where in the program an error came from")
    commands = top.add_subparsers(dest="command", metavar="<command>", required=True)
    named = None if arguments is None else next((one for one in arguments if not one.startswith("-")), "")
    for command in COMMANDS:
        sub = commands.add_parser(
            command.name,
            aliases=list(command.aliases),
            help=command.help,
            description=command.help,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        if named is None or named in (command.name, *command.aliases):
            _complete(sub, command)
    return top


def _complete(sub: argparse.ArgumentParser, command: Command) -> None:
    """Add the command's options and help text."""
    module = import_module(f"frothline.cli.arguments.{command.name}")
    sub.description = getattr(module, "ABOUT", command.help)
    sub.add_argument("--json", action="store_true", help="the result as JSON, SI units, on standard output")
    sub.add_argument("--quiet", action="store_true", help="no progress on standard error")
    module.add_options(sub)
    sub.set_defaults(run=command.run)


def _stop_as_by_hand() -> None:
    """Treat a closed terminal or a plain ``kill`` like Ctrl-C, so that a recording is closed in order."""

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    if threading.current_thread() is threading.main_thread():
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)  # Windows does not have both
            if number is not None and signal.getsignal(number) == signal.SIG_DFL:  # unchanged under nohup
                signal.signal(number, stop)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; argparse itself exits with 2 for a wrong command line."""
    write_everything(sys.stdout, sys.stderr)
    given = sys.argv[1:] if arguments is None else arguments
    try:
        use_preferences()
    except FrothlineError as error:
        Say(as_json="--json" in given, quiet=False).error(error.as_dict(), f"frothline: {error}")
        return USAGE
    options = parser(given).parse_args(given)
    _stop_as_by_hand()
    from frothline.cli.numbers import read_figures  # noqa: PLC0415  not for the help of the program
    from frothline.cli.options import given_texts  # noqa: PLC0415

    system, names = getattr(options, "units", "metric"), given_texts(options)
    command = next(one.name for one in COMMANDS if options.command in (one.name, *one.aliases))
    say = Say(as_json=options.json, quiet=options.quiet, system=system, names=names, command=command)
    try:
        read_figures(options)
        return int(options.run(options, say))
    except FrothlineError as error:
        if options.traceback:
            raise
        say.error(error.as_dict(), f"frothline: {error}")
        return next((code for branch, code in _BRANCHES if isinstance(error, branch)), INTERNAL)
    except KeyboardInterrupt:
        say.error({"code": "interrupted", "what": "stopped by Ctrl-C", "where": "", "remedy": ""}, "stopped")
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of standard output has closed it; discard further output, including that at the interpreter's exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK
    except OSError as error:
        if options.traceback:
            raise
        where = str(error.filename or "")
        what = error.strerror or str(error)
        say.error({"code": "file", "what": what, "where": where, "remedy": ""}, f"frothline: {where}: {what}")
        return USAGE
    except Exception as error:
        if options.traceback:
            raise
        words = f"a bug in this program ({type(error).__name__}: {error})"
        say.error(
            {"code": "internal", "what": words, "where": "", "remedy": "Run it with --traceback"},
            f"frothline: {words}. Run `frothline --traceback {options.command} …` and report what it prints",
        )
        return INTERNAL
