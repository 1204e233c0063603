"""Mutation test: small faults are put into a package, and its everyday tests must fail.

Needs `pip install cosmic-ray` (the extra `mutation`). Example:

    python tests/performance/mutation.py physics --mutants 30 --seed 1

A place in the code is drawn at random, then one of the changes that cosmic-ray makes there: another operator, another
comparison, a number one more or one less, a condition turned round, a loop that never runs, another exception. Not
drawn are annotations, decorators, texts (f-strings, raised errors, ``__repr__`` and ``__str__``) and operators for
integers that a float refuses at once. Each change is applied in a copy of the tree, never in the tree itself. With
``--seconds`` the run ends early; the order is random, so what was tried up to then is still a random sample.
"""

from __future__ import annotations

import argparse
import contextlib
import importlib
import multiprocessing
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import pytest
from scipy.stats import binomtest

TREE = Path(__file__).parents[2]
HOST = "host/frothline"
EVERYDAY = "not benchmark and not soak and not hardware"
PACKAGES = {  # name: files of the code, files of the tests (the quick ones first: the first failure ends a trial)
    "physics": ([f"{HOST}/physics/*.py"], ["tests/physics", "tests/reference"]),
    "batch": (
        [f"{HOST}/foam/{name}.py" for name in ("concrete_batch", "batch_order", "dosing", "survival", "batch_check")],
        ["tests/foam/test_batch.py", "tests/foam/test_batch_dosing.py"],
    ),
    "planner": (
        [f"{HOST}/trials/experiment_design.py"],
        ["tests/trials/test_plan.py", "tests/trials/test_trial_plan.py"],
    ),
    "watch": ([f"{HOST}/run/watch/*.py"], ["tests/foam_run/test_watch_*.py", "tests/foam_run/test_run_output.py"]),
    "curve": ([f"{HOST}/curve/*.py"], ["tests/curve"]),
}
NO_RULES = ("references.py",)  # a list of texts
LIBRARIES = (
    "numpy",
    "scipy.optimize",
    "scipy.signal",
    "scipy.special",
    "scipy.stats",
    "pandas",
    "tomlkit",
    "CoolProp.CoolProp",
    "fluids",
    "uncertainties",
    "PIL.Image",
)
KILLED, SURVIVED, TIMED_OUT = "killed", "survived", "timed out"
BITWISE = ("RShift", "LShift", "BitOr", "BitAnd", "BitXor", "Invert", "UAdd")
LEFT_OUT = ("RemoveDecorator", "VariableReplacer", "VariableInserter")


@dataclass(frozen=True)
class Mutant:
    """One change at one place: ``line`` counts from 1."""

    file: str
    line: int
    operator: str
    occurrence: int


def wanted(operator: str) -> bool:
    """Whether a change says something about the tests: not where running the line alone shows the fault."""
    if operator.endswith(LEFT_OUT):
        return False
    if "ComparisonOperator" in operator:
        old, new = operator.split("_")[-2:]
        return old.startswith("Is") == new.startswith("Is")
    return not operator.endswith(BITWISE)


def is_text(node) -> bool:
    """Whether a node of the syntax tree belongs to an annotation, a decorator or a text."""
    if node.type == "if_stmt" and node.children[1].get_code().strip() == "TYPE_CHECKING":
        return True
    while node.parent is not None:
        parent, index = node.parent, node.parent.children.index(node)
        before = parent.children[index - 1] if index else None
        if parent.type in ("fstring", "fstring_expr", "raise_stmt", "decorator", "import_from"):
            return True
        if parent.type == "tfpdef" or (parent.type == "annassign" and index == 1):
            return True
        if parent.type == "funcdef" and before is not None and before.get_code().strip() == "->":
            return True
        if parent.type == "funcdef" and parent.name.value in ("__repr__", "__str__"):
            return True
        node = parent
    return False


def mutants_of(path: Path, name: str) -> dict[int, list[Mutant]]:
    """All changes of one file by their place in it."""
    from cosmic_ray.ast import ast_nodes, get_ast_from_path
    from cosmic_ray.plugins import get_operator, operator_names

    nodes = [(node, is_text(node)) for node in ast_nodes(get_ast_from_path(path))]
    places: dict[int, list[Mutant]] = defaultdict(list)
    for operator in filter(wanted, operator_names()):
        change, occurrence = get_operator(operator)(), 0
        for node, text in nodes:
            for start, _ in change.mutation_positions(node):
                if not text:
                    places[start].append(Mutant(name, start[0], operator, occurrence))
                occurrence += 1
    return places


def draw(tree: Path, patterns: list[str], seed: int) -> tuple[list[Mutant], int]:
    """(one change of every place, in random order; number of places)."""
    chance = random.Random(seed)
    files = sorted({path for pattern in patterns for path in tree.glob(pattern) if path.name not in NO_RULES})
    names = [path.relative_to(tree).as_posix() for path in files]
    places = [
        group for path, name in zip(files, names, strict=True) for _, group in sorted(mutants_of(path, name).items())
    ]
    drawn = [chance.choice(group) for group in places]
    chance.shuffle(drawn)
    return drawn, len(places)


def mutated(source: str, mutant: Mutant) -> str | None:
    """The changed source, or None where the change is no Python or changes nothing."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    new = mutate_code(source, get_operator(mutant.operator)(), mutant.occurrence)
    if new is None or new == source:
        return None
    try:
        compile(new, mutant.file, "exec")
    except SyntaxError:
        return None
    return new


def changed_line(old: str, new: str) -> str:
    """The first line that differs, before and after."""
    for before, after in zip(old.splitlines(), new.splitlines(), strict=False):
        if before != after:
            return f"`{before.strip()}` → `{after.strip()}`"
    return "lines removed"


def load_libraries() -> None:
    """Import what the tests import from outside the project, once: every trial is a fork of this process."""
    for name in LIBRARIES:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)


def outcome_of(tree: Path, tests: list[str], timeout: float) -> str:
    """What the tests say of a tree: ``killed``, ``survived`` or ``timed out``."""
    files = [file.relative_to(tree).as_posix() for test in tests for file in sorted(tree.glob(test))]
    trial = multiprocessing.get_context("fork").Process(target=_run_tests, args=(tree, files))
    trial.start()
    trial.join(timeout)
    if trial.is_alive():
        os.killpg(trial.pid, signal.SIGKILL)
        trial.join()
        return TIMED_OUT
    return SURVIVED if trial.exitcode == 0 else KILLED


def _run_tests(tree: Path, files: list[str]) -> None:
    os.setsid()  # what the tests start ends with them
    os.chdir(tree)
    os.environ["PYTHONPATH"] = str(tree / "host")
    sys.path.insert(0, str(tree / "host"))
    nothing = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 1)
    os.dup2(nothing, 2)
    os._exit(int(pytest.main(["-x", "-q", "-p", "no:cacheprovider", "-m", EVERYDAY, *files])))


def copy_of_the_tree(to: Path) -> None:
    """Copy every file that git knows of, as it is in the tree now."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=TREE, capture_output=True, check=True).stdout.decode()
    for name in filter(None, listed.split("\0")):
        if (TREE / name).is_file():
            (to / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(TREE / name, to / name)
    # compiled files that are checked by their content: a change within the same second is never missed
    compiled = ["compileall", "-q", "--invalidation-mode", "checked-hash", "host"]
    subprocess.run([sys.executable, "-m", *compiled], cwd=to, check=True)


def run(package: str, wanted_mutants: int, seed: int, seconds: float) -> int:
    code, tests = PACKAGES[package]
    begin = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder)
        copy_of_the_tree(tree)
        load_libraries()
        drawn, places = draw(tree, code, seed)
        started = time.monotonic()
        if outcome_of(tree, tests, 3600.0) != SURVIVED:
            print(f"{package}: the tests fail without any change; fix them first: {' '.join(tests)}")
            return 1
        usual = time.monotonic() - started
        print(f"{package}: {places} places, tests take {usual:.0f} s, seed {seed}", flush=True)
        counts = dict.fromkeys((KILLED, SURVIVED, TIMED_OUT), 0)
        for mutant in drawn:
            if sum(counts.values()) >= wanted_mutants or time.monotonic() - begin > seconds:
                break
            path = tree / mutant.file
            source = path.read_text(encoding="utf-8")
            new = mutated(source, mutant)
            if new is None:
                continue
            path.write_text(new, encoding="utf-8")
            outcome = outcome_of(tree, tests, 5.0 * usual + 10.0)
            path.write_text(source, encoding="utf-8")
            counts[outcome] += 1
            if outcome != KILLED:
                print(f"  {outcome}: {mutant.file}:{mutant.line} {changed_line(source, new)}", flush=True)
    total, found = sum(counts.values()), counts[KILLED] + counts[TIMED_OUT]
    if total:
        low, high = binomtest(found, total).proportion_ci(0.95, method="wilson")
        share = f"{100 * found / total:.0f} % found (95 % interval {100 * low:.0f} to {100 * high:.0f} %)"
        print(f"{package}: {total} mutants, " + ", ".join(f"{n} {word}" for word, n in counts.items()) + f"; {share}")
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("package", choices=PACKAGES)
    parser.add_argument("--mutants", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--seconds", type=float, default=float("inf"), help="no new mutant after this time")
    chosen = parser.parse_args()
    try:
        import cosmic_ray  # noqa: F401
    except ImportError:
        print("cosmic-ray is not installed, needed for mutation tests: pip install cosmic-ray")
        return 2
    return run(chosen.package, chosen.mutants, chosen.seed, chosen.seconds)


if __name__ == "__main__":
    sys.exit(main())
