"""Link to the batch page in the diagram of the line."""

from frothline.web.page_link import AXIS, PageLink
from frothline.web.pages.batch.labels import QUESTION

LINK = PageLink(
    "batch",
    "/batch",
    1018,
    1096,
    1057,
    # a mixer's drum on its stand
    f'<path class="ink" d="M1034 {AXIS - 14}l30 -12 14 30 -30 12z"/>'
    f'<path class="ink thin" d="M1046 {AXIS + 14}l-8 14M1066 {AXIS + 8}l8 20"/>',
    QUESTION,
)
