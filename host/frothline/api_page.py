"""The page of the public API, generated from signatures and docstrings: ``python -m frothline.api_page host/API.md``.

Without a file it prints the page. A test compares the page with the file.
"""

from __future__ import annotations

import inspect
import sys
from collections.abc import Iterator
from pathlib import Path
from textwrap import dedent
from types import ModuleType
from typing import Any

import frothline
from frothline.bench.given_entries import Saved
from frothline.bench.session import Session
from frothline.estimate import Estimate
from frothline.foam.agent import AgentBook
from frothline.foam.concrete_batch import ConcreteBatch
from frothline.generator.build import Build
from frothline.generator.evaluation import Evaluation
from frothline.generator.prediction_result import Prediction
from frothline.pours.plan import PourPlan
from frothline.readings.recording_check import RecordingCheck
from frothline.report.html_page import Report
from frothline.source_library.collection import LibraryCollection
from frothline.source_library.prior import PooledKind
from frothline.sweep.generator_resistance import GeneratorResistance
from frothline.sweep.source_curve import SourceCurve
from frothline.trials.agent_comparison import AgentComparison
from frothline.trials.compare import Comparison
from frothline.trials.notebook import Notebook
from frothline.trials.trial import Trial
from frothline.trials.which_helped import EffectsOfChanges

RESULTS: tuple[tuple[type, str], ...] = (
    (SourceCurve, "fit_source"),
    (LibraryCollection, "library"),
    (PooledKind, "pool_sources"),
    (GeneratorResistance, "fit_resistance"),
    (Build, "build"),
    (Evaluation, "predict, what_if"),
    (Prediction, "the values of an Evaluation: .now, .built, .change.before, .change.after"),
    (Notebook, "notebook"),
    (Trial, "Notebook.trials, Notebook.trial"),
    (Comparison, "Notebook.compare"),
    (EffectsOfChanges, "Notebook.which_helped"),
    (AgentBook, "agents"),
    (AgentComparison, "Notebook.compare_agents"),
    (ConcreteBatch, "batch"),
    (PourPlan, "pour_plan"),
    (Saved, "record_pour, add_cubes and the other functions that write a record"),
    (Report, "make_report, make_card, make_pours_report"),
    (RecordingCheck, "verify"),
    (Session, "connect"),
)
HEAD = """# The API: `import frothline as fl`

This page is generated; `python -m frothline.api_page host/API.md` makes it. `recordings/tutorial.py` shows it at work.

Paths are `str` or `Path`. Values are SI. `calibration="auto"` takes `calibration.toml` in the folder of the recording.
Every result has a one-line repr, an HTML table in notebooks and `.table()`, a DataFrame with the SI unit of each column
in `attrs["units"]`; where a picture helps it has `.plot()`, a Plotly figure. Errors derive from
`fl.errors.FrothlineError` and have the parts `what`, `where` and `remedy`.
"""


def page() -> str:
    """The page as Markdown."""
    names = [(name, getattr(frothline, name)) for name in frothline.__all__]
    functions = [(name, one) for name, one in names if inspect.isfunction(one)]
    modules = [(name, one) for name, one in names if isinstance(one, ModuleType)]
    parts = [HEAD, "## Functions\n"]
    parts += [_function(f"fl.{name}", one) for name, one in functions]
    parts += ["## fl.Estimate\n", _class(Estimate)]
    parts.append("## Results\n")
    for kind, source in RESULTS:
        parts += [f"### {kind.__name__}\n\nFrom `{source}`.\n", _class(kind)]
    parts.append("## Modules\n")
    for name, module in modules:
        parts += [f"### fl.{name}\n", _code(_doc(module))]
        parts += [_function(f"fl.{name}.{key}", one) for key, one in _own_functions(module)]
    return "\n".join(part.rstrip() + "\n" for part in parts)


def _class(kind: type) -> str:
    members = []
    for name, member in _public(kind):
        head = f": {_returned(member.fget)}" if isinstance(member, property) else _signature(member)
        members.append(f".{name}{head}\n{_indented(_doc(member))}".rstrip())
    return _code("\n\n".join([_doc(kind), *members]))


def _public(kind: type) -> Iterator[tuple[str, Any]]:
    """Properties and methods defined by the class or by a base of its own package, by name."""
    found: dict[str, Any] = {}
    for base in reversed(kind.__mro__):
        if base.__module__.startswith("frothline"):
            found |= {name: member for name, member in vars(base).items() if not name.startswith("_")}
    for name, member in sorted(found.items()):
        plain = getattr(member, "__func__", member)
        if isinstance(plain, property) or inspect.isfunction(plain):
            yield name, plain
        elif hasattr(member, "func"):  # a cached property
            yield name, property(member.func)


def _own_functions(module: ModuleType) -> list[tuple[str, Any]]:
    return [
        (name, one)
        for name, one in vars(module).items()
        if inspect.isfunction(one) and one.__module__ == module.__name__ and not name.startswith("_")
    ]


def _function(name: str, function: Any) -> str:
    return f"### {name}\n\n{_code(f'{name}{_signature(function)}', _doc(function))}"


def _signature(function: Any) -> str:
    """As in the source, one parameter a line if it is long; without ``self`` and ``cls``."""
    parameters = [one for one in inspect.signature(function).parameters.values() if one.name not in ("self", "cls")]
    listed = [_parameter(one) for one in parameters]
    star = next((n for n, one in enumerate(parameters) if one.kind is one.KEYWORD_ONLY), None)
    if star is not None and not any(one.kind is one.VAR_POSITIONAL for one in parameters):
        listed.insert(star, "*")
    short = f"({', '.join(listed)}) -> {_returned(function)}"
    if len(short) <= 88:
        return short
    return "(\n" + "".join(f"    {one},\n" for one in listed) + f") -> {_returned(function)}"


def _parameter(one: inspect.Parameter) -> str:
    stars = "*" if one.kind is one.VAR_POSITIONAL else "**" if one.kind is one.VAR_KEYWORD else ""
    default = one.default
    shown = "" if default is one.empty else f' = "{default}"' if isinstance(default, str) else f" = {default!r}"
    return f"{stars}{one.name}: {one.annotation}{shown}"


def _returned(function: Any) -> str:
    return str(inspect.signature(function).return_annotation)


def _doc(thing: Any) -> str:
    return inspect.getdoc(thing) or ""


def _indented(text: str) -> str:
    return "\n".join(f"    {line}".rstrip() for line in dedent(text).splitlines())


def _code(*parts: str) -> str:
    text = "\n\n".join(part for part in parts if part)
    return f"```text\n{text}\n```\n"


def main(arguments: list[str]) -> int:
    """Write the page to the given file, or print it."""
    if arguments:
        Path(arguments[0]).write_text(page(), encoding="utf-8", newline="\n")
    else:
        print(page(), end="")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
