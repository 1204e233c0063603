"""The prompt: ``frothline <command>``, the same capabilities as the pages.

Results go to standard output, progress and errors to standard error, so that a script may take the one without the
other; ``--json`` makes the result one JSON document (``find``, ``record`` and the rest) that holds SI values only.
Heavy libraries are loaded by the command that needs them: the help and ``verify`` start in a fraction of a second.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
from collections.abc import Sequence

from frothline import __version__
from frothline.cli import (
    bucket,
    builds,
    calibrate,
    check,
    evaluate,
    files,
    flash,
    notebook,
    port,
    reports,
    serve,
    sources,
)
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
COMMANDS = (
    *serve.COMMANDS,
    *port.COMMANDS,
    *check.COMMANDS,
    *flash.COMMANDS,
    *calibrate.COMMANDS,
    *files.COMMANDS,
    *evaluate.COMMANDS,
    *sources.COMMANDS,
    *notebook.COMMANDS,
    *builds.COMMANDS,
    *bucket.COMMANDS,
    *reports.COMMANDS,
)


def parser() -> argparse.ArgumentParser:
    """All commands with their options; every one has a help text, which a test holds."""
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
    for command in COMMANDS:
        sub = commands.add_parser(
            command.name,
            aliases=list(command.aliases),
            help=command.help,
            description=command.about or command.help,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        sub.add_argument("--json", action="store_true", help="the result as JSON, SI units, on standard output")
        sub.add_argument("--quiet", action="store_true", help="no progress on standard error")
        command.options(sub)
        sub.set_defaults(run=command.run)
    return top


def _stop_as_by_hand() -> None:
    """A closed terminal or a plain ``kill`` ends a command as Ctrl-C does, so that a recording is closed in order."""

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    if threading.current_thread() is threading.main_thread():
        for name in ("SIGTERM", "SIGHUP"):
            number = getattr(signal, name, None)  # Windows has not both
            if number is not None and signal.getsignal(number) == signal.SIG_DFL:  # nohup's wish is kept
                signal.signal(number, stop)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code; argparse itself exits with 2 for a wrong command line."""
    options = parser().parse_args(arguments)
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
        # Whoever read our output has gone; nothing is to be written any more, not even by the interpreter's exit.
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
