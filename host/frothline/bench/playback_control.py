"""Control of a replayed recording for the pages: state, pause, speed, start again."""

from __future__ import annotations

from frothline.bench.session_api import SessionApi
from frothline.errors import FrothlineError, InputError
from frothline.quantities import read_number
from frothline.rig.playback import PlaybackState

SPEEDS = (0.5, 1.0, 4.0, 16.0)  # times real time, to choose from


class PlaybackControl:
    """All methods may be called from any thread."""

    def __init__(self, session: SessionApi) -> None:
        self._session = session

    def state(self) -> PlaybackState | None:
        """The state of the replay; None with a board. Asks the port, so it is not for every message."""
        playback = self._session.playback()
        try:
            return None if playback is None else playback.state()
        except FrothlineError:
            return None

    def do(self, verb: str, argument: str) -> str:
        """Handle a button: "pause", "go", "speed" with a number, or "again" from the start.

        Raises InputError if there is no replay, or for another verb.
        """
        playback = self._session.playback()
        if playback is None:
            raise InputError(
                "this is not a replay", where="replay", remedy="Start the pages with --port replay://<file>"
            )
        if verb == "again":
            self._session.change_rig(self._session.snapshot().link.port)
            return "Replay starts again"
        if verb in {"pause", "go"}:
            playback.pause(verb == "pause")
            return ""
        if verb == "speed":
            try:
                playback.set_speed(read_number(argument))
            except ValueError:
                raise InputError(f"speed “{argument}” is not a number", where="replay") from None
            return ""
        raise InputError(f"“{verb}” is unknown", remedy="Reload the page")
