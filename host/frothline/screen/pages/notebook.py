"""What did I do, what helped, what next?"""

from __future__ import annotations

from dash import Dash
from dash.development.base_component import Component

from frothline.screen.feed import Feed
from frothline.screen.line import QUESTIONS
from frothline.screen.pages import parts


def layout() -> Component:
    """What will stand here."""
    return parts.page(
        "notebook",
        QUESTIONS["notebook"],
        parts.to_come(
            "trials side by side, with the parts that changed",
            "what helped, and how sure that is",
            "what to try next",
        ),
    )


def register(app: Dash, feed: Feed) -> None:
    """Nothing is pressed on this page yet."""
