"""Link to the generator page in the diagram of the line."""

from frothline.web.page_link import AXIS, PageLink, flange
from frothline.web.pages.generator.labels import QUESTION

LINK = PageLink(
    "generator",
    "/generator",
    610,
    850,
    730,
    # the tube with its packing, the liquid inlet from above, the reducer at the outlet
    flange(626)
    + f'<path class="ink" d="M626 {AXIS - 20}h160l28 12h20M626 {AXIS + 20}h160l28-12h20"/>'
    + "".join(f'<path class="ink thin" d="M{x} {AXIS + 20}l24-40"/>' for x in range(684, 766, 13))
    + f'<path class="ink thin" d="M684 {AXIS - 20}l0 40M784 {AXIS - 20}v40"/>'
    + f'<path class="ink" d="M652 {AXIS - 20}v-14h-14"/>',
    QUESTION,
)
