"""Layout and callbacks of the spool page: channels at rest, their uncertainties, health and losses."""

from __future__ import annotations

from dash import Dash
from dash.development.base_component import Component

from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.spool import calibration_page, labels
from frothline.web.pages.spool.link import LINK


def layout() -> Component:
    """The page: state of the calibrations, live readings, and parts that a phone shows closed."""
    return components.page(
        "spool",
        LINK.question,
        calibration_page.head(),
        components.table(
            "channels",
            labels.CHANNELS,
            labels.CHANNEL_HEADS,
        ),
        *calibration_page.at_rest(),
        components.part(
            "health",
            labels.HEALTH,
            components.table("health", labels.HEALTH_TABLE, ()),
        ),
        components.part(
            "marks",
            labels.NOTES,
            components.table("marks", labels.NOTES_TABLE, labels.NOTES_HEADS),
        ),
        components.part(
            "budget",
            labels.BUDGET,
            components.table("budget", labels.BUDGET_TABLE, labels.BUDGET_HEADS),
        ),
        calibration_page.under_way(),
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the buttons; the page only has those of the calibrations."""
    calibration_page.register(app, feed)
