"""Who may read the pages and who may operate the rig: host names, origins, keys, and framing.

On loopback only the names of this computer are served. In a network the rules are: the request names this computer by
an address or by its own name (a name of somebody else's page would be DNS rebinding); it comes from a page of this
server; and the browser has a key, which a link brings and a cookie keeps. The key of the viewers reads, and operates
only if that was allowed. No page of another site may show these pages in a frame.
"""

from __future__ import annotations

import ipaddress
import secrets
import socket
from collections.abc import Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from http import HTTPStatus
from urllib.parse import parse_qsl, urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from frothline.errors import InputError

KEY = "key"  # name in the link
LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
ONLY_READING = ContextVar("frothline_only_reading", default=False)  # set for a request of a viewer who may not operate
WITHOUT_KEY = (
    "These pages open with a link that has a key. It is on the screen of the computer that runs Frothline: open it, or "
    "scan its QR code."
)
WHO_MAY = "To operate, use the computer that runs Frothline, or start it with --viewers-operate"
FOREIGN_HOST = "This computer is not known by that name. Use the link that Frothline has printed."
FOREIGN_PAGE = "The request comes from a page of another site and is refused. Open the link that Frothline has printed."
HEADERS = (
    ("Content-Security-Policy", "frame-ancestors 'none'"),
    ("X-Frame-Options", "DENY"),  # for browsers that do not know frame-ancestors
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "same-origin"),
)


@dataclass(frozen=True)
class Access:
    """The rules of one server. Without keys everyone may operate, which is meant for loopback alone.

    names : host names in lower case, addresses without brackets
    any_address : any literal address is accepted as the host, because a rebound request has a name
    """

    names: frozenset[str] = LOOPBACK
    any_address: bool = False
    operator: str = ""
    viewer: str = ""
    viewers_operate: bool = False

    @classmethod
    def in_network(cls, host: str, *, viewers_operate: bool = False) -> Access:
        """The rules for a server on an address that others reach, with new keys."""
        own = socket.gethostname().lower()
        names = LOOPBACK | {own, f"{own}.local", host.lower()} - {""}
        return cls(frozenset(names), True, secrets.token_urlsafe(16), secrets.token_urlsafe(16), viewers_operate)

    def knows_host(self, header: str) -> bool:
        """Whether a Host header names this computer."""
        try:
            name = urlsplit(f"//{header}").hostname or ""
        except ValueError:
            return False
        return name in self.names or (self.any_address and _is_address(name))

    def role(self, key: str) -> str:
        """``operator``, ``viewer``, or empty for a wrong key."""
        if not self.operator:
            return "operator"
        said = key.encode("utf-8", "replace")
        for role, right in (("operator", self.operator), ("viewer", self.viewer)):
            if right and secrets.compare_digest(said, right.encode()):
                return role
        return ""


def refuse_viewer() -> None:
    """Raise InputError if the request is of a viewer who may not operate."""
    if ONLY_READING.get():
        raise InputError("this link is for viewing: it starts, stops and changes nothing", remedy=WHO_MAY)


def say_access(texts: dict[str, str], states: dict[str, str]) -> None:
    """Fill in whether the page of this request may operate. A page that may not has no control to press."""
    only_reading = ONLY_READING.get()
    states["access"] = "read" if only_reading else "operate"
    texts["access"] = f"This link is for viewing. {WHO_MAY}." if only_reading else ""


def same_origin(headers: Mapping[str, str]) -> bool:
    """Whether the request was made by a page of this server. Any site may send one to this computer, and would read
    the data otherwise.
    """
    try:
        return urlsplit(headers.get("origin", "")).netloc == headers.get("host") != ""
    except ValueError:
        return False


class Guard:
    """Refuses requests by the rules of an ``Access``, and adds the headers against framing."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self._app, self._access = app, access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                for name, value in HEADERS:
                    MutableHeaders(scope=message)[name] = value
            await send(message)

        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        if refusal is None:
            role = self._access.role(self._cookie(headers))
            only_reading = role != "operator" and not self._access.viewers_operate
            token = ONLY_READING.set(only_reading)
            try:
                await self._app(scope, receive, sent)
            finally:
                ONLY_READING.reset(token)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
        else:
            await refusal(scope, receive, sent)

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        """The answer to a request that is not served; None for one that is."""
        if not self._access.knows_host(headers.get("host", "")):
            return PlainTextResponse(FOREIGN_HOST, HTTPStatus.BAD_REQUEST)
        if not self._own_page(scope, headers):
            return PlainTextResponse(FOREIGN_PAGE, HTTPStatus.FORBIDDEN)
        if not self._access.operator:
            return None
        query = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
        keys = [value for name, value in query if name == KEY]
        if keys and scope["type"] == "http" and self._access.role(keys[0]):
            rest = urlencode([(name, value) for name, value in query if name != KEY])
            answer = RedirectResponse(
                "/" + scope["path"].lstrip("/\\") + (f"?{rest}" if rest else ""), HTTPStatus.SEE_OTHER
            )
            answer.set_cookie(_cookie_name(headers), keys[0], httponly=True, samesite="lax")
            return answer
        if self._access.role(self._cookie(headers)):
            return None
        return PlainTextResponse(WITHOUT_KEY, HTTPStatus.FORBIDDEN)

    @staticmethod
    def _own_page(scope: Scope, headers: Headers) -> bool:
        if scope["type"] == "websocket":
            return same_origin(headers)
        if scope["method"] in {"GET", "HEAD", "OPTIONS"}:
            return True
        if "origin" in headers:
            return same_origin(headers)
        # A browser without an Origin header says here what kind of page has sent it; other programs say neither.
        return headers.get("sec-fetch-site", "same-origin") in {"same-origin", "none"}

    @staticmethod
    def _cookie(headers: Headers) -> str:
        return cookie_parser(headers.get("cookie", "")).get(_cookie_name(headers), "")


def _cookie_name(headers: Headers) -> str:
    """Cookies of a host are shared by its ports, and two programs may run on one computer."""
    _, _, port = headers.get("host", "").rpartition(":")
    return f"frothline-{port if port.isdecimal() else 80}"


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True
