"""Correction of a saved sample: its entries as texts, and the readings that a person typed instead.

A correction is read from all texts of the form. Start, end and fill time belong together: the one that was not changed
follows the other two.
"""

from __future__ import annotations

import re
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from math import nan
from pathlib import Path
from typing import Any

from frothline.bench.sample_timer import LABELS, NOT_TIMED
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.drainage_curve import DrainageCurve
from frothline.foam.sample import FoamSample, Weighing, drainage_curve_of
from frothline.generator.build import Build
from frothline.quantities import read_quantity
from frothline.trials.sample_sidecar import read_time, sample_entry

# Fields of the form, in order: name, label.
ENTRIES: Mapping[str, str] = {
    "full": LABELS["full"],
    "empty": LABELS["empty"],
    "container": LABELS["container"],
    "fill": LABELS["fill"],
    "start": "Start of filling",
    "end": "Bucket full",
    "depth": LABELS["depth"],
    "drained": "Drained liquid",
    "note": "Note",
}
KINDS = {"full": "mass", "empty": "mass", "container": "volume", "depth": "length"}
READINGS = {"full": "full", "empty": "empty", "container": "container_volume", "depth": "depth"}
# Entry that shows an objection to the readings as a whole, by the place of the objection.
AT_ENTRY = {"fill_time": "fill", "full": "full", "container_volume": "container", "depth": "depth"}
TIMES = ("end", "start", "fill")
_AS_AT_THE_PROMPT = re.compile(r"\s*[^\s=;]{1,20}=[^\s=;]{1,20}(\s+[^\s=;]{1,20}=[^\s=;]{1,20}){0,20}\s*")
SAME_TIME = 0.1  # s, difference of a typed fill time from end minus start that counts as rounding
LONGEST_NOTE = 300  # characters


@dataclass(frozen=True)
class TakenSample:
    """A sample: time of the full bucket (s of session time), readings, results, file, and generator.

    at : s since the recording began, when the bucket was full; None if it is not saved with a time
    place : TOML file with the sample, None without a recording;  number : of the sample in that file, 0 if not in it
    run : begin of its run, s, None without a run;  in_run : number in that run
    run_time : as ``time``, on the clock of the run's readings
    air : free air during filling, m3/s
    counts : False if it was withdrawn;  corrections : number of corrections
    """

    time: float
    weighing: Weighing
    sample: FoamSample
    kept: str = ""
    build: Build | None = None
    at: float | None = None
    place: Path | None = None
    number: int = 0
    run: float | None = None
    in_run: int = 0
    run_time: float = nan
    air: Estimate | None = None
    counts: bool = True
    corrections: int = 0

    @property
    def key(self) -> str:
        """Short text that identifies the sample in a page; it stays with corrections."""
        return f"{zlib.crc32(f'{self.kept} {self.number} {self.run} {self.in_run} {self.began_as}'.encode()):08x}"

    @property
    def began_as(self) -> str:
        """Tells samples without a file apart."""
        return "" if self.number or self.in_run else f"{self.time:.2f}"

    @property
    def end(self) -> float:
        """When the bucket was full, s since the recording began; without a recording on the session's clock."""
        return self.time if self.at is None else self.at


@dataclass(frozen=True)
class SampleCorrection:
    """Readings as corrected. ``later`` : s by which the full bucket is later; ``entries`` : for the file."""

    weighing: Weighing
    later: float
    entries: Mapping[str, Any]


def entry_texts(taken: TakenSample) -> dict[str, str]:
    """The entries of a sample as texts of the form."""
    weighing, entry = taken.weighing, sample_entry(taken.weighing)
    took = weighing.fill_time
    return {
        "full": entry["full"],
        "empty": entry["empty"],
        "container": entry["container"],
        "fill": NOT_TIMED if took is None else f"{took:.1f} s",
        "start": "" if took is None else f"{taken.end - took:.1f} s",
        "end": f"{taken.end:.1f} s",
        "depth": entry.get("depth", ""),
        "drained": "; ".join(": ".join(pair) for pair in entry.get("drained", ())),
        "note": weighing.note,
    }


def read_correction(taken: TakenSample, typed: Mapping[str, str], elapsed: float) -> SampleCorrection:
    """The readings with the typed texts; entries with an unchanged text keep their full precision.

    ``elapsed`` : s since the bucket was full. Raises InputError with the label of the entry.
    """
    texts = entry_texts(taken)
    changed = {name: typed[name].strip() for name in ENTRIES if typed.get(name, texts[name]).strip() != texts[name]}
    weighing = taken.weighing
    values: dict[str, Any] = {READINGS[name]: _value(name, text) for name, text in changed.items() if name in READINGS}
    weighing = replace(weighing, **values)
    if "note" in changed:
        weighing = replace(weighing, note=changed["note"][:LONGEST_NOTE])
    if "drained" in changed:
        weighing = replace(weighing, drained=_drained(changed["drained"]))
    end, took = _times(taken, changed)
    now = taken.end + max(elapsed, 0.0)
    if not 0.0 <= end <= now and not changed.keys().isdisjoint(TIMES):
        name = next(one for one in TIMES if one in changed)
        raise InputError(
            f"the bucket would be full at {end:.1f} s, outside the recording so far",
            where=ENTRIES[name],
            remedy=f"Enter times from 0 to {now:.0f} s",
        )
    weighing = replace(weighing, fill_time=took)
    if changed:
        weighing = replace(weighing, confirmed=False)
    _check(weighing)
    old, new = sample_entry(taken.weighing, taken.at), sample_entry(weighing, None if taken.at is None else end)
    entries: dict[str, Any] = {
        key: new.get(key, "") for key in dict.fromkeys((*old, *new)) if old.get(key) != new.get(key)
    }
    if taken.weighing.confirmed and not weighing.confirmed:
        entries["confirmed"] = False
    return SampleCorrection(weighing, end - taken.end, entries)


def wrong_entries(taken: TakenSample, typed: Mapping[str, str], elapsed: float) -> dict[str, str]:
    """Name of the entry -> what is wrong with its text, and the remedy; empty if the correction can be saved."""
    try:
        read_correction(taken, typed, elapsed)
    except InputError as error:
        name = next((one for one, label in ENTRIES.items() if label == error.where), "full")
        return {name: f"{error.what[:1].upper()}{error.what[1:]}. {error.remedy}".strip()}
    return {}


@lru_cache(maxsize=64)
def drainage_figures(weighing: Weighing) -> tuple[DrainageCurve | None, str]:
    """The drainage curve of a sample's readings; None with the reason where they do not determine one."""
    try:
        return drainage_curve_of(weighing), ""
    except InputError as error:
        return None, f"{error.what[:1].upper()}{error.what[1:]}. {error.remedy}".strip()


def _value(name: str, text: str) -> float | None:
    if not text:
        if name == "depth":
            return None
        raise InputError("no value entered", where=ENTRIES[name], remedy=f"Enter the {ENTRIES[name].lower()}")
    try:
        return read_quantity(text, KINDS[name])
    except ValueError as error:
        raise InputError(str(error), where=ENTRIES[name]) from None


def _time(name: str, text: str) -> float:
    try:
        return read_time(text)
    except ValueError as error:
        raise InputError(str(error), where=ENTRIES[name]) from None


def _times(taken: TakenSample, changed: Mapping[str, str]) -> tuple[float, float | None]:
    """When the bucket was full, s as ``TakenSample.end``, and the fill time."""
    end, took = taken.end, taken.weighing.fill_time
    start = None if took is None else end - took
    if "end" in changed:
        end = _time("end", changed["end"])
    untimed = "fill" in changed and changed["fill"].casefold() in ("", NOT_TIMED)
    if untimed:
        return end, None
    if "start" in changed:
        if not changed["start"]:
            return end, None
        start = _time("start", changed["start"])
    if "fill" not in changed:
        return end, None if start is None else _positive(end - start, "start" if "start" in changed else "end")
    took = _positive(_time("fill", changed["fill"]), "fill")
    if "start" in changed and start is not None:
        if "end" in changed and abs(end - start - took) > SAME_TIME:
            raise InputError(
                f"{took:.1f} s, but from start to full are {end - start:.1f} s",
                where=ENTRIES["fill"],
                remedy="Correct two of the three; the third follows",
            )
        end = end if "end" in changed else start + took
    return end, took


def _positive(seconds: float, name: str) -> float:
    if seconds <= 0.0:
        raise InputError(
            f"the bucket would be full {-seconds:.1f} s before the start"
            if name != "fill"
            else "the fill time must be greater than 0",
            where=ENTRIES[name],
            remedy="Enter a start before the bucket was full" if name != "fill" else "Enter it in seconds",
        )
    return seconds


def _drained(text: str) -> tuple[tuple[float, float], ...]:
    found = []
    pieces = text.split() if _AS_AT_THE_PROMPT.fullmatch(text) else text.split(";")
    for piece in (one.strip() for one in pieces):
        if not piece:
            continue
        time, colon, volume = piece.rpartition("=" if "=" in piece else ":")
        try:
            found.append((read_time(time.strip() if colon else piece), read_quantity(volume, "drained")))
        except ValueError as error:
            raise InputError(str(error), where=ENTRIES["drained"], remedy="Like 60 s: 14 mL; 120 s: 27 mL") from None
    return tuple(found)


def _check(weighing: Weighing) -> None:
    try:
        weighing.check()
    except InputError as error:
        place = error.where.removeprefix("sample: ")
        name = AT_ENTRY.get(place, "drained" if place.startswith("drained") else "full")
        raise InputError(error.what, where=ENTRIES[name], remedy=error.remedy) from None
