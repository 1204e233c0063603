"""The form below a photo of the notebook page: how its bubbles are measured. Pure functions."""

from __future__ import annotations

from frothline.bench.photo_record import note_texts
from frothline.bubble_size.photo_notes import LENGTHS
from frothline.trials.trial import Trial
from frothline.web import form_fields
from frothline.web.elements import Node, button, node
from frothline.web.pages.notebook import labels

SAVE = "photo"


def photo_form(trial: Trial, name: str, system: str, *, measured: bool) -> Node | None:
    """The notes of a photo: two marks where there is no target, a round wall, the printed ruler.

    name : of the photo;  measured : whether it has bubbles. None where its notes cannot be read.
    """
    notes = trial.photo_notes.get(name)
    if notes is None:
        return None
    form = "".join(letter if letter.isalnum() else "-" for letter in f"photo-{trial.name}-{name}")
    fields = [
        form_fields.entry(
            form,
            key,
            labels.PHOTO_NOTES[key],
            value=text,
            hint="" if key in LENGTHS else labels.PIXELS,
            measure=("length", system) if key in LENGTHS else None,
        )
        for key, text in note_texts(notes, system).items()
    ]
    return node(
        "details",
        node("summary", labels.MEASURE_PHOTO),
        node("p", labels.MEASURE_ABOUT if measured else labels.MEASURE_ASKED, class_="small"),
        *fields,
        button(labels.SAVE_PHOTO, f"notebook:{SAVE}:{trial.path}/{name}", look=""),
        data_form=form,
        id=form,
    )
