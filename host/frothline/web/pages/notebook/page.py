"""Layout and callbacks of the notebook page: trials compared, effects, plan, recordings and reports."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

from dash import Dash, html
from dash.development.base_component import Component
from fastapi.responses import HTMLResponse, Response

from frothline.bench.library import OWN, FolderView
from frothline.bench.photo_record import note_photo
from frothline.bench.sample_correction import KINDS as CORRECTED
from frothline.errors import FrothlineError, InputError
from frothline.quantities import with_units
from frothline.trials import photos
from frothline.trials.bubbles import bubbles_of_photo
from frothline.trials.plan_edit import in_reader_units
from frothline.units import SYSTEMS
from frothline.web import components
from frothline.web.feed import Feed
from frothline.web.pages.notebook import labels, photo_forms
from frothline.web.pages.notebook.marks import marks_view

NO_GUESSING = {"X-Content-Type-Options": "nosniff"}


def layout() -> Component:
    """The page: comparison and next trial, then the parts that a phone shows closed."""
    return components.page(
        "notebook",
        labels.QUESTION,
        components.block("notebook-head", id="notebook-head", className="notebook-part"),
        components.part("trials", labels.TRIALS, components.block("notebook-trials", id="notebook-trials")),
        components.part(
            "compare",
            labels.COMPARISON,
            components.block("notebook-beside", id="notebook-beside"),
            components.block("notebook-samples", id="notebook-samples"),
            shown=True,
        ),
        components.part("next", labels.NEXT_TRIAL, components.block("notebook-next", id="notebook-next"), shown=True),
        components.part("plan", labels.PLAN, components.block("notebook-plan", id="notebook-plan")),
        components.part("helped", labels.EFFECTS, components.block("notebook-helped", id="notebook-helped")),
        components.part("agents", labels.AGENTS, components.block("notebook-agents", id="notebook-agents")),
        components.part(
            "look",
            labels.RECORDING_OVER_TIME,
            components.block("notebook-look", id="notebook-look"),
            html.Div(components.picture("look", labels.LOOK_ABOUT), className="look-chart", **{"data-state": "look"}),
            components.block("notebook-look-figures", id="notebook-look-figures"),
        ),
        components.part(
            "recordings",
            labels.ALL_RECORDINGS,
            html.Div(
                [components.block("notebook-search", id="notebook-search"), components.block("notebook-recordings")],
                className="recordings",
            ),
        ),
        marks_view(),
        components.asks("notebook"),
    )


def register(app: Dash, feed: Feed) -> None:
    """Register the buttons. Notes are written next to the recording; reports are made on request."""

    async def answer(asked: components.Asked) -> str:
        if asked.verb == "plan":
            return await asyncio.to_thread(feed.plans.save, in_reader_units(asked.values, asked.system))
        if asked.verb == "undo-plan":
            return await asyncio.to_thread(feed.plans.undo)
        if asked.verb == "unplan":
            return await asyncio.to_thread(feed.plans.remove, asked.argument)
        if asked.verb in {"correct", "withdraw", "count-again"}:
            return await asyncio.to_thread(_correct, feed, asked)
        if asked.verb == photo_forms.SAVE:
            return await asyncio.to_thread(_photo_notes, feed, asked)
        if asked.verb != "note":
            raise components.unknown(asked.verb)
        return await asyncio.to_thread(_note, feed, asked.argument, asked.values.get("note", ""))

    components.on_asked(app, "notebook", answer)

    @app.server.get("/photo")  # type: ignore[untyped-decorator]
    async def photo(recording: str = "", name: str = "", size: str = "") -> Response:
        try:
            jpeg = await asyncio.to_thread(_photo, feed, recording, name, size)
        except FrothlineError as error:
            return HTMLResponse(components.sorry(labels.NO_PHOTO, str(error)), status_code=404)
        # not cached: the file may have been replaced
        return Response(jpeg, media_type="image/jpeg", headers={"Cache-Control": "no-cache", **NO_GUESSING})

    @app.server.get("/report")  # type: ignore[untyped-decorator]
    async def report(place: str = "", kind: str = "", path: str = "", system: str = "metric") -> HTMLResponse:
        try:
            return HTMLResponse(await asyncio.to_thread(_report, feed, place, kind, path, system))
        except FrothlineError as error:
            return HTMLResponse(components.sorry(labels.NO_REPORT, str(error)), status_code=404)


def _photo(feed: Feed, recording: str, name: str, size: str) -> bytes:
    """A small copy of a photo of a trial. Only photos listed in the notebook are read."""
    for trial in (one for place in feed.library.places.values() for one in place.look().trials):
        if str(trial.path) == recording:
            for path in trial.photos:
                if trial.photo_name(path) == name:
                    if size == "outlines":
                        bubbles = bubbles_of_photo(trial, path)
                        if bubbles is None:
                            break
                        return bubbles.outlines
                    found = photos.inside(trial.path.parent, name)  # checked again: it may be a link now
                    return photos.copy(found, photos.LARGE if size == "large" else photos.THUMBNAIL).jpeg
    raise InputError(labels.PHOTO_UNKNOWN, where=name, remedy=components.RELOAD)


def _photo_notes(feed: Feed, asked: components.Asked) -> str:
    """Note how a photo of an own trial is measured; the argument is "path of the recording/name of the photo"."""
    place = feed.library.places[OWN]
    for trial in place.look().trials:
        for path in trial.photos:
            name = trial.photo_name(path)
            if f"{trial.path}/{name}" == asked.argument:
                said = note_photo(photos.inside(trial.path.parent, name), asked.values, asked.system)
                place.expire()
                return said
    raise InputError(labels.PHOTO_UNKNOWN, where=asked.argument.rpartition("/")[2], remedy=components.RELOAD)


def _seen(feed: Feed, place: str, path: str) -> FolderView:
    """The known folder of a recording. Recordings outside the known folders are not read."""
    for seen in (one.look() for one in feed.library.places.values()):
        if (seen.place == place and not path) or any(entry.path == path for entry in seen.entries):
            return seen
    raise InputError(labels.RECORDING_UNKNOWN, where=path or place, remedy=components.RELOAD)


def _note(feed: Feed, path: str, text: str) -> str:
    from frothline.recording.sidecar import add_note  # noqa: PLC0415

    seen = _seen(feed, "", path)
    if seen.place != OWN:
        raise InputError(labels.OWN_ONLY, where=path)
    if not text.strip():
        raise InputError(labels.EMPTY_NOTE, where=labels.NOTE)
    written = add_note(Path(path), text)
    feed.library.places[OWN].expire()
    return labels.saved_in(written)


def _correct(feed: Feed, asked: components.Asked) -> str:
    """Correct, withdraw or count a sample again; the argument is "key/number of corrections/path of the recording"."""
    key, _, rest = asked.argument.partition("/")
    corrections, _, path = rest.partition("/")
    found = f"{key}/{corrections}"
    if asked.verb == "correct":
        return feed.recorded_samples.correct(path, found, with_units(asked.values, CORRECTED, asked.system))
    return feed.recorded_samples.count_sample(path, found, counts=asked.verb == "count-again")


def _report(feed: Feed, place: str, kind: str, path: str, system: str) -> str:
    from frothline.report.run import run_report  # noqa: PLC0415  heavy, seldom
    from frothline.report.sweep import sweep_report  # noqa: PLC0415  heavy, seldom
    from frothline.report.trials import series_report  # noqa: PLC0415  heavy, seldom

    seen = _seen(feed, place, path)
    units: Any = SYSTEMS.get(system, SYSTEMS["metric"])
    if seen.notebook is None:
        raise InputError(labels.NO_DATA, where=str(seen.folder))
    if kind == "run":
        return run_report(seen.notebook, path, calibration=seen.notebook.calibration, system=units).html
    if kind == "sweep":
        return sweep_report([path], calibration=seen.notebook.calibration, system=units).html
    return series_report(seen.notebook, system=units).html
