"""Layout and callbacks of the spool page: channels at rest, their uncertainties, health and losses."""

from __future__ import annotations

from dash import Dash
from dash.development.base_component import Component

from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.spool import calibration_page
from frothline.web.pages.spool.link import LINK


def layout() -> Component:
    """The page: state of the calibrations, live readings, and parts that a phone shows closed."""
    return components.page(
        "spool",
        LINK.question,
        calibration_page.head(),
        components.table(
            "channels",
            "Live readings",
            ("channel", "reading", "95 % interval, or reason", "state", "sensor", "basis"),
        ),
        *calibration_page.at_rest(),
        components.part(
            "health",
            "Health of the link",
            components.table("health", "Health of the link, since the program started", ()),
        ),
        components.part(
            "marks",
            "Notes and events",
            components.table("marks", "Notes and events, newest first", ("when", "what", "words")),
        ),
        components.part(
            "budget",
            "Uncertainty budget",
            components.table(
                "budget",
                "Standard uncertainty of each contribution and its share",
                ("figure", "contribution", "size", "share", "from"),
            ),
        ),
        calibration_page.under_way(),
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the buttons; the page only has those of the calibrations."""
    calibration_page.register(app, feed)
