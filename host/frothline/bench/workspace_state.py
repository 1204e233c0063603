"""The state of the generator workspace at one moment, as the pages see it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from frothline.bench.own_build import SHEETS
from frothline.bench.sheet_folder import RecordedSweepFile
from frothline.generator.build import Build
from frothline.generator.evaluation import Evaluation
from frothline.generator.sheet import (
    Problem,
)
from frothline.generator.size_search import SizeSearch


@dataclass(frozen=True)
class WorkspaceState:
    """A snapshot of the workspace.

    values : entries as typed, by path; missing entries are absent
    usual : default of each missing entry, as text
    problems : errors in the sheet, most with their path
    files : names of the sheets in ``sheets`` that can be opened
    recorded : recordings to choose from
    received : files of measured generators in the folder, like "builds/tall.toml"
    opened : the sheet in the form, if it has invalid entries and the saved sheet stays in use
    leaving : the sheet to open after the unsaved changes are confirmed, else None
    ignored_entries : invalid entries; the prediction uses their saved values
    form, result : counters that grow when the form or the answer changes
    """

    name: str
    file: str  # of the saved sheet, empty if never saved
    values: Mapping[str, str]
    altered: tuple[str, ...]
    problems: tuple[Problem, ...]
    build: Build | None
    built: Build
    answer: Evaluation | None
    working: bool
    found: SizeSearch | None
    files: tuple[str, ...]
    recorded: tuple[RecordedSweepFile, ...]
    swept: frozenset[str]  # "dry", "wet": lines of this generator swept in this session
    chosen: Mapping[str, str]  # "source", "new_source", "dry", "wet" -> path, LIVE_SOURCE or NOTHING
    trouble: Mapping[str, str]  # of these
    form: int
    result: int
    sheets: Path = Path(SHEETS)
    received: tuple[str, ...] = ()
    opened: str = ""
    leaving: str | None = None
    ignored_entries: tuple[str, ...] = ()
