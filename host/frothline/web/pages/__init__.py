"""One file for each part of the line: ``layout()`` gives its page, ``register(app, feed)`` what its buttons do.

All pages stand in the document from the beginning and one of them is shown, so that a picture keeps its zoom and its
memory while somebody looks elsewhere.
"""

from frothline.web.pages.bucket import page as bucket_page
from frothline.web.pages.generator import page as generator_page
from frothline.web.pages.notebook import page as notebook_page
from frothline.web.pages.source import page as source_page
from frothline.web.pages.spool import page as spool_page

PAGES = {
    "source": source_page,
    "spool": spool_page,
    "generator": generator_page,
    "bucket": bucket_page,
    "notebook": notebook_page,
}

__all__ = ["PAGES"]
