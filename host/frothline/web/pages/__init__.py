"""The pages, one folder each, named as in the URL.

``link.py`` has ``LINK``, the link in the diagram of the line. ``page.py`` has ``layout()`` and ``register(app, feed)``.
``content.py`` has ``content(services)``, which fills in messages. All pages are in the document and one of them is
visible, so that a chart keeps its zoom and data while another page is shown.

This package imports its pages by name when they are used: each of them imports from here and from ``web``.
"""

from importlib import import_module
from types import ModuleType

from frothline.web.page_link import PageLink
from frothline.web.services import PageContent, Services

PAGES = ("source", "spool", "generator", "run", "batch", "notebook")  # in the order of the line
GUIDE = "sweep"  # the full-screen guide, over the other pages

__all__ = ["GUIDE", "PAGES", "content_of", "links", "page_of"]


def page_of(name: str) -> ModuleType:
    """The module with ``layout`` and ``register`` of a page."""
    return import_module(f"{__name__}.{name}.page")


def content_of(name: str, services: Services) -> PageContent:
    """The object that fills in messages for a page."""
    found: PageContent = import_module(f"{__name__}.{name}.content").content(services)
    return found


def links() -> tuple[PageLink, ...]:
    """The links in the diagram of the line, from left to right."""
    return tuple(import_module(f"{__name__}.{name}.link").LINK for name in PAGES)
