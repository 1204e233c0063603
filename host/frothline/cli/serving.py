"""Serving of the pages, for ``demo`` and ``live``, on loopback unless another address is given."""

from __future__ import annotations

import socket
import threading
import webbrowser
from argparse import Namespace

from frothline.bench.session import Session
from frothline.cli.arguments.pages import PORT
from frothline.cli.output import Say
from frothline.errors import InputError
from frothline.web.server import serve

LOOPBACK = {"127.0.0.1", "::1", "localhost"}


def serve_pages(session: Session, options: Namespace, say: Say) -> int:

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
        pass  # the usual end
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
