"""The form below a photo of the notebook page: how its bubbles are measured. Pure functions."""

from __future__ import annotations

from pathlib import Path

from frothline.bench.photo_record import note_texts
from frothline.bubble_size.photo_notes import LENGTHS
from frothline.errors import InputError
from frothline.photo_file import upright_size
from frothline.trials.trial import Trial
from frothline.web import form_fields
from frothline.web.elements import Node, button, node
from frothline.web.pages.notebook import labels

SAVE = "photo"


def photo_form(trial: Trial, name: str, system: str, *, measured: bool, address: str = "") -> Node | None:
    """The notes of a photo: two marks where there is no target, a round wall, the printed ruler.

    name : of the photo;  measured : whether it has bubbles;  address : of a large copy, on which the marks can be set

    None where its notes cannot be read.
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
        _set_marks(form, trial.path.parent / name, address) if address else None,
        *fields,
        button(labels.SAVE_PHOTO, f"notebook:{SAVE}:{trial.path}/{name}", look=""),
        data_form=form,
        id=form,
    )


def _set_marks(form: str, photo: Path, address: str) -> Node | None:
    """The button that opens the photo for its marks, with the size of the whole photo, for ``marks.js``."""
    try:
        across, down = upright_size(photo)
    except InputError:  # it is said below the photo that it cannot be read
        return None
    about = {"data_photo": address, "data_across": str(across), "data_down": str(down)}
    return node("button", labels.SET_MARKS, type="button", id=f"{form}-marks", data_marks=form, **about)
