"""A formula is either used by a page or a command, or it is offered to notebooks on purpose and listed as such."""

import ast
import inspect
import re
from collections import defaultdict
from pathlib import Path

import frothline.physics

PACKAGE = Path(frothline.physics.__file__).parents[1]
SCRIPTS = [Path(__file__).parents[2] / folder for folder in ("hardware", "recordings")]
FOLDER = PACKAGE / "physics"
STEMS = {path.stem for path in FOLDER.glob("*.py")}


def uses(path):
    """(name, function it is used in) of every formula that one module reads: ``air.density``, or a name it imports.

    A name alone is not enough: fields of results are called ``mass_flow`` and ``free_air_flow`` too.
    """
    tree = ast.parse(path.read_text("utf-8"))
    imported = {
        alias.asname or alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("frothline.physics")
        for alias in node.names
    }

    def walk(node, inside):
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.Attribute) and isinstance(child.value, ast.Name) and child.value.id in STEMS:
                yield child.attr, inside
            elif isinstance(child, ast.Name) and child.id in imported:
                yield child.id, inside
            elif path.parent == FOLDER and isinstance(child, ast.Call) and isinstance(child.func, ast.Name):
                yield child.func.id, inside
            yield from walk(child, inside)

    for node in tree.body:
        yield from walk(node, node.name if isinstance(node, ast.FunctionDef) else "")


def unused():
    """Public functions of physics that no page, command or script reaches, by name."""
    functions = {
        node.name
        for path in FOLDER.glob("*.py")
        for node in ast.parse(path.read_text("utf-8")).body
        if isinstance(node, ast.FunctionDef)
    }
    callers = defaultdict(set)
    reached = set()
    for path in (path for folder in (PACKAGE, *SCRIPTS) for path in folder.rglob("*.py")):
        own = path.parent == FOLDER
        for name, inside in uses(path):
            if name in functions and name != inside:
                if own and inside:
                    callers[name].add(inside)
                else:
                    reached.add(name)
    while more := {name for name, by in callers.items() if by & reached} - reached:
        reached |= more
    return {name for name in functions - reached if not name.startswith("_")}


def test_every_formula_is_used_or_listed_as_a_library_function():
    listed = set(re.findall(r"^``(\w+)`` ", inspect.getdoc(frothline.physics), re.MULTILINE))
    assert unused() == listed
