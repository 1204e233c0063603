"""The functions behind ``import frothline as fl`` for foam itself: bubbles in photos, drainage, jars.

As in ``api``: each calls the function used by the pages and the command line. Text is read as on the command line,
numbers are SI.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from frothline.bubble_size.foam_photos import FoamPhotos, measure_photos
from frothline.bubble_size.photo_notes import notes_as_texts
from frothline.errors import InputError
from frothline.foam.drainage_curve import DrainageCurve
from frothline.pours.jar import FOLDER, read_jar
from frothline.quantities import read_quantity
from frothline.readings.applied_calibration import paths_of
from frothline.trials.drainage_entries import drainage_of
from frothline.trials.jars import Jar, jar_of
from frothline.trials.notebook import Notebook


def bubbles(
    photo: str | Path | Sequence[str | Path],
    *,
    ruler: str | float | None = None,
    times: Sequence[float] | None = None,
    scale: tuple[Any, Any, Any] | None = None,
    jar: str | float | None = None,
) -> FoamPhotos:
    """Bubble diameter and spread from a photo of foam behind the printed target, and growth from several photos.

    photo : JPEG, PNG or WebP, or a sequence of photos of the same foam
    ruler : length of the printed ruler as measured, like "95 mm"; corrects a printer that does not print at 100 %
    scale : two marks of a ruler in the photo and the length between them, where there is no target, like
        ``((120, 300), (820, 310), "50 mm")``: pixels across and down, or texts like "120, 300"
    jar : inner diameter of a round wall, like "92 mm"; a flat pane if not given
    times : s, one a photo; the camera's own times if not given

    ``.diameter`` is the Sauter mean of the first photo, ``.growth`` its change over time, ``.photos`` has the details.
    Without scale and jar, the notes in the file next to each photo are used, ``frothline.bubble_size.photo_notes``.
    Raises InputError where a photo cannot be read or has no bubbles, NoTarget with neither target nor scale,
    MissingPackage without the extra ``photo``.
    """
    notes = notes_as_texts(scale, jar)
    ruler = _quantity(ruler, "length", "bubbles: ruler")
    return measure_photos(paths_of(photo), ruler=ruler, times=times, notes=notes)


def drainage(
    readings: Sequence[tuple[Any, Any]], *, solution: str | float | None = None, depth: str | float | None = None
) -> DrainageCurve:
    """The drainage curve of foam from three or more readings: times of 25 % and 50 % with intervals.

    readings : pairs of time and drained liquid, like ("60 s", "4 mL") or ("2 min", "9 g"); numbers in s and m³
    solution : in the foam, volume or mass, like "147 g";  depth : of the foam, like "190 mm"

    A time after the last reading is marked as extrapolated. Raises InputError for readings that contradict themselves.
    """
    return drainage_of(readings, solution=solution, depth=depth)


def jar(path: str | Path, *, notebook: Notebook | None = None) -> Jar:
    """What became of the foam in a jar of slurry and foam: survival and settlement, before a bag is risked.

    path : the jar's file (TOML), see ``frothline.pours.jar``
    notebook : has the trial that the file names; that of the folder above ``jars``, if not given

    Raises InputError if the file cannot be read; what is missing is in ``.outcome.why``.
    """
    folder = Path(path).absolute().parent.parent
    named = notebook is not None or (Path(path).absolute().parent.name == FOLDER and bool(read_jar(Path(path)).trial))
    book = notebook or (Notebook(folder) if named else None)
    return jar_of(path, () if book is None else book.trials)


def _quantity(value: str | float | None, kind: str, where: str) -> float | None:
    if not isinstance(value, str):
        return None if value is None else float(value)
    try:
        return read_quantity(value, kind)
    except ValueError as error:
        raise InputError(str(error), where=where, remedy="Write it with its unit") from error
