"""One file for each part of the line: ``layout()`` gives its page, ``register(app, feed)`` what its buttons do.

All pages stand in the document from the beginning and one of them is shown, so that a picture keeps its zoom and its
memory while somebody looks elsewhere.
"""

from frothline.screen.pages import bucket, generator, notebook, source, spool

PAGES = {"source": source, "spool": spool, "generator": generator, "bucket": bucket, "notebook": notebook}

__all__ = ["PAGES"]
