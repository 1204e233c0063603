"""Content of the spool page: tables of the channels, and the calibrations."""

from __future__ import annotations

import datetime as dt
from typing import Any

from frothline.bench.background import Background
from frothline.bench.playback_control import CALIBRATION, why_not_offered
from frothline.bench.snapshot import Snapshot
from frothline.web.pages.spool import calibration, tables
from frothline.web.pages.spool.tables import Budgets
from frothline.web.services import Services
from frothline.web.texts import sentence
from frothline.web.viewer import Viewer

BUDGETS_AGE = 4.0  # s between two calculations of the budgets, which are slow


class SpoolContent:
    """Fills in the spool page."""

    def __init__(self, services: Services) -> None:
        self._services = services
        session = services.session
        self.budgets: Background[Budgets] = Background(
            lambda: Budgets(session.budgets(), session.calibrations()), Budgets(), BUDGETS_AGE, clock=services.clock
        )

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        services = self._services
        message["tables"] = tables.tables(
            now, viewer.system, self.budgets.look(), services.frame_rate, services.viewers
        )
        message["texts"] |= tables.states(now)
        known = services.calibrated.look()
        refused = sentence(why_not_offered(now, CALIBRATION))
        today = dt.date.today()  # noqa: DTZ011
        calibration.say(services.session.calibrating(), known, viewer, message, today, refused)


def content(services: Services) -> SpoolContent:
    return SpoolContent(services)
