"""Is the rig alive, and how well does it know? Channels at rest, their uncertainties, health and losses."""

from __future__ import annotations

from dash import Dash, html
from dash.development.base_component import Component

from frothline.screen.feed import Feed
from frothline.screen.line import QUESTIONS
from frothline.screen.pages import parts


def layout() -> Component:
    """Tables only: what is asked here is answered by numbers."""
    return parts.page(
        "spool",
        QUESTIONS["spool"],
        parts.table(
            "channels",
            "What each channel says now",
            ("channel", "reading", "95 % interval, or why not", "state", "sensor", "known from"),
        ),
        html.Div(
            [
                parts.table("health", "Health of the link, since the program started", ()),
                parts.table("marks", "Marks and events, newest first", ("when", "what", "words")),
            ],
            className="two",
        ),
        parts.table(
            "budget",
            "Where the uncertainty comes from (one standard uncertainty each, and its share of the whole)",
            ("figure", "contribution", "size", "share", "from"),
        ),
    )


def register(app: Dash, feed: Feed) -> None:
    """Nothing is pressed on this page."""
