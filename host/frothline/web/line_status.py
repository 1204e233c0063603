"""The state of each part of the line, in a few words under its name: what is done, or what to do next."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime

from frothline.bench.library import OWN
from frothline.bench.snapshot import Snapshot
from frothline.sweep.guide_state import is_guiding
from frothline.web.services import Services
from frothline.web.texts import counted

Statuses = dict[str, Callable[[Services, Snapshot], str]]


def line_status(services: Services, now: Snapshot) -> dict[str, str]:
    """Texts by key "status-<page>"."""
    return {f"status-{page}": find(services, now) for page, find in STATUS.items()}


def _source(_: Services, now: Snapshot) -> str:
    if is_guiding(now.sweep):
        return "sweep running"
    return "measure its curve" if now.fit is None else "curve measured"


def _spool(services: Services, _: Snapshot) -> str:
    known = services.calibrated.look()
    if known is None or not known.fitted:
        return ""
    done = sum(name in known.calibration.for_board(known.label).channels for name in known.fitted)
    if done == len(known.fitted):
        return "calibrated"
    return f"{done} of {len(known.fitted)} calibrated" if done else "calibrate it"


def _generator(services: Services, _: Snapshot) -> str:
    sheet = services.desk.look()
    return "unsaved changes" if sheet.altered else "build saved" if sheet.file else "save the build"


def _run(services: Services, now: Snapshot) -> str:
    if now.run is not None and now.run.running:
        return "run in progress"
    counted = services.runs.samples.counted
    if not counted:
        return "no sample yet"
    ago = now.time - counted[-1].time
    return f"last sample {datetime.fromtimestamp(time.time() - ago).astimezone():%H:%M}"


def _batch(services: Services, now: Snapshot) -> str:
    weighed = services.runs.samples.counted or (now.run is not None and now.run.samples)
    return "sampled" if weighed else "no sample"


def _notebook(services: Services, _: Snapshot) -> str:
    view = services.library.places[OWN].look()
    return counted(len(view.trials), "trial", "no trial yet") if view.ready else ""


STATUS: Statuses = {
    "source": _source,
    "spool": _spool,
    "generator": _generator,
    "run": _run,
    "batch": _batch,
    "notebook": _notebook,
}
