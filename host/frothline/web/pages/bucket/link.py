"""Link to the bucket page in the diagram of the line."""

from frothline.web.page_link import AXIS, PageLink

LINK = PageLink(
    "bucket",
    "/bucket",
    890,
    1040,
    952,
    f'<path class="ink" d="M918 {AXIS - 26}l8 52h52l8-52z"/>'
    f'<path class="ink thin" d="M922 {AXIS - 6}q10 -8 20 0t20 0 20 0"/>'
    f'<path class="ink" d="M834 {AXIS}h46q26 0 34 -18"/>',
    "How much foam, how good, how long still; which batch?",
)
