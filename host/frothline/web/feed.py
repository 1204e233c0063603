"""The message of the session's state to one viewer. This module imports no page framework.

A viewer sends its state (page, units, theme, width, the charts it already has) and gets everything that may have
changed. The server stores nothing about a viewer between two messages. The next message therefore replaces a lost one,
and a reload or a viewer that stops asking costs nothing.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from frothline.bench import snapshot as bench
from frothline.bench.library import OWN
from frothline.bench.session_api import SessionApi
from frothline.bench.snapshot import Snapshot
from frothline.web import line_diagram, live_figures, plausibility, replay_bar, run_summary, tour
from frothline.web.access import say_access
from frothline.web.elements import block
from frothline.web.header import RecentLosses, recording_trouble, say_link, say_recording
from frothline.web.line_status import say_status
from frothline.web.live_figures import LineFault
from frothline.web.pages import GUIDE, PAGES, content_of
from frothline.web.services import Services
from frothline.web.viewer import Viewer


class Feed(Services):
    """Makes messages for any number of viewers of one session; thread-safe."""

    def __init__(self, session: SessionApi, *, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(session, clock=clock)
        self._losses = RecentLosses(clock)
        self._contents = {name: content_of(name, self) for name in (*PAGES, GUIDE)}

    def update(self, viewer: Viewer, number: int) -> dict[str, Any]:
        """Make one message of plain JSON values. The page returns ``number`` after drawing it; 0 for a message that the
        page requested. DEVELOPERS.md lists the fields.
        """
        now = self.snapshot()
        runs = now.run is not None and now.run.running  # its recording grows and would be read repeatedly
        if viewer.page in ("generator", "run", "batch") and not runs:
            self.runs.see(self.library.places[OWN].look())
        found = live_figures.faults(now)
        found += plausibility.faults(self.wrong(now), found)
        found += run_summary.faults(now.run)
        of_run = run_summary.line_texts(now.run, viewer.system) | run_summary.over_everything(now)
        texts, states = line_diagram.words(now, found, viewer.page, viewer.system, of_run)
        message: dict[str, Any] = {
            "number": number,
            "frames": now.link.frames,
            "bars": {"sweep": 0.0},
            "tones": {
                "steady": len(now.points),
                "alarm": _alarms(now, found),
                "lasting": run_summary.sounding(now.run),
            },
            "texts": texts,
            "states": states,
            "tables": {},
            "blocks": {},
            "figures": {},
        }
        say_access(texts, states)
        say_link(now, texts, states, new_losses=self._losses.look(now))
        say_recording(now, texts, states)
        words, done = say_status(self, now)
        texts |= words
        states |= done
        message["blocks"]["replay"] = block(replay_bar.pieces(self.played.look()), viewer.have.get("replay"))
        message["blocks"]["tour"] = block(tour.pieces(now, self.desk.look(), viewer), viewer.have.get("tour"))
        self._contents[GUIDE].say(now, viewer, message)
        self._contents[viewer.page].say(now, viewer, message)
        return message


def _alarms(now: Snapshot, found: tuple[LineFault, ...]) -> int:
    return sum(fault.alarm for fault in found) + (now.link.state == bench.LOST) + recording_trouble(now)
