"""``bubbles``: bubble diameter and growth from photos of foam."""

from __future__ import annotations

from argparse import Namespace

from frothline.atomic_file import write_atomically
from frothline.bench.photo_record import note_photo
from frothline.bubble_size.foam_photos import WALL, FoamPhotos, measure_photos
from frothline.bubble_size.photo_notes import notes_as_texts
from frothline.bubble_size.target import target_page
from frothline.cli.output import Say
from frothline.errors import InputError
from frothline.formatting import RATIO, difference_text, full_text
from frothline.trials.sample_sidecar import read_time
from frothline.units import SYSTEMS

DONE, WARNED = 0, 1


def run(options: Namespace, say: Say) -> int:
    if options.target is not None:
        page = target_page().encode()
        path = write_atomically(options.target, lambda file: file.write(page))
        say.result({"target": path}, f"{path} written; print it at 100 % and measure its ruler")
        return DONE
    notes = notes_as_texts(options.scale, options.jar)
    if options.keep:
        given = dict(notes or {}) | ({} if options.ruler is None else {"ruler": f"{options.ruler * 1e3:.12g} mm"})
        kept = [note_photo(photo, given) for photo in options.photos]
        notes = None
    found = measure_photos(options.photos, ruler=options.ruler, times=_times(options.times), notes=notes)
    data = found.as_dict()
    lines = [*(kept if options.keep else ()), *_lines(found, options.units)]
    if options.outlines is not None:
        data["outlines"] = write_atomically(options.outlines, lambda file: file.write(found.photos[0].outlines))
        lines.append(f"outlines written to {options.outlines}")
    say.result(data, "\n".join(lines))
    return WARNED if found.warnings else DONE


def _times(texts: list[str] | None) -> list[float] | None:
    if texts is None:
        return None
    try:
        return [read_time(text) for text in texts]
    except ValueError as error:
        raise InputError(str(error), where="--times", remedy="Write one time for each photo") from error


def _lines(found: FoamPhotos, units: str) -> list[str]:
    system = SYSTEMS[units]
    lines = []
    for one in found.photos:
        lines += [
            str(one.path),
            f"  {'Bubble diameter':24} {full_text(one.diameter, system['length'])}",
            f"  {'Median diameter':24} {full_text(one.median, system['length'])}",
            f"  {'Spread of diameters':24} {full_text(one.spread, RATIO)}",
            f"  {'Whole bubbles':24} {one.count}, {one.pixels:.0f} px across the median",
            f"  {'Uncertainty':24} scale {100 * one.u_scale:.1f} %, films {100 * one.u_films:.1f} %, rest by sampling",
            *(f"  warning: {said}" for said in one.warnings),
        ]
    if len(found.photos) > 1:
        growth = found.growth
        text = found.why_no_growth if growth is None else difference_text(growth, system["bubble_growth"])
        lines.append(f"{'Bubble growth':26} {text}")
    return [*lines, WALL]
