"""The state of each part of the line, in a few words under its name: what is done, or what to do next.

A part that is done has a tick next to its words, so that colour is not the only sign.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime

from frothline.bench.library import OWN
from frothline.bench.playback_control import CALIBRATION, replayed, why_not_offered
from frothline.bench.snapshot import Snapshot
from frothline.sweep.guide_state import is_guiding
from frothline.web.services import Services
from frothline.web.texts import counted

DONE, UNDER_WAY, TO_DO, UNKNOWN = "done", "under way", "to do", ""
Status = tuple[str, str]  # words, and one of the four above


def line_status(services: Services, now: Snapshot) -> dict[str, str]:
    """Texts by key "status-<page>"."""
    return say_status(services, now)[0]


def say_status(services: Services, now: Snapshot) -> tuple[dict[str, str], dict[str, str]]:
    """``(texts, states)`` by key "status-<page>"."""
    found = {f"status-{page}": find(services, now) for page, find in STATUS.items()}
    return {key: words for key, (words, _) in found.items()}, {key: state for key, (_, state) in found.items()}


def _source(_: Services, now: Snapshot) -> Status:
    if is_guiding(now.sweep):
        return "sweep running", UNDER_WAY
    if now.fit is None and replayed(now):
        return "replay", UNKNOWN
    return ("measure its curve", TO_DO) if now.fit is None else ("curve measured", DONE)


def _spool(services: Services, now: Snapshot) -> Status:
    known = services.calibrated.look()
    if known is None or not known.fitted:
        return "", UNKNOWN
    done = sum(name in known.calibration.for_board(known.label).channels for name in known.fitted)
    if done == len(known.fitted):
        return "calibrated", DONE
    if why_not_offered(now, CALIBRATION):
        return f"{done} of {len(known.fitted)} calibrated" if done else "not calibrated", UNKNOWN
    return f"{done} of {len(known.fitted)} calibrated" if done else "calibrate it", TO_DO


def _generator(services: Services, _: Snapshot) -> Status:
    sheet = services.desk.look()
    if sheet.altered:
        return "unsaved changes", TO_DO
    return ("build saved", DONE) if sheet.file else ("save the build", TO_DO)


def _run(services: Services, now: Snapshot) -> Status:
    if now.run is not None and now.run.running:
        return "run in progress", UNDER_WAY
    counted = services.runs.samples.counted
    if not counted:
        return "no sample", TO_DO
    ago = now.time - counted[-1].time
    return f"last sample {datetime.fromtimestamp(time.time() - ago).astimezone():%H:%M}", DONE


def _batch(services: Services, now: Snapshot) -> Status:
    weighed = services.runs.samples.counted or (now.run is not None and now.run.samples)
    return ("sampled", DONE) if weighed else ("no sample", TO_DO)


def _notebook(services: Services, _: Snapshot) -> Status:
    view = services.library.places[OWN].look()
    if not view.ready:
        return "", UNKNOWN
    return counted(len(view.trials), "trial", "no trial yet"), DONE if view.trials else TO_DO


STATUS: dict[str, Callable[[Services, Snapshot], Status]] = {
    "source": _source,
    "spool": _spool,
    "generator": _generator,
    "run": _run,
    "batch": _batch,
    "notebook": _notebook,
}
