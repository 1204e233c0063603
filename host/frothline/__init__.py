"""Frothline: from the air of a blower to the foam of a generator.

>>> import frothline as fl
>>> curve = fl.fit_source("sweep.froth")                                          # doctest: +SKIP
>>> fl.what_if("build.toml", curve, {"outlet.bore": "30 mm"})                     # doctest: +SKIP

Names are loaded on first use, so that ``import frothline`` is fast.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from frothline import errors, units
    from frothline.api import (
        build,
        connect,
        fit_resistance,
        fit_source,
        notebook,
        overview,
        own_build,
        predict,
        read,
        verify,
        what_if,
    )
    from frothline.api_concrete import agents, batch, pour_plan
    from frothline.api_foam import bubbles, drainage, jar
    from frothline.api_records import (
        add_cube,
        add_cubes,
        add_settlement,
        correct_cube,
        correct_jar,
        correct_pour,
        note_photo,
        record_jar,
        record_pour,
        remove_cube,
        settle_jar,
    )
    from frothline.api_trials import (
        add_note,
        correct_sample,
        keep_cup,
        make_card,
        make_pours_report,
        make_report,
        new_agent,
        new_build,
        new_pour_plan,
        plan_build,
        restore_sample,
        save_build,
        undo_plan,
        unplan_build,
        withdraw_sample,
    )
    from frothline.estimate import Estimate
    from frothline.readings import tables
    from frothline.source_library.functions import library, pool_sources, save_generator, save_source

__version__ = "0.1.0"

_MODULES = {"errors": "frothline.errors", "tables": "frothline.readings.tables", "units": "frothline.units"}
_OF_LIBRARY = "frothline.source_library.functions"
_OF_RECORDS = (
    "add_cube",
    "add_cubes",
    "add_settlement",
    "correct_cube",
    "correct_jar",
    "correct_pour",
    "note_photo",
    "record_jar",
    "record_pour",
    "remove_cube",
    "settle_jar",
)
_OF_TRIALS = (
    "add_note",
    "correct_sample",
    "keep_cup",
    "make_card",
    "make_pours_report",
    "make_report",
    "new_agent",
    "new_build",
    "new_pour_plan",
    "plan_build",
    "restore_sample",
    "save_build",
    "undo_plan",
    "unplan_build",
    "withdraw_sample",
)
_NAMES = {
    "Estimate": "frothline.estimate",
    **dict.fromkeys(("library", "pool_sources", "save_generator", "save_source"), _OF_LIBRARY),
    **dict.fromkeys(("agents", "batch", "pour_plan"), "frothline.api_concrete"),
    **dict.fromkeys(("bubbles", "drainage", "jar"), "frothline.api_foam"),
    **dict.fromkeys(_OF_TRIALS, "frothline.api_trials"),
    **dict.fromkeys(_OF_RECORDS, "frothline.api_records"),
}

__all__ = [
    "Estimate",
    "add_cube",
    "add_cubes",
    "add_note",
    "add_settlement",
    "agents",
    "batch",
    "bubbles",
    "build",
    "connect",
    "correct_cube",
    "correct_jar",
    "correct_pour",
    "correct_sample",
    "drainage",
    "errors",
    "fit_resistance",
    "fit_source",
    "jar",
    "keep_cup",
    "library",
    "make_card",
    "make_pours_report",
    "make_report",
    "new_agent",
    "new_build",
    "new_pour_plan",
    "note_photo",
    "notebook",
    "overview",
    "own_build",
    "plan_build",
    "pool_sources",
    "pour_plan",
    "predict",
    "read",
    "record_jar",
    "record_pour",
    "remove_cube",
    "restore_sample",
    "save_build",
    "save_generator",
    "save_source",
    "settle_jar",
    "tables",
    "undo_plan",
    "units",
    "unplan_build",
    "verify",
    "what_if",
    "withdraw_sample",
]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    if name in _MODULES:
        found: Any = import_module(_MODULES[name])
    else:
        found = getattr(import_module(_NAMES.get(name, "frothline.api")), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted([*__all__, "__version__", "__doc__", "__file__", "__name__", "__path__"])
