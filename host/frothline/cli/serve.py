"""``demo`` and ``live``: the pages, on loopback unless asked otherwise."""

from __future__ import annotations

import socket
import threading
import webbrowser
from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import TYPE_CHECKING

from frothline.cli.numbers import number, whole
from frothline.cli.output import Command, Say
from frothline.cli.port import NONE, add_port, checked_rate, sensors_of
from frothline.errors import InputError

if TYPE_CHECKING:
    from frothline.bench.session import Session

HOST = "127.0.0.1"
PORT = 8050
LOOPBACK = {"127.0.0.1", "::1", "localhost"}


def _page_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--folder", type=Path, metavar="DIR", help="recordings go here (FROTHLINE_FOLDER, else ~/Frothline)"
    )
    sub.add_argument("--no-browser", action="store_true", help="print the address, open nothing")
    sub.add_argument("--host", default=HOST, help=f"address to serve on ({HOST}: this computer only)")
    sub.add_argument(
        "--web-port", type=whole(0, 65535), metavar="N", help=f"port to serve on ({PORT}, or a free one if it is taken)"
    )


def _demo_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--emulated", action="store_true", help="run the board's own firmware in the instruction simulator"
    )
    sub.add_argument("--scenario", default="sweep", help="what the simulated air source and hand do (sweep)")
    sub.add_argument("--seed", type=whole(), default=1, help="of all chance in the simulation (1)")
    sub.add_argument("--speed", type=number(low=0, high=1000), default=1.0, help="times real time (1)")
    sub.add_argument("--no-record", action="store_true", help="do not begin a sweep and its recording by itself")
    _page_options(sub)


def _demo(options: Namespace, say: Say) -> int:
    kind = "emulated" if options.emulated else "modelled"
    url = f"{kind}://{options.scenario}?seed={options.seed}&speed={options.speed:g}"
    from frothline.bench.session import Session  # noqa: PLC0415

    session = Session(url, options.folder)
    with session:
        session.start(wait=True)
        # Only a sweep has a hand at the throttle; on other lines the guide would wait for one in vain.
        if options.scenario.startswith("sweep") and not options.no_record:
            session.start_sweep(name="demo", metadata={"note": f"demonstration with a simulated rig, {url}"})
        return _serve(session, options, say)


def _live_options(sub: ArgumentParser) -> None:
    add_port(sub)
    _page_options(sub)


def _live(options: Namespace, say: Say) -> int:
    from frothline.bench.session import Session  # noqa: PLC0415

    sensors = sensors_of(options)
    if options.calibration not in {None, NONE}:
        sensors["calibration"] = options.calibration  # by its name: what is calibrated on the page goes into it
    session = Session(options.port, options.folder, rate=checked_rate(options), **sensors)
    with session:
        session.start()  # the page is there at once and says what it is waiting for
        return _serve(session, options, say)


def _serve(session: Session, options: Namespace, say: Say) -> int:
    from frothline.web.server import serve  # noqa: PLC0415  Dash takes seconds to load

    port = options.web_port
    if port is None:
        port = PORT if _is_free(options.host, PORT) else 0
    elif port and not _is_free(options.host, port):
        raise InputError(
            "another program serves on this port", where=f"--web-port {port}", remedy="Give another, or none"
        )
    if options.host not in LOOPBACK:
        say.note(f"serving on {options.host}: everyone who reaches this computer can see and operate the rig")

    def ready(address: str) -> None:
        data = {"address": address, "folder": session.folder, "rig": session.url}
        say.result(data, f"{address}\nrecordings go to {session.folder}; Ctrl-C ends it")
        if not options.no_browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    try:
        serve(session, host=options.host, port=port, ready=ready)
    except KeyboardInterrupt:
        pass  # the usual way to end it
    return 0


def _is_free(host: str, port: int) -> bool:
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    except socket.gaierror as error:
        raise InputError(
            f"there is no such address ({error})", where=f"--host {host}", remedy="Leave --host out"
        ) from error
    with socket.socket(family, kind, protocol) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)  # one just closed counts as free
        try:
            probe.bind(address)
        except OSError:
            return False
    return True


COMMANDS = (
    Command(
        "demo",
        "show everything with a simulated rig; no board needed",
        _demo_options,
        _demo,
        "Starts a simulated rig whose throttle is worked from shut-off to free delivery, records it, and serves the\n"
        "pages on loopback. No board is needed.",
    ),
    Command("live", "serve the live pages for a rig", _live_options, _live),
)
