"""Layout and callbacks of the batch page: entries, amounts, corrections at the mixer, cautions."""

from __future__ import annotations

import asyncio

from dash import Dash
from dash.development.base_component import Component

from frothline.foam.concrete_batch import CAUTIONS
from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.batch import labels


def layout() -> Component:
    """The page: the batch, and its cautions to open."""
    return components.page(
        "batch",
        labels.QUESTION,
        components.block("batch", className="batch"),
        components.block("batch-pours", className="batch-pours"),
        components.drawer(labels.cautions(len(CAUTIONS)), components.block("batch-cautions")),
        components.asks("batch"),
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the action of the button."""

    async def answer(asked: components.Asked) -> str:
        if asked.verb != "keep-cup":
            raise components.unknown(asked.verb)
        return await asyncio.to_thread(feed.runs.keep_cup, asked.argument)

    components.on_asked(app, "batch", answer)
