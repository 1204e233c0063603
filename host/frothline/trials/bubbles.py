"""Bubbles in the photos of a trial: those that show the printed target are measured, each once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from frothline.bubble_size.foam_photos import together
from frothline.bubble_size.photo_bubbles import PhotoBubbles
from frothline.bubble_size.photo_notes import PhotoNotes, read_notes
from frothline.bubble_size.stored import bubbles_in
from frothline.errors import InputError, MissingPackage, NoTarget
from frothline.trials import photos
from frothline.trials.figures import PHOTO
from frothline.trials.trial import Trial

NO_PHOTO = "no photo of this foam shows a printed target, or has two marks of a ruler"


def with_bubbles(trial: Trial) -> Trial:
    """The trial with the diameter and the growth of its bubbles. A photo without target is only a photo."""
    found: list[PhotoBubbles] = []
    said: list[str] = []
    missing = NO_PHOTO
    notes: dict[str, PhotoNotes] = {}
    for path in trial.photos:
        name = trial.photo_name(path)
        try:
            notes[name] = read_notes(photos.inside(trial.path.parent, name))
            found.append(bubbles_in(photos.inside(trial.path.parent, name)))
        except NoTarget:
            continue
        except MissingPackage as error:
            missing = str(error)
        except InputError as error:
            said.append(f"photo {name}: bubbles are not measured: {error.what}")
    trial = replace(trial, photo_notes=notes)
    why, words = dict(trial.why), tuple(dict.fromkeys([*trial.words, *said]))
    if not found:
        return replace(trial, why=why | dict.fromkeys(PHOTO, missing), words=words)
    bubbles = together(found)
    if bubbles.growth is None:
        why["bubble_growth"] = bubbles.why_no_growth
    words = tuple(dict.fromkeys([*words, *(f"photo {text}" for text in _warnings(bubbles.photos))]))
    return replace(
        trial,
        bubbles=bubbles,
        bubble_diameter=bubbles.diameter,
        bubble_growth=bubbles.growth,
        why=why,
        words=words,
    )


def bubbles_of_photo(trial: Trial, path: str) -> PhotoBubbles | None:
    """The bubbles of one of the trial's photos; None if it was not measured."""
    every = () if trial.bubbles is None else trial.bubbles.photos
    return next((one for one in every if one.path == Path(path)), None)


def _warnings(every: tuple[PhotoBubbles, ...]) -> list[str]:
    return [f"{one.path.name}: {said}" for one in every for said in one.warnings]
