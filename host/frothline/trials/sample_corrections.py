"""Corrections of saved samples in the TOML next to a recording, and the samples as corrected.

::

    [[correction]]
    sample = 2                # number of the [[sample]] table, from 1
    made = "2026-05-02 14:03"
    full = "618 g"            # replaces the entry of the sample
    fill_time = ""            # an empty text removes the entry

    [[correction]]
    sample = 1
    counts = false            # the sample is withdrawn; true: it counts again

The ``[[sample]]`` tables stay as written. Corrections are only appended, and apply in their order. Page, command line,
report and notebook read samples with ``corrected_samples``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.quantities import shorten
from frothline.trials.sample_sidecar import Noted, append_table, read_sample

ABOUT = ("sample", "made")  # entries of a correction that are not entries of a sample


@dataclass(frozen=True)
class CorrectedSample:
    """A sample as corrected.

    number : of its table, from 1
    noted : its readings; None if they cannot be read
    original : its table as written;  table : as corrected
    counts : False if it was withdrawn
    corrections : number of corrections
    problems : sentences on entries that cannot be read
    """

    number: int
    noted: Noted | None
    original: Mapping[str, Any]
    table: Mapping[str, Any]
    counts: bool = True
    corrections: int = 0
    problems: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What was corrected, as text; empty without a correction."""
        changed = [
            f"{_spoken(key)} {self.table.get(key, 'removed')} (was {self.original.get(key, 'not given')})"
            for key in dict.fromkeys((*self.original, *self.table))
            if self.table.get(key) != self.original.get(key)
        ]
        said = "; ".join((*changed, *([] if self.counts else ["withdrawn, does not count"])))
        return f"sample {self.number} corrected: {said}" if said else ""


def _spoken(key: str) -> str:
    return key.replace("_", " ")


def corrected_samples(metadata: Mapping[str, Any], where: str = "") -> list[CorrectedSample]:
    """All samples of a recording's metadata, withdrawn ones too, in their order.

    A correction that cannot be read is ignored and reported with the sample; if it is of no sample, with the last one.
    """
    samples = _tables(metadata.get("sample", metadata.get("samples", ())))
    corrections = _tables(metadata.get("correction", ()))
    found = [_read(number, table, where) for number, table in enumerate(samples, 1)]
    for count, correction in enumerate(corrections, 1):
        number, at = correction.get("sample"), f"{where}: correction {count}".removeprefix(": ")
        if isinstance(number, bool) or not isinstance(number, int) or not 1 <= number <= len(found):
            if found:
                words = f"{at}: there is no sample {shorten(number)}; the correction is not used."
                found[-1] = _with_problem(found[-1], words)
            continue
        found[number - 1] = _apply(found[number - 1], correction, at, where)
    return found


def _tables(raw: Any) -> list[Mapping[str, Any]]:
    return [one for one in raw if isinstance(one, Mapping)] if isinstance(raw, Sequence) else []


def _read(number: int, table: Mapping[str, Any], where: str) -> CorrectedSample:
    try:
        noted = read_sample(table, f"{where}: sample {number}".removeprefix(": "))
    except InputError as error:
        return CorrectedSample(number, None, table, table, problems=(str(error),))
    return CorrectedSample(number, noted, table, table)


def _apply(sample: CorrectedSample, correction: Mapping[str, Any], at: str, where: str) -> CorrectedSample:
    entries = {key: value for key, value in correction.items() if key not in ABOUT}
    counts = entries.pop("counts", sample.counts)
    if not isinstance(counts, bool):
        words = f"{at}: counts = {shorten(counts)} is not true or false; the correction is not used."
        return _with_problem(sample, words)
    table = {key: value for key, value in (dict(sample.table) | entries).items() if value != ""}
    made = _read(sample.number, table, where)
    if made.noted is None and entries:
        words = f"{at} is not used: {made.problems[0]}"
        return _with_problem(sample, words)
    return CorrectedSample(
        sample.number,
        made.noted,
        sample.original,
        table,
        counts,
        sample.corrections + 1,
        made.problems if made.noted is None else (),
    )


def _with_problem(sample: CorrectedSample, words: str) -> CorrectedSample:
    return CorrectedSample(
        sample.number,
        sample.noted,
        sample.original,
        sample.table,
        sample.counts,
        sample.corrections,
        (*sample.problems, words),
    )


def append_correction(path: Path, number: int, entries: Mapping[str, Any], now: datetime | None = None) -> None:
    """Append a correction of sample ``number`` to the TOML next to a recording; raises as ``append_table``.

    ``entries`` : entries of a ``[[sample]]`` table as corrected, empty text for a removed one; ``counts``
    """
    made = (now or datetime.now().astimezone()).strftime("%Y-%m-%d %H:%M")
    append_table(path, "correction", {"sample": number, "made": made, **entries})
