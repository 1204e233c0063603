"""Is the rig alive, and how well does it know? Channels at rest, their uncertainties, health and losses."""

from __future__ import annotations

from dash import Dash, html
from dash.development.base_component import Component

from frothline.screen.feed import Feed
from frothline.screen.line import QUESTIONS
from frothline.screen.pages import calibration, parts


def layout() -> Component:
    """Tables: what is asked here is answered by numbers; below them what makes the numbers better."""
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
        *calibration.at_rest(),
        calibration.under_way(),
    )


def register(app: Dash, feed: Feed) -> None:
    """Only calibrations are done here."""
    calibration.register(app, feed)
