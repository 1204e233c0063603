"""The pages: a folder each, named as in its URL.

``link.py`` has ``LINK``, its place in the drawing of the line; ``page.py`` has ``layout()`` and
``register(app, feed)``; ``content.py`` has ``content(services)``, which gives what fills a message in. All pages are in
the document from the beginning and one of them is shown, so that a chart keeps its zoom and its data while another page
is read.

This package imports its pages by name when they are used: each of them imports from here and from ``web``.
"""

from importlib import import_module
from types import ModuleType

from frothline.web.page_link import PageLink
from frothline.web.services import PageContent, Services

PAGES = ("source", "spool", "generator", "bucket", "notebook")  # in the order of the line
GUIDE = "sweep"  # the full-screen guide, over the other pages

__all__ = ["GUIDE", "PAGES", "content_of", "links", "page_of"]


def page_of(name: str) -> ModuleType:
    """The module with ``layout`` and ``register`` of a page."""
    return import_module(f"{__name__}.{name}.page")


def content_of(name: str, services: Services) -> PageContent:
    """What fills in the messages for a page."""
    found: PageContent = import_module(f"{__name__}.{name}.content").content(services)
    return found


def links() -> tuple[PageLink, ...]:
    """The links in the drawing of the line, from left to right."""
    return tuple(import_module(f"{__name__}.{name}.link").LINK for name in PAGES)
