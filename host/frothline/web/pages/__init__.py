"""The pages: a folder each, named as in its URL. ``page.py`` there has ``layout()`` and ``register(app, feed)``.

All pages are in the document from the beginning and one of them is shown, so that a chart keeps its zoom and its data
while another page is read. This package imports no page: a page's own modules would then import each other in a circle.
"""

from importlib import import_module
from types import ModuleType

PAGES = ("source", "spool", "generator", "bucket", "notebook")  # in the order of the line, as the drawing links them
GUIDE = "sweep"  # the full-screen guide, over the other pages

__all__ = ["GUIDE", "PAGES", "page_of"]


def page_of(name: str) -> ModuleType:
    """The module with ``layout`` and ``register`` of a page."""
    return import_module(f"{__name__}.{name}.page")
