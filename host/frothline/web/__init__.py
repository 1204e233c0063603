"""Pages over the bench, for a browser on the same table: what is measured now, what it comes to, what to do next.

``create_app``, ``serve`` and ``serving`` are loaded when first asked for, since the page framework takes a while.
"""

from typing import Any

__all__ = ["create_app", "serve", "serving"]


def __getattr__(name: str) -> Any:
    if name in __all__:
        from frothline.web import server  # noqa: PLC0415

        return getattr(server, name)
    raise AttributeError(name)
