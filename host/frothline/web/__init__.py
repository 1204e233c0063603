"""Web pages of a session: live readings, results and next steps, in a browser.

``create_app``, ``serve`` and ``serving`` are imported on first use, because the page framework loads slowly.
"""

from typing import Any

__all__ = ["create_app", "serve", "serving"]


def __getattr__(name: str) -> Any:
    if name in __all__:
        from frothline.web import server  # noqa: PLC0415

        return getattr(server, name)
    raise AttributeError(name)
