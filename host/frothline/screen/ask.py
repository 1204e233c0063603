"""What a page asks for that carries words: an entry of the build sheet, a weighing, an order.

One address, JSON in and JSON out; the answer is the line that the page shows. Everything else that changes comes back
by the pushed messages, to every page that looks. A request must say that it is JSON: no page from elsewhere can send
that without being asked back by the browser first, which this server never answers.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from fastapi import FastAPI, Request

from frothline.errors import FrothlineError

LARGEST = 64 * 1024  # bytes of one request
ADDRESS = "/ask"


@dataclass(frozen=True)
class Asked:
    """One request: ``value`` of the button or the entry, ``fields`` of its form, all of them text."""

    value: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> str:
        """An entry of the form, without blanks around it; empty where there is none."""
        return self.fields.get(name, "").strip()


Do = Callable[[Asked], str]


class Asks:
    """What may be asked, by name. What is done may take its time: it runs in a thread."""

    def __init__(self) -> None:
        self._known: dict[str, Do] = {}

    def on(self, name: str, do: Do) -> None:
        """``do`` gives the words to show, empty for none; a FrothlineError becomes its text."""
        self._known[name] = do

    async def answer(self, said: Any) -> dict[str, Any]:
        """``{"text", "trouble"}`` for whatever came from a page, of which nothing is believed unchecked."""
        request = said if isinstance(said, Mapping) else {}
        do = self._known.get(str(request.get("ask", "")))
        if do is None:
            return {"text": "this page is older than the program: load it again", "trouble": True}
        fields = request.get("fields")
        given = {str(k): str(v) for k, v in fields.items()} if isinstance(fields, Mapping) else {}
        try:
            text = await asyncio.to_thread(do, Asked(str(request.get("value", "")), given))
        except FrothlineError as error:
            return {"text": str(error), "trouble": True}
        return {"text": text, "trouble": False}

    def serve(self, server: FastAPI) -> None:
        """Answer at ``ADDRESS``."""

        @server.post(ADDRESS)
        async def ask(request: Request) -> dict[str, Any]:
            refused = {"text": "this cannot be read", "trouble": True}
            if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
                return refused
            if int(request.headers.get("content-length") or LARGEST + 1) > LARGEST:
                return refused
            try:
                return await self.answer(await request.json())
            except ValueError:
                return refused
