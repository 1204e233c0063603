"""Is the rig alive, and how well does it know? Channels at rest, their uncertainties, health and losses."""

from __future__ import annotations

from dash import Dash, html
from dash.development.base_component import Component

from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.spool import calibration_page
from frothline.web.pages.spool.link import LINK


def layout() -> Component:
    """Tables: what is asked here is answered by numbers; below them what makes the numbers better."""
    return components.page(
        "spool",
        LINK.question,
        components.table(
            "channels",
            "What each channel says now",
            ("channel", "reading", "95 % interval, or why not", "state", "sensor", "known from"),
        ),
        html.Div(
            [
                components.table("health", "Health of the link, since the program started", ()),
                components.table("marks", "Marks and events, newest first", ("when", "what", "words")),
            ],
            className="two",
        ),
        components.table(
            "budget",
            "Where the uncertainty comes from (one standard uncertainty each, and its share of the whole)",
            ("figure", "contribution", "size", "share", "from"),
        ),
        *calibration_page.at_rest(),
        calibration_page.under_way(),
    )


def register(app: Dash, feed: Feed) -> None:
    """Only calibrations are done here."""
    calibration_page.register(app, feed)
