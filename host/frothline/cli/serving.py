"""Serving of the pages, for ``demo`` and ``live``, on loopback unless another address is given."""

from __future__ import annotations

import io
import sys
import threading
import webbrowser
from argparse import Namespace

from frothline.bench.session import Session
from frothline.cli.output import Say
from frothline.web.address import PageAddress, default_port
from frothline.web.server import serve


def serve_pages(session: Session, options: Namespace, say: Say) -> int:

    port = default_port(options.host) if options.web_port is None else options.web_port

    def ready(address: PageAddress) -> None:
        if address.viewers:
            may = "see and operate" if options.viewers_operate else "see"
            say.note(f"anyone with this link can {may} the rig, over any network that reaches this computer:")
            say.note(f"{address.viewers}{qr_code(address.viewers)}")
        data = {"address": address, "viewers": address.viewers, "folder": session.folder, "rig": session.url}
        say.result(data, f"{address}\nrecordings are saved in {session.folder}; press Ctrl-C to stop")
        if not options.no_browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    try:
        serve(session, host=options.host, port=port, ready=ready, viewers_operate=options.viewers_operate)
    except KeyboardInterrupt:
        pass  # the usual end
    return 0


def qr_code(link: str) -> str:
    """The link as a QR code of block characters, two rows in a line; empty where no terminal can show it."""
    if not sys.stderr.isatty() or "utf" not in (sys.stderr.encoding or "").lower():
        return ""
    import segno  # noqa: PLC0415  only in a network

    drawn = io.StringIO()
    segno.make(link, error="m", micro=False).terminal(drawn, compact=True)
    return f"\n{drawn.getvalue()}"
