"""The header of every page: connection, data losses and recording."""

from __future__ import annotations

import math
from collections.abc import Callable

from frothline.bench import snapshot as bench
from frothline.bench.loss_words import counted_losses, losses_text
from frothline.bench.playback_control import of_simulation, replayed
from frothline.bench.snapshot import RecordingState, Snapshot
from frothline.formatting import running_time, size

LOSS_AGE = 60.0  # s for which a loss is shown as an alarm; its count stays


class RecentLosses:
    """Remembers when something was lost last. A cable that is plugged in again is no lasting alarm."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._known: list[tuple[str, int]] | None = None
        self._at = -math.inf

    def look(self, now: Snapshot) -> bool:
        """Whether something was lost in the last minute."""
        found = counted_losses(now.losses)
        if (found != self._known and losses_text(found)) or now.link.state == bench.LOST:
            self._known, self._at = found, self._clock()
        return self._clock() - self._at < LOSS_AGE


def say_link(now: Snapshot, texts: dict[str, str], states: dict[str, str], *, new_losses: bool = False) -> None:
    """Connection and losses. ``new_losses`` : something was lost in the last minute; older losses are no alarm."""
    state = now.link.state
    port = f" on {now.link.port}" if now.link.port and not now.simulated else ""  # not a port that can be checked
    remedy = (now.link.error or {}).get("remedy", "")
    texts["link"] = {
        bench.LIVE: f"Connected{port}",
        bench.LOST: f"USB cable unplugged{port}. Plug it back in; recording resumes",
        bench.QUIET: f"no data{port}: the port is open",
    }.get(state, " ".join(filter(None, (now.link.words, remedy))))
    if replayed(now) and state in {bench.LIVE, bench.QUIET}:
        texts["link"] = "Replay" if state == bench.LIVE else "Replay: no data"  # its bar says whether it is paused
    if now.link.other_board:
        texts["link"] = now.link.other_board[:1].upper() + now.link.other_board[1:]
    states["link"] = "lost" if now.link.other_board else LINK_LOOK.get(state, "lost")
    lost = losses_text(counted_losses(now.losses))
    texts["losses"] = lost or "No data lost"
    states["losses"] = "new" if lost and new_losses else "old" if lost else "none"
    if now.converter_trouble:
        texts["link"] += f"; {now.converter_trouble}"
    texts["simulated"] = "simulated rig" if now.simulated else "simulated recording" if of_simulation(now) else ""


def say_recording(now: Snapshot, texts: dict[str, str], states: dict[str, str]) -> None:
    recording = now.recording
    running = recording is not None and not recording.ended
    states["recording"] = "trouble" if recording is not None and recording.trouble else "on" if running else "off"
    texts["record-button"] = "Stop recording" if running else "Start recording"
    texts["recording"] = "not recording" if recording is None else _recording_words(recording)
    if recording is not None:
        texts["recording-where"] = f"{recording.path} ({size(recording.bytes)})"
        texts["recording-about"] = "Saving to"
    elif now.last_recording is not None:
        texts["recording-where"], texts["recording-about"] = str(now.last_recording), "Last saved in"
    else:
        texts["recording-where"], texts["recording-about"] = str(now.folder), "Recordings are saved in"


def _recording_words(recording: RecordingState) -> str:
    if recording.ended:
        return f"recording stopped: {recording.trouble or 'closed'}"
    if recording.trouble:
        kept = f"{size(recording.kept)} in memory, retrying every second"
        return f"recording interrupted, {kept}: {recording.trouble}"
    faults = recording.write_faults
    healed = f", continued after {faults} write error{'s' if faults != 1 else ''}" if faults else ""
    return f"recording {running_time(recording.running)}{healed}"


def recording_trouble(now: Snapshot) -> int:
    return int(now.recording is not None and bool(now.recording.trouble))


LINK_LOOK = {bench.LIVE: "live", bench.OPENING: "waiting", bench.ENDED: "waiting", bench.QUIET: "waiting"}
