"""Link to the run page in the diagram of the line."""

from frothline.web.page_link import AXIS, PageLink
from frothline.web.pages.run.labels import QUESTION

LINK = PageLink(
    "run",
    "/run",
    890,
    1012,
    952,
    f'<path class="ink" d="M918 {AXIS - 26}l8 52h52l8-52z"/>'
    f'<path class="ink thin" d="M922 {AXIS - 6}q10 -8 20 0t20 0 20 0"/>'
    f'<path class="ink" d="M834 {AXIS}h46q26 0 34 -18"/>',
    QUESTION,
    earlier=("/bucket",),
)
