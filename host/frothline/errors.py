"""Everything that Frothline raises on purpose.

    FrothlineError
      PortError          the way to the board
        PortNotFound  PortBusy  PortLost  PortSilent  WrongDevice  BoardRefused
      WireError          the message layouts
        UnknownMessage  UnknownLayout
      RecordingError     the files of a recording
        RecordingUnwritable  NoSpace  NotARecording  NewerFormat
      SensorError        from counts to SI
        SensorMissing  SensorOutOfRange
      FitError           from points to curves
        TooFewPoints  NotIdentifiable
      InvalidEstimate    a value outside its own interval
      MissingPackage     an optional package that is not installed
      InputError         what a person wrote: a file, a field, an option
        OutsideValidity  (a formula asked beyond the range it holds in)
        SampleQuestioned  (a sample that contradicts its run, until a person has answered)
        UnitMismatch      (a unit of another quantity)
        CorrelationUnknown  (arithmetic with two Estimates that does not state their correlation)

Each error says what is wrong, where, and what to do about it, and has a stable ``code`` that scripts may match.
Damage on the line is not an error: it is a counted message of the decoder.
"""

from __future__ import annotations

from typing import ClassVar


class FrothlineError(Exception):
    """Base of all; ``code`` is stable, ``where`` and ``remedy`` may be empty."""

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
    """A value outside its own interval, or a known value without one: a mistake of the calculation, not of a person."""

    code = "estimate"


class MissingPackage(FrothlineError):
    code = "missing-package"


class InputError(FrothlineError):
    """Something a person wrote; ``where`` is ``file:line field`` as far as it is known."""

    code = "input"


class OutsideValidity(InputError):
    code = "input-outside-validity"


class SampleQuestioned(InputError):
    """A foam sample that contradicts the run it was taken from; ``what`` is the question. It is not used yet."""

    code = "input-sample-questioned"


class UnitMismatch(InputError):
    code = "input-unit"


class CorrelationUnknown(InputError):
    """Two Estimates were added, subtracted, multiplied or divided without their correlation."""

    code = "input-correlation-unknown"
