"""Photos of a trial in its report: embedded small copies, or the reason for a missing one."""

from __future__ import annotations

from html import escape

from frothline.bubble_size.foam_photos import picture_url
from frothline.errors import InputError
from frothline.formatting import full_text
from frothline.report.html_page import section
from frothline.trials import photos
from frothline.trials.bubbles import bubbles_of_photo
from frothline.trials.trial import Trial
from frothline.units import METRIC

LONGEST = 900  # px of the longer side: sharp across half a page of A4 in print
MOST = 12  # photos in one report; a file of some megabytes can be sent by mail


def photo_section(heading: str, trial: Trial) -> str:
    """All photos of the trial with their names; omitted photos are named."""
    shown = [_figure(trial, photo) for photo in trial.photos[:MOST]]
    left = [trial.photo_name(photo) for photo in trial.photos[MOST:]]
    more = f"<p>Not in this report: {escape(', '.join(left))}.</p>" if left else ""
    return section(heading, f'<div class="photos">{"".join(shown)}</div>' if shown else "", more)


def _figure(trial: Trial, photo: str) -> str:
    name = trial.photo_name(photo)
    try:
        copy = photos.copy(photos.inside(trial.path.parent, name), LONGEST)
    except InputError as error:
        return f"<figure><figcaption>{escape(name)}: {escape(error.what)}</figcaption></figure>"
    picture = f'<img src="{copy.url}" width="{copy.width}" height="{copy.height}" alt="photo {escape(name)}">'
    made = f"<figure>{picture}<figcaption>{escape(name)}</figcaption></figure>"
    bubbles = bubbles_of_photo(trial, photo)
    if bubbles is None:
        return made
    said = full_text(bubbles.diameter, METRIC["length"])
    seen = f'<img src="{picture_url(bubbles.outlines)}" alt="outlines of the bubbles in photo {escape(name)}">'
    return f"{made}<figure>{seen}<figcaption>Bubble diameter {escape(said)}</figcaption></figure>"
