"""Samples of a session: taken with the timer, saved with the recording, corrected or withdrawn afterwards."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import replace
from math import nan
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from frothline.bench.sample_correction import TakenSample, read_correction
from frothline.bench.sample_timer import DRAIN, FILLING, WEIGH, SampleTimer
from frothline.bench.session_api import SessionApi
from frothline.bench.simulated_truth import simulated_truth
from frothline.bench.snapshot import Snapshot
from frothline.errors import FrothlineError, InputError, SampleQuestioned
from frothline.foam.sample import Weighing, evaluate
from frothline.recording.summary import read_metadata
from frothline.trials.sample_corrections import append_correction, corrected_samples
from frothline.trials.sample_sidecar import add_drained, append_sample, sample_entry

if TYPE_CHECKING:
    from frothline.generator.build import Build


SIMULATED_BUCKET = ("20 L", "640 g")  # volume and empty mass of the bucket at a simulated rig


class BuildOf(Protocol):
    """The generator of a sample taken now, in a run or without one."""

    def __call__(self, *, in_run: bool) -> Build: ...


class SampleRecords:
    """The timer and the samples of a session. All methods may be called from any thread."""

    def __init__(self, session: SessionApi, build_of: BuildOf) -> None:
        self.timer = SampleTimer()
        self._session = session
        self._build_of = build_of
        self._lock = threading.RLock()
        self._taken: tuple[TakenSample, ...] = ()
        self.questions: Mapping[str, str] = {}  # the run's question about a correction, by its key
        self._place: Path | None = None  # metadata file of the recording whose last sample is still open

    @property
    def taken(self) -> tuple[TakenSample, ...]:
        """Samples of this session, the newest last; withdrawn ones too."""
        return self._taken

    @property
    def counted(self) -> tuple[TakenSample, ...]:
        """Samples of this session that count, the newest last."""
        return tuple(one for one in self._taken if one.counts)

    def press(self, typed: Mapping[str, str], *, confirmed: bool = False) -> str:
        """Handle the timer's large button; ``confirmed`` accepts a sample that the run questioned.

        Raises SampleQuestioned if the sample contradicts the run; the timer then stays at the weighing.
        """
        now = self._session.snapshot()
        with self._lock:
            before = self.timer.look().step
            words = self.timer.press(now.time, dict(typed), *recording_of(now), confirmed=confirmed)
            if before == WEIGH:
                try:
                    self._take(now)
                except SampleQuestioned as question:
                    self.timer.ask(question.what)
                    raise
                except FrothlineError:
                    self.timer.weigh_again()
                    raise
                words = self._words()
            elif before == DRAIN:
                self._add_readings()
            elif before == FILLING and (foam := self._simulated_foam()) is not None:
                self.timer.weigh_simulated(*foam)
            return words

    def begin(self) -> None:
        """Open the timer. A simulated rig has a simulated bucket: nobody could weigh one."""
        self.timer.begin(*(SIMULATED_BUCKET if self._simulated_foam() is not None else ()))

    def _simulated_foam(self) -> tuple[float, float] | None:
        """Density, kg/m³, and rate, m³/s, of the foam that a simulated rig makes now; None without any."""
        truth = simulated_truth(self._session)
        if truth is None:
            return None
        density, rate = (float(truth.get(name, nan)) for name in ("foam_density", "foam_rate"))
        return (density, rate) if density > 0.0 and rate > 0.0 else None

    def discard(self) -> str:
        """Leave the timer; saved samples stay."""
        with self._lock:
            weighed = self.timer.look().step == DRAIN
            self.timer.end()
            self._place = None
        return "Sample saved" if weighed else "Sample discarded"

    def _take(self, now: Snapshot) -> None:
        at = self.timer.look()
        weighing = at.weighing()
        assert at.filled is not None
        if now.run is not None and now.run.running:
            # the run uses the time of its readings, which differs from wall time in a fast or slow simulation
            sample = self._session.add_sample(weighing, now.run.time - (now.time - at.filled))
            in_run = True
        else:
            sample, in_run = evaluate(weighing), False
        place = Path(at.recording).with_suffix(".toml") if at.recording else None
        if place is not None and not in_run:  # a run stores its samples itself
            append_sample(place, weighing, at.recorded)
        build = self._build_of(in_run=in_run)
        kept = place.name if place is not None else ""
        number, full_at = _in_file(place, weighing)
        made = TakenSample(at.filled, weighing, sample, kept, build, full_at, place, number)
        run = self._session.snapshot().run if in_run else None
        if run is not None and run.samples:
            last = run.samples[-1]
            made = replace(made, run=run.started, in_run=last.number, run_time=last.time, air=last.air)
        self._taken = (*self._taken, made)
        self._place = place

    def _add_readings(self) -> None:
        if not self._taken or self._taken[-1].time != self.timer.look().filled:
            return  # their sample was never saved
        last = self._taken[-1]
        # the weighing may have been corrected since
        weighing = replace(last.weighing, drained=self.timer.look().drained)
        found = evaluate(weighing)
        sample = replace(
            last.sample,
            drainage=found.drainage,
            drained_share=found.drained_share,
            half_drainage=found.half_drainage,
            verdicts=found.verdicts,
            remarks=(*last.sample.remarks, *(one for one in found.remarks if one not in last.sample.remarks)),
        )
        self._taken = (*self._taken[:-1], replace(last, weighing=weighing, sample=sample))
        if self._place is not None:
            add_drained(self._place, weighing)

    def correct(self, key: str, typed: Mapping[str, str], *, confirmed: bool = False) -> str:
        """Correct a saved sample, also after its run. ``key`` : "key/number of its corrections" of a TakenSample.

        The recording keeps the original and gets the correction. Raises InputError with the entry, SampleQuestioned if
        the corrected readings contradict the run and are not ``confirmed``; the sample then stays as it was.
        """
        with self._lock:
            place, old = self._find(key)
            found = read_correction(old, typed, self._session.snapshot().time - old.time)
            entries = dict(found.entries)
            weighing = replace(found.weighing, confirmed=confirmed or found.weighing.confirmed)
            if confirmed:
                entries["confirmed"] = True
            if not entries:
                return "Nothing was changed"
            made = replace(old, weighing=weighing, time=old.time + found.later, run_time=old.run_time + found.later)
            if old.at is not None:
                made = replace(made, at=old.at + found.later)
            self._save_correction(place, old, made, entries)
            return f"Sample {place + 1} corrected{self._saved(made)}"

    def count_sample(self, key: str, *, counts: bool) -> str:
        """Withdraw a saved sample, or count it again; ``key`` and errors as in ``correct``."""
        with self._lock:
            place, old = self._find(key)
            if old.counts == counts:
                return "Nothing was changed"
            made = replace(old, counts=counts)
            self._save_correction(place, old, made, {"counts": counts})
            return f"Sample {place + 1} {'counts again' if counts else 'withdrawn'}{self._saved(made)}"

    def _find(self, key: str) -> tuple[int, TakenSample]:
        wanted, _, corrections = key.partition("/")
        for place, one in enumerate(self._taken):
            if one.key == wanted:
                if corrections != str(one.corrections):
                    raise InputError(
                        "the sample was corrected on another page meanwhile",
                        where=f"sample {place + 1}",
                        remedy="Check its entries and save again",
                    )
                return place, one
        raise InputError("this sample is not of this session", where="sample", remedy="Reload the page")

    def _save_correction(self, place: int, old: TakenSample, made: TakenSample, entries: Mapping[str, Any]) -> None:
        """Correct the run, then the file; an error in either leaves both as they were."""
        run = self._session.snapshot().run
        live = run is not None and old.in_run > 0 and run.started == old.run
        if live:
            try:
                sample = self._session.correct_sample(old.in_run, made.weighing, made.run_time, counts=made.counts)
            except SampleQuestioned as question:
                self.questions = {f"{old.key}/{old.corrections}": question.what}
                raise
        else:
            sample = evaluate(made.weighing, old.air)
        try:
            if old.place is not None and old.number:
                append_correction(old.place, old.number, entries)
        except FrothlineError:
            if live:
                confirmed = replace(old.weighing, confirmed=True)  # it counted already
                self._session.correct_sample(old.in_run, confirmed, old.run_time, counts=old.counts)
            raise
        self.questions = {}
        made = replace(made, sample=sample, corrections=old.corrections + 1)
        self._taken = (*self._taken[:place], made, *self._taken[place + 1 :])

    def _saved(self, made: TakenSample) -> str:
        return f"; saved in {made.kept}" if made.number else "; in this session only, the recording does not have it"

    def _words(self) -> str:
        last = self._taken[-1]
        density = f"{last.sample.density.value:.0f} kg/m³"
        return (
            f"{density}, saved in {last.kept}"
            if last.kept
            else f"{density}; available in this session only, no recording is running"
        )


def _in_file(place: Path | None, weighing: Weighing) -> tuple[int, float | None]:
    """Number of the sample just saved in a file, and its time there; 0 and None if the file does not have it."""
    if place is None:
        return 0, None
    found = corrected_samples(read_metadata(place)[0])
    if not found or found[-1].noted is None or sample_entry(found[-1].noted.weighing) != sample_entry(weighing):
        return 0, None
    return found[-1].number, found[-1].noted.at


def recording_of(now: Snapshot) -> tuple[str, float]:
    """Path of the current recording and its length; empty without one."""
    recording = now.recording
    return ("", 0.0) if recording is None or recording.ended else (str(recording.path), recording.running)
