"""Link to the source page in the diagram of the line."""

from frothline.web.page_link import AXIS, PageLink, flange
from frothline.web.pages.source.labels import QUESTION

LINK = PageLink(
    "source",
    "/",
    20,
    190,
    100,
    # a fan housing in side view with its tangential outlet
    f'<path class="ink" d="M118 {AXIS - 11}a30 30 0 1 0 0 22M118 {AXIS - 11}h52M118 {AXIS + 11}h52"/>'
    f'<circle class="ink" cx="90" cy="{AXIS}" r="9"/>' + flange(170),
    QUESTION,
)
