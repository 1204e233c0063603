"""The web server of the pages: one process, one worker, loopback by default.

The caller passes an open session, so that importing this module opens no port. uvicorn serves the application directly;
the framework's own ``run`` would import the caller a second time.
"""

from __future__ import annotations

import contextlib
import errno
import socket
import threading
import time
from collections.abc import Callable, Iterator
from http import HTTPStatus

import pandas as pd  # noqa: F401  plotly uses it if it is loaded, and fails while another thread loads it
import uvicorn
from dash import ClientsideFunction, Dash, Input, dcc, html
from fastapi import FastAPI, WebSocket
from starlette.datastructures import MutableHeaders
from starlette.middleware.gzip import GZipMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from frothline.bench.session_api import SessionApi
from frothline.errors import InputError
from frothline.web import components, document, own_files, replay_bar
from frothline.web.access import KEY, Access, Guard
from frothline.web.address import HOST, PORT, PageAddress, is_everywhere, is_loopback, network_address
from frothline.web.feed import Feed
from frothline.web.pages import GUIDE, PAGES, links, page_of
from frothline.web.shared_messages import SharedMessages
from frothline.web.stream import ADDRESS, LARGEST, PERIOD, stream

THIS_COMPUTER = (
    "Give an address of this computer: 127.0.0.1 for this computer only, 0.0.0.0 for every network it is in, or leave "
    "--host out"
)
YEAR = "public, max-age=31536000, immutable"


def create_app(session: SessionApi, *, access: Access | None = None) -> Dash:
    """Create the application for one session; opens and starts nothing.

    ``access`` : who may read and operate; without it only this computer.
    """
    server = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    own_files.register(server)
    server.add_middleware(CacheByContent)
    server.add_middleware(GZipMiddleware, compresslevel=6)
    server.add_middleware(Guard, access=access or Access())
    stores: list[dcc.Store] = [dcc.Store(id=components.SAID)]
    pages = document.markup([page_of(name).layout() for name in (*PAGES, GUIDE)], stores)
    stores.append(components.asks("replay"))
    app = Dash(
        "frothline.web",
        server=server,
        assets_folder=str(own_files.ASSETS),
        title="Frothline",
        update_title="",
        index_string=document.index_string(links(), pages),
        include_assets_files=False,  # index.html names them: the framework adds them only to "/"
        serve_locally=True,
        health_endpoint="alive",
    )
    feed = Feed(session)
    app.layout = html.Div(stores, id=components.REQUESTS)
    _register(app, feed)
    replay_bar.register(app, feed.playback)
    for page in map(page_of, (*PAGES, GUIDE)):
        page.register(app, feed)
    return app


class CacheByContent:
    """Lets browsers keep the assets whose address has the hash of their content."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def kept(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == HTTPStatus.OK:
                MutableHeaders(scope=message)["Cache-Control"] = YEAR
            await send(message)

        hashed = scope["type"] == "http" and scope["path"].startswith("/assets/") and scope["query_string"]
        await self._app(scope, receive, kept if hashed else send)


def serve(
    session: SessionApi,
    *,
    host: str = HOST,
    port: int = PORT,
    ready: Callable[[PageAddress], None] | None = None,
    viewers_operate: bool = False,
) -> None:
    """Serve the pages until interrupted; ``ready`` is called with the address when the server is up.

    Raises InputError if the port is in use or the host is not this computer. ``port`` 0 selects a free port.
    ``viewers_operate`` : the viewers' link may operate the rig too.
    """
    listening = _listen(host, port)
    server, address = _server(session, listening, host, viewers_operate=viewers_operate)
    if ready is not None:
        threading.Thread(target=_tell, args=(server, ready, address), daemon=True).start()
    server.run(sockets=[listening])


@contextlib.contextmanager
def serving(
    session: SessionApi, *, host: str = HOST, port: int = 0, viewers_operate: bool = False
) -> Iterator[PageAddress]:
    """Context manager that serves the pages from a thread; gives the address. For notebooks and tests."""
    listening = _listen(host, port)
    server, address = _server(session, listening, host, viewers_operate=viewers_operate)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        while not server.started and thread.is_alive():
            time.sleep(0.01)
        yield address
    finally:
        server.should_exit = True
        thread.join(5.0)
        listening.close()


def _listen(host: str, port: int) -> socket.socket:
    try:
        found = socket.getaddrinfo(host or None, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        family, *_, address = found[0]
        both = family == socket.AF_INET6 and is_everywhere(host) and socket.has_dualstack_ipv6()
        return socket.create_server(address, family=family, dualstack_ipv6=both)
    except (socket.gaierror, UnicodeError) as error:  # UnicodeError: a part of the name is too long
        what = f"the host “{host}” cannot be found ({getattr(error, 'strerror', None) or error})"
        raise InputError(what, where="--host", remedy=THIS_COMPUTER) from error
    except OSError as error:
        if error.errno == errno.EADDRNOTAVAIL:
            what = f"“{host}” is not an address of this computer"
            raise InputError(what, where="--host", remedy=THIS_COMPUTER) from error
        raise InputError(
            f"the pages cannot be served: {error.strerror or error}",
            where=f"{host}:{port}",
            remedy="Close the other program that uses this address, or choose another port",
        ) from error


def _server(
    session: SessionApi, listening: socket.socket, host: str, *, viewers_operate: bool
) -> tuple[uvicorn.Server, PageAddress]:
    bound, port = listening.getsockname()[:2]
    if is_loopback(bound):
        access = Access(Access().names | {host.lower(), bound})
        address = PageAddress(_link(host, port))
    else:
        access = Access.in_network(host, viewers_operate=viewers_operate)
        everywhere = is_everywhere(bound)
        own = ("::1" if ":" in bound else HOST) if everywhere else host
        others = network_address() if everywhere else host
        address = PageAddress(_link(own, port, access.operator), _link(others, port, access.viewer))
    app = create_app(session, access=access)
    # A viewer that does not answer the socket's ping within 20 s is dropped; this releases a sleeping phone.
    config = uvicorn.Config(
        app.server,
        log_level="warning",
        ws="websockets-sansio",
        ws_max_size=LARGEST,
        ws_ping_interval=20.0,
        ws_ping_timeout=20.0,
        ws_per_message_deflate=not is_loopback(listening.getsockname()[0]),  # saves nothing within this computer
        timeout_graceful_shutdown=1,
    )
    return uvicorn.Server(config), address


def _link(host: str, port: int, key: str = "") -> str:
    shown = f"[{host}]" if ":" in host else host
    return f"http://{shown}:{port}/" + (f"?{KEY}={key}" if key else "")


def _tell(server: uvicorn.Server, ready: Callable[[PageAddress], None], address: PageAddress) -> None:
    while not server.started and not server.should_exit:
        time.sleep(0.02)
    if server.started:
        ready(address)


def _register(app: Dash, feed: Feed) -> None:
    shared = SharedMessages(feed, PERIOD)

    @app.server.websocket(ADDRESS)  # type: ignore[untyped-decorator]
    async def live(socket: WebSocket) -> None:
        await socket.accept()
        await stream(feed, socket, shared=shared)

    app.clientside_callback(ClientsideFunction("frothline", "say"), Input(components.SAID, "data"))
