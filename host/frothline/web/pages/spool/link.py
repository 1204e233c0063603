"""Link to the spool page in the diagram of the line."""

from frothline.web.page_link import AXIS, PageLink, flange
from frothline.web.pages.spool.labels import QUESTION

LINK = PageLink(
    "spool",
    "/spool",
    300,
    560,
    430,
    # a straight pipe between flanges: tap, rotor, thermometer
    flange(318)
    + f'<path class="ink" d="M318 {AXIS - 11}h224M318 {AXIS + 11}h224"/>'
    + flange(542)
    + f'<path class="ink" d="M364 {AXIS - 11}v-12m-5 0h10"/>'
    + f'<path class="ink" d="M430 {AXIS - 8}v16M422 {AXIS}h16m-14-6l12 12m0-12l-12 12"/>'
    + f'<path class="ink" d="M500 {AXIS - 25}v27"/><circle class="full" cx="500" cy="{AXIS + 3}" r="3.4"/>',
    QUESTION,
)
