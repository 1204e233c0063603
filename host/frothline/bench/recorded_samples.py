"""Samples of earlier recordings: their entries, and corrections saved next to the recording.

Samples of the present session are corrected through ``SampleRecords``, so that page and file agree.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping
from dataclasses import replace
from math import inf
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.bench.library import LibraryFolder
from frothline.bench.sample_correction import TakenSample, read_correction
from frothline.bench.sample_records import SampleRecords
from frothline.errors import InputError
from frothline.foam.sample import evaluate
from frothline.recording.summary import metadata_path, read_metadata
from frothline.trials.sample_corrections import append_correction, corrected_samples

if TYPE_CHECKING:
    from frothline.recording.summary import Entry


def recorded_samples(entry: Entry) -> tuple[TakenSample, ...]:
    """The readable samples of a recording as corrected, withdrawn ones too, in the order of their tables."""
    return _samples(metadata_path(Path(entry.path)), entry.metadata)


def _samples(place: Path, metadata: Mapping[str, Any]) -> tuple[TakenSample, ...]:
    found = []
    for one in corrected_samples(metadata):
        if one.noted is None:
            continue
        try:
            sample = evaluate(one.noted.weighing)
        except InputError:  # readings that contradict each other are a problem of the trial
            continue
        about: dict[str, Any] = {"at": one.noted.at, "place": place, "number": one.number}
        made = TakenSample(one.noted.at or 0.0, one.noted.weighing, sample, place.name, **about)
        found.append(replace(made, counts=one.counts, corrections=one.corrections))
    return tuple(found)


def remaining(taken: TakenSample, seconds: float | None) -> float:
    """S from the full bucket to the end of its recording of ``seconds``; infinite if either is not known."""
    return inf if seconds is None or taken.at is None else max(seconds - taken.at, 0.0)


def sample_of(recording: Path, number: int) -> TakenSample:
    """Sample ``number``, from 1, of a recording. Raises InputError if it is not there or cannot be read."""
    place = metadata_path(recording)
    found = _samples(place, read_metadata(place)[0])
    for one in found:
        if one.number == number:
            return one
    known = ", ".join(str(one.number) for one in found)
    raise InputError(
        f"sample {number} is not in the recording",
        where=str(place),
        remedy=f"Known: {known}" if known else "This recording has no sample that can be read",
    )


def correct_taken(old: TakenSample, typed: Mapping[str, str], seconds: float | None) -> str:
    """Append a correction of a sample to its file; returns what was done. Raises InputError with the entry.

    typed : texts by name of ``sample_correction.ENTRIES``;  seconds : length of its recording, None if not known
    """
    found = read_correction(old, typed, remaining(old, seconds))
    evaluate(found.weighing)  # refuses readings that contradict each other
    return _save(old, found.entries, f"Sample {old.number} corrected")


def count_taken(old: TakenSample, *, counts: bool) -> str:
    """Withdraw a sample, or count it again; as ``correct_taken``."""
    words = f"Sample {old.number} {'counts again' if counts else 'withdrawn'}"
    return _save(old, {} if old.counts == counts else {"counts": counts}, words)


def _save(old: TakenSample, entries: Mapping[str, Any], words: str) -> str:
    if not entries:
        return "Nothing was changed"
    assert old.place is not None
    append_correction(old.place, old.number, entries)
    return f"{words}; saved in {old.kept}"


class RecordedSamples:
    """Corrects samples of the recordings in a folder. All methods may be called from any thread."""

    def __init__(self, folder: LibraryFolder, session: SampleRecords) -> None:
        self._folder = folder
        self._session = session
        self._lock = threading.Lock()

    def correct(self, path: str, key: str, typed: Mapping[str, str]) -> str:
        """Correct a sample of the recording ``path``. ``key`` : "key/number of its corrections" of a TakenSample.

        The sample stays as written, and gets the correction. Raises InputError with the entry; nothing is then saved.
        """
        with self._lock:
            entry, old, mine = self._find(path, key)
            said = correct_taken(old, typed, entry.seconds) if mine is None else self._session.correct(mine, typed)
        self._folder.expire()
        return said

    def count_sample(self, path: str, key: str, *, counts: bool) -> str:
        """Withdraw a sample, or count it again; arguments and errors as in ``correct``."""
        with self._lock:
            _, old, mine = self._find(path, key)
            if mine is not None:
                said = self._session.count_sample(mine, counts=counts)
            else:
                said = count_taken(old, counts=counts)
        self._folder.expire()
        return said

    def _find(self, path: str, key: str) -> tuple[Entry, TakenSample, str | None]:
        """The recording, its sample, and the key of that sample in this session if it was taken in it."""
        entry = next((one for one in self._folder.look().entries if one.path == path), None)
        if entry is None:
            raise InputError("this recording is not in the notebook", where=path, remedy="Reload the page")
        place = metadata_path(Path(path))
        wanted, _, corrections = key.partition("/")
        for one in _samples(place, read_metadata(place)[0]):
            if one.key == wanted:
                if corrections != str(one.corrections):
                    raise InputError(
                        "the sample was corrected on another page meanwhile",
                        where=f"sample {one.number}",
                        remedy="Check its entries and save again",
                    )
                taken = (mine for mine in self._session.taken if (mine.place, mine.number) == (place, one.number))
                return entry, one, next((f"{mine.key}/{mine.corrections}" for mine in taken), None)
        raise InputError("this sample is not in the recording", where=place.name, remedy="Reload the page")
