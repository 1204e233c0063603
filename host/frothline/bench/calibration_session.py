"""Guided calibrations in a running session: one procedure at a time, with readings from the live thread.

The result is saved to a TOML file, and the session uses it from the next batch on. Recordings hold counts, so an
earlier recording can be read again with the new calibration.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.bench.calibration_state import CalibrationOverview, CalibrationPoint, CalibrationState
from frothline.errors import FrothlineError, InputError
from frothline.quantities import is_number, read_in, read_number, shorten
from frothline.readings.applied_calibration import AUTO, FILE
from frothline.rig.replay import is_replay, read_url
from frothline.sensors.calibration import CALIBRATED, WENT_BACK, ZEROED, Calibration
from frothline.sensors.calibration_file import load as load_calibration
from frothline.sensors.calibration_file import save as save_calibration
from frothline.sensors.calibration_plausibility import look_at_calibration
from frothline.sensors.procedures.base import Stage
from frothline.sensors.procedures.pressure_and_scale import PROCEDURES, guided
from frothline.sensors.series import Status

if TYPE_CHECKING:
    from frothline.bench.live_series import LiveSeries
    from frothline.sensors.calibration import ChannelCalibration
    from frothline.sensors.procedures.base import Procedure, Question
    from frothline.sensors.series import Series, Signal
    from frothline.units import Unit

WITH_ZERO = ("pressure", "differential", "scale")  # channels with a reading at rest
# The board's channel for each procedure.
CHANNELS = {
    "pressure": "pressure",
    "flow-bag": "rotor",
    "flow-plates": "rotor",
    "thermal-plates": "thermal",
    "scale-masses": "scale",
    "scale-water": "scale",
    "temperature": "temperature",
    "supply": "supply",
}


def calibration_folder(url: str | None, folder: Path) -> Path:
    """The folder of a rig's calibration file: the session's folder, or the recording's folder for a playback. A
    playback thus shows the same figures as the recording when it is read.
    """
    if url is None or not is_replay(url):
        return folder
    try:
        return read_url(url)[0].parent
    except FrothlineError:  # opening the recording reports the error
        return folder


class CalibrationSession:
    """One guided calibration at a time. The live thread calls ``hear`` and ``button``; any thread calls the rest.

    A method that is not possible now raises InputError and changes nothing.
    """

    def __init__(self, samples: LiveSeries, folder: Path, given: Any = AUTO) -> None:
        """``given`` : "auto" (the folder's file, if it exists), a calibration or its file, None for data sheets."""
        self._samples = samples
        self._auto = given == AUTO
        self._lock = threading.RLock()
        self._procedure: Procedure | None = None
        self._name = ""
        self._made: ChannelCalibration | None = None
        self.trouble = ""
        self.changes = 0  # how often the calibration in use was replaced
        named = isinstance(given, str | Path) and not self._auto
        self.path = Path(given) if named else folder / FILE
        if self._auto:
            given = self._found() if self.path.exists() else None
        elif named:
            given = load_calibration(self.path)
        self._known: Calibration | None = given
        samples.calibration = given

    def _found(self) -> Calibration | None:
        """The folder's calibration; an unreadable file is reported and ignored."""
        try:
            return load_calibration(self.path)
        except InputError as error:
            self.trouble = f"{error}; data-sheet figures are used"
            return None

    def rig_changed(self, folder: Path) -> None:
        """Handle a change of rig: end the current procedure and read the calibration file for the new board."""
        with self._lock:
            self._procedure, self._made = None, None
            if self._auto:
                self.path, self.trouble = folder / FILE, ""
                self._known = self._found() if self.path.exists() else None
            self._samples.use(self._known)
            self.changes += 1

    def for_recordings(self) -> Any:
        """The calibration for the session's own recordings: the one given, else "auto", as on the command line."""
        return AUTO if self._auto else self._known

    # --- by the live thread -----------------------------------------------------------------------------------------

    def hear(self, signals: Mapping[str, Signal], series: Mapping[str, Series]) -> None:
        """Take the newest batch of readings."""
        if self._procedure is None:
            return
        with self._lock:
            if self._procedure is not None:
                self._procedure.feed(signals, series)
                self._end_of_zero()

    def button(self) -> bool:
        """Act on the rig's button as on the large button of the page; False if it has no effect now."""
        with self._lock:
            if self._procedure is None:
                return False
            stage = self._procedure.stage
            if stage is Stage.HOLD and self._procedure.timed:
                self._procedure.stop()
            elif stage is Stage.CHOOSE:
                self._procedure.again()
            elif stage is Stage.ASK and all(one.default is not None for one in self._procedure.questions()):
                self._procedure.answer()
        return True

    # --- by pages ---------------------------------------------------------------------------------------------------

    def begin(self, name: str, *, who: str = "", channel: str = "pressure") -> None:
        """Begin the named procedure (sensors.PROCEDURES); ``channel`` is the channel to zero."""
        wanted = channel if name == "zero" else CHANNELS.get(name, "")
        with self._lock:
            if self._procedure is not None and self._made is None:
                raise InputError(
                    "a calibration is under way", where=self._procedure.title, remedy="Finish or end it first"
                )
            if name not in PROCEDURES or not wanted or (name == "zero" and wanted not in WITH_ZERO):
                raise InputError(f"unknown procedure {name!r} for {channel}", where="calibration")
            converter = self._samples.converter
            if converter is None:
                raise InputError("no rig is connected", where="calibration", remedy="Connect the rig first")
            if wanted not in self._fitted():
                raise InputError(f"no {wanted} sensor is fitted", where=PROCEDURES[name].title)
            label = converter.description.label
            if name == "zero" and self._known is not None and self._known.board not in {"", label}:
                raise InputError(
                    f"the calibrations in use belong to board {self._known.board!r}, and this board is {label!r}",
                    where=str(self.path),
                    remedy="Start with another folder, or with --calibration and a file for this board",
                )
            if name == "zero" and wanted != "scale":
                self._must_be_still()
            self._procedure = guided(name, converter.description, converter.spool, who=who.strip(), channel=channel)
            self._name, self._made = name, None
            if name == "zero":
                self._procedure.answer()

    def _must_be_still(self) -> None:
        latest, converter = self._samples.latest(), self._samples.converter
        signal = None if converter is None or converter.element is None else latest.get(converter.element.signal)
        if signal is not None and not signal.known and not signal.status & (Status.SILENT | Status.UNSEEN):
            raise InputError(
                "the anemometer has no reading yet",
                where="zero",
                remedy="Wait two seconds, then take the zero",
            )
        speed = latest.get("air_speed")
        if speed is not None and speed.known and speed.value > 0:
            raise InputError(
                "air is still moving through the spool",
                where="zero",
                remedy="Stop the source, wait until the rotor does not turn, then take the zero",
            )

    def answer(self, **values: float) -> None:
        """Take the typed reference, SI, and begin the hold."""
        with self._lock:
            self._running().answer(**values)

    def stop(self) -> None:
        """End a timed hold."""
        with self._lock:
            self._running().stop()

    def cancel(self) -> None:
        """Cancel the hold; the same point is set again."""
        with self._lock:
            self._running().cancel()

    def again(self) -> None:
        """Measure one more point."""
        with self._lock:
            self._running().again()

    def drop(self, index: int = -1) -> None:
        """Delete a point."""
        with self._lock:
            self._running().drop(index)

    def leave(self) -> None:
        """Close the procedure: without saving, or after the result was saved."""
        with self._lock:
            self._procedure, self._made = None, None

    def finish(self) -> Path:
        """Make the calibration, save it, use it; returns the file. FitError or InputError leaves everything
        unchanged.
        """
        with self._lock:
            procedure = self._running()
            made = self._keep(procedure)
            self._made = made.get(procedure.channel)
            return self.path

    def _end_of_zero(self) -> None:
        """Save a zero at once: it has one point."""
        procedure = self._procedure
        if self._name == "zero" and procedure is not None and procedure.stage is Stage.CHOOSE:
            try:
                self._keep(procedure)
            except FrothlineError as error:
                self.trouble = str(error)
            self._procedure = None

    def _keep(self, procedure: Procedure) -> Calibration:
        known = self._known or Calibration(procedure.board)
        if not known.board:
            known = replace(known, board=procedure.board)
        made = procedure.apply(known).noted(
            procedure.channel, ZEROED if self._name == "zero" else CALIBRATED, _now(), procedure.who
        )
        try:
            save_calibration(self.path, made)
        except InputError:
            procedure.stage = Stage.CHOOSE  # a full disk must not lose the measured points
            raise
        self._use(made)
        return made

    def use_previous(self, channel: str) -> Path:
        """Restore the channel's calibration from before its last change; a second call undoes it. Returns the file.

        Raises InputError and changes nothing if there is none or the file cannot be written.
        """
        with self._lock:
            back = (self._known or Calibration()).taken_back(channel).noted(channel, WENT_BACK, _now())
            save_calibration(self.path, back)
            self._use(back)
        return self.path

    def _use(self, made: Calibration) -> None:
        self._known, self.trouble = made, ""
        self._samples.use(made)
        self.changes += 1

    def _running(self) -> Procedure:
        if self._procedure is None or self._made is not None:
            raise InputError("no calibration is under way", where="calibration", remedy="Start one on the spool page")
        return self._procedure

    # --- looking ----------------------------------------------------------------------------------------------------

    def state(self) -> CalibrationState | None:
        """The current calibration, or None. Cheap enough for each message to a page."""
        with self._lock:
            procedure = self._procedure
            if procedure is None:
                return None
            residuals, reason = self._line(procedure)
            return CalibrationState(
                name=self._name,
                channel=procedure.channel,
                unit=procedure.unit,
                how=procedure.how,
                prompt=procedure.prompt(),
                timed=procedure.timed,
                fewest=procedure.fewest,
                seconds=procedure.held_seconds,
                points=tuple(
                    CalibrationPoint(p.x, p.y, p.u_y, p.note, None if residuals is None else residuals[number])
                    for number, p in enumerate(procedure.points)
                ),
                reason=reason,
                made=self._made,
            )

    def _line(self, procedure: Procedure) -> tuple[tuple[float, ...] | None, str]:
        """Residuals of the line through the points so far and the reason for its order; cached until the points
        change.
        """
        if self._made is not None:
            return self._made.residuals, self._made.reason
        points = tuple(procedure.points)
        if points != self._lined[0]:
            self._lined = (points, *_line_of(procedure))
        return self._lined[1:]

    _lined: tuple[Any, tuple[float, ...] | None, str] = ((), None, "")

    def known(self) -> CalibrationOverview:
        """The calibrated channels and their findings. Takes some ms: not for every message."""
        calibration, converter = self._known or Calibration(), self._samples.converter
        if converter is None:
            return CalibrationOverview(calibration, self.path, "", (), (), self.trouble)
        description = converter.description
        warnings = tuple(look_at_calibration(calibration, description, converter.spool))
        return CalibrationOverview(calibration, self.path, description.label, self._fitted(), warnings, self.trouble)

    def _fitted(self) -> tuple[str, ...]:
        converter = self._samples.converter
        if converter is None:
            return ()
        kinds = dict.fromkeys((*CHANNELS.values(), *WITH_ZERO))
        return tuple(kind for kind in kinds if converter.description.sensor(kind) or kind == "supply")


def _now() -> str:
    """The local time, for the history."""
    return dt.datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")


def _line_of(procedure: Procedure) -> tuple[tuple[float, ...] | None, str]:
    lacking = procedure.fewest - len(procedure.points)
    if lacking > 0:
        return None, f"{lacking} more point{'s' if lacking > 1 else ''} at least"
    if not procedure.unit:  # a zero has no fitted line
        return None, ""
    try:
        fit, _, reason, refused = procedure.line()
    except (FrothlineError, ValueError, ArithmeticError) as error:
        return None, str(error)
    words = f"cannot be saved: {refused}" if refused else reason
    return tuple(float(one) for one in fit.residuals), words


def read_answer(question: Question, text: str, unit: Unit) -> float:
    """Parse a text in ``unit`` to SI; the default for an empty text.

    Raises InputError with the figure and its range in ``unit``.
    """
    text = text.strip()
    if not text and question.default is not None:
        return question.default
    name = question.quantity.replace("_", " ")
    try:
        plain = not text or question.quantity == "count"
        value = unit.to_si(read_number(text)) if plain else read_in(text, unit, name, f"5 {unit.symbol}", signed=True)
    except ValueError as error:
        raise InputError(
            str(error) if text else f"enter the {question.words}",
            where=question.words,
            remedy=f"Enter a number in {unit.symbol}",
        ) from None
    if not question.low <= value <= question.high:
        low, high = sorted((unit.from_si(question.low), unit.from_si(question.high)))
        given = f"{shorten(text)} {unit.symbol}" if is_number(text) else shorten(text)
        raise InputError(
            f"{given} is outside {low:.4g} to {high:.4g} {unit.symbol}",
            where=question.words,
            remedy=f"Check that the unit is {unit.symbol}",
        )
    return value
