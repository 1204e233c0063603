"""The rules of the package's structure that a program can check: floors, circles, names and lengths."""

import ast
import subprocess
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "host" / "frothline"
TESTS = Path(__file__).parent

# Ground first. A floor imports only floors of a lower number, and itself.
FLOORS = {
    "errors": 0,
    "units": 0,
    "sentence_units": 1,
    "label_case": 1,
    "rounding": 0,
    "interval_sum": 0,
    "toml_text": 0,
    "preferences": 1,
    "atomic_file": 1,
    "estimate": 1,
    "quantities": 1,
    "typed_table": 2,
    "physics": 1,
    "wire": 1,
    "formatting": 2,
    "numerics": 2,
    "photo_file": 1,
    "presentable": 3,
    "sensors": 3,
    "rig": 3,
    "recording": 3,
    "curve": 3,
    "simulation": 3,
    "bubble_size": 4,
    "foam": 4,
    "pours": 5,
    "readings": 5,
    "generator": 5,
    "sweep": 6,
    "run": 6,
    "source_library": 7,
    "trials": 7,
    "bench": 8,
    "report": 8,
    "web": 9,
    "api": 9,
    "api_concrete": 9,
    "api_foam": 9,
    "api_records": 9,
    "api_trials": 9,
    "cli": 10,
    "api_page": 10,
}
# Beside the floors: what these may import of the package, and nothing else.
NARROWER = {
    "wire": {"errors", "wire"},
    "physics": {"errors", "units", "physics"},
    "numerics": {"errors", "units", "estimate", "numerics"},
    "recording": {"errors", "rounding", "toml_text", "atomic_file", "wire", "recording"},
    "sensors": {"errors", "units", "estimate", "toml_text", "atomic_file", "numerics", "physics", "wire", "sensors"},
    "rig": {"errors", "units", "estimate", "wire", "rig"},
    "simulation": {"errors", "units", "physics", "wire", "simulation"},
    "curve": {"errors", "units", "estimate", "numerics", "physics", "curve"},
    "foam": {
        "errors",
        "units",
        "estimate",
        "formatting",
        "rounding",
        "toml_text",
        "atomic_file",
        "presentable",
        "quantities",
        "numerics",
        "physics",
        "foam",
    },
    "bubble_size": {
        "errors",
        "units",
        "toml_text",
        "quantities",
        "atomic_file",
        "photo_file",
        "estimate",
        "formatting",
        "presentable",
        "numerics",
        "bubble_size",
    },
    "pours": {
        "errors",
        "units",
        "rounding",
        "toml_text",
        "atomic_file",
        "estimate",
        "quantities",
        "formatting",
        "presentable",
        "numerics",
        "physics",
        "foam",
        "pours",
    },
    # a report never needs a live session
    "report": set(FLOORS)
    - {
        "rig",
        "simulation",
        "bench",
        "web",
        "cli",
        "api",
        "api_concrete",
        "api_foam",
        "api_records",
        "api_trials",
        "api_page",
    },
    # charts are pure pieces of a page
    "web/charts": {"errors", "units", "estimate", "label_case", "formatting", "numerics", "curve", "web/charts"},
}
LONGEST = 400  # lines of a file
# Files above it, each with its reason.
LONGER = {
    "bench/session.py": "the one interface of pages and prompt to a rig; each method hands on to the part that does it",
    "physics/air.py": "one formula set: moist air, as the published equation gives it",
    "recording/writer.py": "one class, one lock: every step from a frame to the disk",
    "rig/link.py": "one class, one thread: the life of a link",
}


def modules():
    return sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))


def dotted(name):
    parts = ["frothline", *Path(name).with_suffix("").parts]
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {dotted(name): name for name in modules()}


def imports_of(name):
    """Modules of the package that one module imports, also inside functions and for types only."""
    tree = ast.parse((PACKAGE / name).read_text("utf-8"))
    package = ["frothline", *Path(name).parts[:-1]]
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name in MODULES}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            for alias in node.names:
                found |= {one for one in (f"{stem}.{alias.name}",) if one in MODULES} or ({stem} & set(MODULES))
    return found - {"frothline"}


@cache
def imports():
    """Modules of the package that each module imports, by dotted name."""
    return {name: imports_of(file) for name, file in MODULES.items()}


def floor_of(name):
    return Path(name).parts[0].removesuffix(".py")


def floors_imported(name):
    return {floor_of(MODULES[other]) for other in imports()[dotted(name)]} & set(FLOORS)


def test_every_module_stands_on_a_named_floor():
    assert {floor_of(name) for name in modules()} <= {*FLOORS, "__init__", "__main__"}


@pytest.mark.parametrize("floor", FLOORS)
def test_a_floor_imports_only_what_lies_below_it(floor):
    for name in [name for name in modules() if floor_of(name) == floor]:
        upward = {other for other in floors_imported(name) if other != floor and FLOORS[other] >= FLOORS[floor]}
        assert not upward, f"{name} imports upward: {sorted(upward)}"


@pytest.mark.parametrize("prefix", NARROWER)
def test_the_narrower_import_rules_hold(prefix):
    allowed = NARROWER[prefix]
    for name in [name for name in modules() if name.startswith(prefix + "/")]:
        for other in imports()[dotted(name)]:
            file = MODULES[other]
            inside = floor_of(file) in allowed or any("/" in one and file.startswith(one + "/") for one in allowed)
            assert inside, f"{name} may not import {other}"


def circles(graph):
    """Groups of modules that import each other, directly or through others (Tarjan's strongly connected components)."""
    number, low, stack, found = {}, {}, [], []

    def visit(node):
        number[node] = low[node] = len(number)
        stack.append(node)
        for other in graph[node]:
            if other not in number:
                visit(other)
                low[node] = min(low[node], low[other])
            elif other in stack:
                low[node] = min(low[node], number[other])
        if low[node] == number[node]:
            group = []
            while not group or group[-1] != node:
                group.append(stack.pop())
            if len(group) > 1:
                found.append(sorted(group))

    for node in graph:
        if node not in number:
            visit(node)
    return found


def test_a_circle_is_found():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}}) == [["a", "b", "c"]]


def test_no_modules_import_each_other_in_a_circle():
    assert circles(imports()) == []


def test_no_class_name_is_defined_twice():
    """pyserial finds a URL handler by the class name Serial, so each handler module needs one of that name."""
    places = defaultdict(list)
    for name in modules():
        for node in ast.walk(ast.parse((PACKAGE / name).read_text("utf-8"))):
            if isinstance(node, ast.ClassDef):
                places[node.name].append(name)
    twice = {name: files for name, files in places.items() if len(files) > 1}
    assert set(twice) <= {"Serial"}, twice
    assert all("/url_handlers/" in file for file in twice.get("Serial", ()))


def test_no_file_is_longer_than_it_should_be_without_a_reason():
    long = {name for name in modules() if len((PACKAGE / name).read_text("utf-8").splitlines()) > LONGEST}
    assert long == set(LONGER)


def test_the_folders_of_tests_mirror_the_packages():
    """``tests/run`` is the test command, so the tests of the package ``run`` are in ``tests/foam_run``."""
    named = {"foam_run": "run"}
    packages = {path.name for path in PACKAGE.iterdir() if (path / "__init__.py").exists()}
    # what belongs to no package: the firmware and its parts, published values, what takes minutes, shared pieces
    apart = {"firmware", "hardware", "reference", "performance", "support", "formats", "golden"}
    folders = {path.name for path in TESTS.iterdir() if path.is_dir() and any(path.glob("*.*"))} - {"__pycache__"}
    assert {named.get(name, name) for name in folders - apart} <= packages


def test_estimation_does_not_name_the_physical_model():
    """Else a test on a simulated rig would compare a mistake with itself."""
    for name in modules():
        if floor_of(name) in {"sensors", "curve", "numerics"}:
            assert "frothline.simulation" not in (PACKAGE / name).read_text("utf-8"), name


@pytest.mark.parametrize("floor", ["physics", "rig", "wire"])
def test_each_floor_names_what_it_offers(floor):
    tree = ast.parse((PACKAGE / floor / "__init__.py").read_text("utf-8"))
    offered = [
        ast.literal_eval(node.value)
        for node in tree.body
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id == "__all__"
    ]
    assert offered, f"{floor}/__init__.py has no __all__"
    # constants, then classes, then functions, as ruff (RUF022) wants it
    in_order = sorted(offered[0], key=lambda name: (not name.isupper(), not name[0].isupper(), name))
    assert offered[0] == in_order, f"{floor}.__all__ is not in order"


def test_a_session_opens_its_port_before_heavy_libraries_are_loaded():
    """pandas and scipy take seconds on a slow machine; the first bytes of a board must not wait for them."""
    code = (
        "import sys\n"
        "from frothline.bench.session import Session\n"
        "Session('modelled://steady')\n"
        "heavy = {'pandas', 'scipy.special', 'scipy.optimize', 'scipy.stats', 'plotly', 'dash'}\n"
        "print(*sorted(heavy & set(sys.modules)))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == ""
