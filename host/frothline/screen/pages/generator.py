"""What does it ask for, and what if I change it?"""

from __future__ import annotations

from dash import Dash
from dash.development.base_component import Component

from frothline.screen.feed import Feed
from frothline.screen.line import QUESTIONS
from frothline.screen.pages import parts


def layout() -> Component:
    """What will stand here."""
    return parts.page(
        "generator",
        QUESTIONS["generator"],
        parts.to_come(
            "a side view to scale with the share of the back pressure that each element takes",
            "the plane with both lines, the source and the generator, and where they meet",
            "what a changed part would do, before it is built",
        ),
    )


def register(app: Dash, feed: Feed) -> None:
    """Nothing is pressed on this page yet."""
