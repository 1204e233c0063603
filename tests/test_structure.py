"""The house rules that a machine can check: which floor may stand on which, and that the shop windows tell the truth."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "host" / "frothline"

# Ground first. A floor imports only floors of a lower number, and itself.
FLOORS = {
    "errors": 0,
    "units": 0,
    "rounding": 0,
    "interval_sum": 0,
    "estimate": 1,
    "quantities": 0,
    "toml_text": 0,
    "formatting": 2,
    "physics": 1,
    "wire": 1,
    "sensors": 2,
    "rig": 2,
    "recording": 3,
    "curve": 4,
    "bench": 5,
    "screen": 6,
    "cli": 7,
}
# Beside the floors: what these may import of the package, and nothing else.
NARROWER = {
    "sensors": {"errors", "units", "estimate", "toml_text", "physics", "wire", "sensors"},
    "recording/log.py": {"errors", "wire", "recording"},
    "rig": {"errors", "units", "estimate", "wire", "rig"},
    "rig/simulated": {"errors", "units", "physics", "wire", "rig"},
    "wire": {"errors", "wire"},
    "physics": {"errors", "units", "physics"},
}


def modules():
    return sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))


def floors_imported(name):
    """Names of the floors that one module imports, also inside functions."""
    tree = ast.parse((PACKAGE / name).read_text("utf-8"))
    package = ["frothline", *Path(name).parts[:-1]]
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            targets = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            targets = [f"{stem}.{alias.name}" for alias in node.names]
        else:
            continue
        for target in targets:
            parts = target.split(".")
            if parts[0] == "frothline" and len(parts) > 1 and parts[1] in FLOORS:
                found.add(parts[1])
    return found


def floor_of(name):
    return Path(name).parts[0].removesuffix(".py")


def test_every_module_stands_on_a_named_floor():
    assert {floor_of(name) for name in modules()} <= {*FLOORS, "__init__", "__main__"}


@pytest.mark.parametrize("name", [n for n in modules() if floor_of(n) in FLOORS])
def test_a_floor_imports_only_what_lies_below_it(name):
    own = floor_of(name)
    upward = {other for other in floors_imported(name) if other != own and FLOORS[other] >= FLOORS[own]}
    assert not upward, f"{name} imports upward: {sorted(upward)}"


@pytest.mark.parametrize("name", modules())
def test_the_narrower_agreements_hold(name):
    for prefix, allowed in NARROWER.items():
        if name == prefix or name.startswith(prefix + "/"):
            beyond = floors_imported(name) - allowed
            if prefix == "rig" and name.startswith("rig/simulated"):
                continue
            assert not beyond, f"{name} may not import {sorted(beyond)}"


def test_the_physical_model_and_the_estimation_do_not_know_each_other():
    """Else a test on a simulated rig would compare a mistake with itself."""
    for name in modules():
        text = (PACKAGE / name).read_text("utf-8")
        if floor_of(name) in {"sensors", "curve"}:
            assert "rig.simulated" not in text, name


@pytest.mark.parametrize("floor", ["curve", "physics", "recording", "rig", "sensors", "wire"])
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
        "from frothline.bench import Session\n"
        "Session('modelled://steady')\n"
        "print(*sorted({'pandas', 'scipy', 'plotly', 'dash'} & set(sys.modules)))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == ""
