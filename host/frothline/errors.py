"""All errors that Frothline raises intentionally.

    FrothlineError
      PortError          the connection to the board
        PortNotFound  PortBusy  PortLost  PortSilent  WrongDevice  BoardRefused
      WireError          the message layouts
        UnknownMessage  UnknownLayout
      RecordingError     the files of a recording
        RecordingUnwritable  NoSpace  NotARecording  NewerFormat
      SensorError        conversion of counts to SI
        SensorMissing  SensorOutOfRange
      FitError           fits of points
        TooFewPoints  NotIdentifiable
      InvalidEstimate    a value outside its own interval
      MissingPackage     an optional package that is not installed
      InputError         input of the user: a file, a field, an option
        OutsideValidity  (a formula outside its range of validity)
        NoTarget  (a photo without the printed target)
        SampleQuestioned  (a sample that contradicts its run, until the user has answered)
        UnitMismatch      (a unit of another quantity)
        CorrelationUnknown  (arithmetic with two Estimates that does not state their correlation)

Each error has three parts (what is wrong, where, and the remedy) and a stable ``code`` for scripts. Damage on the line
is not an error: the decoder counts it.
"""

from __future__ import annotations

from typing import ClassVar


class FrothlineError(Exception):
    """Base of all errors; ``code`` is stable, ``where`` and ``remedy`` may be empty."""

    code: ClassVar[str] = "frothline"

    def __init__(self, what: str, *, where: str = "", remedy: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.remedy = remedy

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        return f"{text}. {self.remedy}" if self.remedy else text

    def as_dict(self) -> dict[str, str]:
        """The parts, for ``--json`` and for pages."""
        return {"code": self.code, "what": self.what, "where": self.where, "remedy": self.remedy}


class PortError(FrothlineError):
    code = "port"


class PortNotFound(PortError):
    code = "port-not-found"


class PortBusy(PortError):
    code = "port-busy"


class PortLost(PortError):
    code = "port-lost"


class PortSilent(PortError):
    code = "port-silent"


class WrongDevice(PortError):
    code = "port-wrong-device"


class BoardRefused(PortError):
    code = "port-board-refused"


class WireError(FrothlineError):
    code = "wire"


class UnknownMessage(WireError):
    code = "wire-unknown-message"


class UnknownLayout(WireError):
    code = "wire-unknown-layout"


class RecordingError(FrothlineError):
    code = "recording"


class RecordingUnwritable(RecordingError):
    code = "recording-unwritable"


class NoSpace(RecordingError):
    code = "recording-no-space"


class NotARecording(RecordingError):
    code = "recording-not-a-recording"


class NewerFormat(RecordingError):
    code = "recording-newer-format"


class SensorError(FrothlineError):
    code = "sensor"


class SensorMissing(SensorError):
    code = "sensor-missing"


class SensorOutOfRange(SensorError):
    code = "sensor-out-of-range"


class FitError(FrothlineError):
    code = "fit"


class TooFewPoints(FitError):
    code = "fit-too-few-points"


class NotIdentifiable(FitError):
    code = "fit-not-identifiable"


class InvalidEstimate(FrothlineError):
    """A value outside its own interval, or a known value without one: an error of the calculation, not of the user."""

    code = "estimate"


class MissingPackage(FrothlineError):
    code = "missing-package"


class InputError(FrothlineError):
    """Wrong input of the user; ``where`` is ``file:line field`` as far as it is known."""

    code = "input"


class NoTarget(InputError):
    code = "no-target"


class OutsideValidity(InputError):
    code = "input-outside-validity"


class SampleQuestioned(InputError):
    """A foam sample that contradicts its run; ``what`` is the question. The sample is not used yet."""

    code = "input-sample-questioned"


class UnitMismatch(InputError):
    code = "input-unit"


class CorrelationUnknown(InputError):
    """Two Estimates were added, subtracted, multiplied or divided without their correlation."""

    code = "input-correlation-unknown"
