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
from frothline.errors import FitError, FrothlineError, InputError, PortError, RecordingError, SensorError, WireError

OK, LOSSES, USAGE, PORT, RECORDING, FIT, SENSOR, INTERNAL, INTERRUPTED = 0, 1, 2, 3, 4, 5, 6, 70, 130
EXIT_CODES = {
    OK: "done, and nothing is wrong",
    LOSSES: "done, but something was lost or refused: a recording with gaps or damage, a rig that lost frames",
    USAGE: "the command line, or a file that a person wrote, is wrong",
    PORT: "the rig: no port, port busy, silent or lost, not a rig, another protocol",
    RECORDING: "a recording cannot be read or written",
    FIT: "the points cannot carry the curve that was asked for",
    SENSOR: "counts cannot be turned into SI values",
    INTERNAL: "a fault of this program",
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
    Command("find", "ask every serial port whether a rig is there"),
    Command("check", "test a rig part by part and print a card"),
    Command("flash", "write the firmware to a board"),
    Command("calibrate", "calibrate a sensor against something known, step by step"),
    Command("settings", "show or change what the board keeps: its name and sensors"),
    Command("verify", "say what of a recording is whole, damaged or missing"),
    Command("table", "write a recording as a table (CSV, Parquet)", ("export",)),
    Command("curve", "fit an air source's curve to recorded sweeps"),
    Command("sources", "how each kind of air source is measured, what to beware of, and how long a tank lasts"),
    Command("compare", "several air sources side by side, and which of them can drive a generator"),
    Command("recordings", "list the recordings of a folder, searched and filtered"),
    Command("trials", "runs with their builds and samples, side by side"),
    Command("effects", "which change helped, and what the trials cannot tell apart"),
    Command("plan", "what to try next, from the parts at hand"),
    Command("build", "check a build sheet, draw it, or begin a new one"),
    Command("whatif", "what a changed part or another air source would do"),
    Command("sample", "what a weighed and timed container of foam says"),
    Command("batch", "how much of everything, and how long the generator runs"),
    Command("report", "write a report of a sweep, a run or a series of trials"),
)


def parser(arguments: Sequence[str] | None = None) -> argparse.ArgumentParser:
    """Parser of all commands, with the options of the command in ``arguments``; of all commands without arguments."""
    codes = "\n".join(f"  {code:>3}  {words}" for code, words in EXIT_CODES.items())
    top = argparse.ArgumentParser(
        prog="frothline",
        description="Measures air sources and foam generators for cellular concrete.",
        epilog=f"exit codes:\n{codes}\n\n`frothline <command> --help` tells more about each.",
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
    given = sys.argv[1:] if arguments is None else arguments
    options = parser(given).parse_args(given)
    _stop_as_by_hand()
    say = Say(as_json=options.json, quiet=options.quiet)
    try:
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
        words = f"a fault of this program ({type(error).__name__}: {error})"
        say.error(
            {"code": "internal", "what": words, "where": "", "remedy": "Run it with --traceback"},
            f"frothline: {words}. Run `frothline --traceback {options.command} …` and report what it prints",
        )
        return INTERNAL
