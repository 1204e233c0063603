"""Link to the notebook page in the diagram of the line."""

from frothline.web.page_link import AXIS, PageLink
from frothline.web.pages.notebook.labels import QUESTION

LINK = PageLink(
    "notebook",
    "/notebook",
    1102,
    1196,
    1149,
    f'<path class="ink" d="M1127 {AXIS - 26}h44v52h-44z"/>'
    f'<path class="ink thin" d="M1135 {AXIS - 26}v52M1143 {AXIS - 12}h20M1143 {AXIS}h20M1143 {AXIS + 12}h12"/>',
    QUESTION,
)
