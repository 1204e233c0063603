"""How much foam, how good, how long still; which batch?"""

from __future__ import annotations

from dash import Dash
from dash.development.base_component import Component

from frothline.screen.feed import Feed
from frothline.screen.line import QUESTIONS
from frothline.screen.pages import parts


def layout() -> Component:
    """What will stand here."""
    return parts.page(
        "bucket",
        QUESTIONS["bucket"],
        parts.to_come(
            "foam so far and foam to go, with its density",
            "a sample timer for weighing and for drainage",
            "the batch: foam, slurry, cast density",
        ),
    )


def register(app: Dash, feed: Feed) -> None:
    """Nothing is pressed on this page yet."""
