"""Changes of the plan of the session's folder by the pages, one after the other."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import TYPE_CHECKING

from frothline.trials.plan_edit import add_planned, remove_planned, save_plan, undo_plan

if TYPE_CHECKING:
    from frothline.bench.library import LibraryFolder
    from frothline.generator.build import Build


class PlanControl:
    """Writes the plan of a folder. All methods may be called from any thread, and raise as ``trials.plan_edit``."""

    def __init__(self, place: LibraryFolder) -> None:
        self._place = place
        self._lock = threading.Lock()

    def save(self, texts: Mapping[str, str]) -> str:
        """Save the entries of the form."""
        with self._lock:
            path = save_plan(self._place.folder, texts, self._place.look().builds)
        self._place.expire()
        return f"Plan saved in {path.name}"

    def undo(self) -> str:
        """Undo the last change of the plan."""
        with self._lock:
            words = undo_plan(self._place.folder)
        self._place.expire()
        return words

    def add(self, build: Build) -> str:
        """Plan a build as a next trial."""
        with self._lock:
            add_planned(self._place.folder, build)
        self._place.expire()
        return f"“{build.name}” is planned as the next trial; see the notebook"

    def remove(self, name: str) -> str:
        """Take a planned build out of the plan."""
        with self._lock:
            remove_planned(self._place.folder, name)
        self._place.expire()
        return f"“{name}” is no longer planned"
