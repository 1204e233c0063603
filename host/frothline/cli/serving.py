"""Serving of the pages, for ``demo`` and ``live``, on loopback unless another address is given."""

from __future__ import annotations

import threading
import webbrowser
from argparse import Namespace

from frothline.bench.session import Session
from frothline.cli.output import Say
from frothline.web.address import default_port, is_loopback
from frothline.web.server import serve


def serve_pages(session: Session, options: Namespace, say: Say) -> int:

    port = default_port(options.host) if options.web_port is None else options.web_port

    def ready(address: str) -> None:
        if not is_loopback(options.host):
            say.note(f"serving on {options.host}: anyone on the network can see and operate the rig")
        data = {"address": address, "folder": session.folder, "rig": session.url}
        say.result(data, f"{address}\nrecordings are saved in {session.folder}; press Ctrl-C to stop")
        if not options.no_browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    try:
        serve(session, host=options.host, port=port, ready=ready)
    except KeyboardInterrupt:
        pass  # the usual end
    return 0
