"""Control of a replayed recording for the pages: state, pause, speed, start again, jump to another part."""

from __future__ import annotations

from frothline.bench.session_api import SessionApi
from frothline.bench.snapshot import Snapshot
from frothline.errors import FrothlineError, InputError
from frothline.quantities import read_number
from frothline.rig.playback import PlaybackState
from frothline.rig.replay import from_share, is_replay

SPEEDS = (0.5, 1.0, 4.0, 16.0)  # times real time, to choose from
MODELLED, SIMULATED = "modelled", "simulated "  # kind of a modelled board; begin of the label of every simulated one
# Why a replay cannot be swept, recorded or calibrated. Pages show these sentences in place of the buttons.
NO_SWEEP = "This is a replay: its air flow was set when it was recorded. Connect a rig to run a guided sweep"
NO_RECORDING = "This is a replay: its recording exists already. Connect a rig to make a new recording"
NO_RECORD_OF_RUN = "This is a replay: the run is evaluated, and it is not recorded again"
NO_CALIBRATION = "This is a replay: no reference can be put on its sensors. Connect a rig to calibrate"
NO_SAMPLE = "This is a replay: its foam was weighed when it was recorded. Connect a rig to take a sample"
SWEEP, RECORDING, RUN_RECORDING, CALIBRATION, SAMPLE = "sweep", "recording", "run recording", "calibration", "sample"
NEEDS_RIG = {
    SWEEP: NO_SWEEP,
    RECORDING: NO_RECORDING,
    RUN_RECORDING: NO_RECORD_OF_RUN,
    CALIBRATION: NO_CALIBRATION,
    SAMPLE: NO_SAMPLE,
}


def replayed(now: Snapshot) -> bool:
    """Whether the session plays a recording back."""
    return is_replay(now.link.port)


def of_simulation(now: Snapshot) -> bool:
    """Whether the recording that is played back is that of a simulated rig, by the board's own description."""
    board = now.board
    return replayed(now) and board is not None and (board.kind == MODELLED or board.label.startswith(SIMULATED))


def why_not_offered(now: Snapshot, what: str) -> str:
    """Why a key of ``NEEDS_RIG`` is not offered: the sentence without its full stop; empty with a rig."""
    return NEEDS_RIG[what] if replayed(now) else ""


def require_rig(now: Snapshot, what: str) -> None:
    """Raise InputError with that sentence in a replay."""
    if why := why_not_offered(now, what):
        raise InputError(why, where=what)


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
        """Handle a button: "pause", "go", "speed" with a number, "again" from the start, or "jump" with a percentage
        of the recording.

        Raises InputError if there is no replay, for another verb, or for a number that is none.
        """
        playback = self._session.playback()
        if playback is None:
            raise InputError(
                "this is not a replay", where="replay", remedy="Start the pages with --port replay://<file>"
            )
        if verb == "again":
            self._start_at(playback.state(), 0.0)
            return "Replay starts again"
        if verb == "jump":
            percent = self._number(argument, "percentage")
            if not 0.0 <= percent <= 100.0:
                raise InputError(
                    f"{percent:g} % is not a part of the recording", where="replay", remedy="Give 0 to 100"
                )
            self._start_at(playback.state(), percent / 100.0)
            return f"Replay goes on at {percent:.0f} % of the recording"
        if verb in {"pause", "go"}:
            playback.pause(verb == "pause")
            return ""
        if verb == "speed":
            playback.set_speed(self._number(argument, "speed"))
            return ""
        raise InputError(f"“{verb}” is unknown", remedy="Reload the page")

    def _start_at(self, before: PlaybackState, share: float) -> None:
        """Play from a share of the recording on, at the same speed, and paused if it was."""
        self._session.change_rig(from_share(self._session.snapshot().link.port, share))
        playback = self._session.playback()
        if playback is None:
            return
        if before.speed > 0.0:
            playback.set_speed(before.speed)
        if before.paused:
            playback.pause(True)

    @staticmethod
    def _number(text: str, name: str) -> float:
        try:
            return read_number(text)
        except ValueError:
            raise InputError(f"{name} “{text}” is not a number", where="replay") from None
