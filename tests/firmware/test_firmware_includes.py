"""Which file of the firmware and of the emulator may include which: from the top down, and never in a circle."""

import re
from graphlib import CycleError, TopologicalSorter

import pytest
from firmware_probe import FIRMWARE

# What a folder may include, besides itself.
ALLOWED = {
    "core": set(),
    "drivers": {"core"},
    "rig": {"core", "drivers"},
    "boards": {"core"},
    "native": {"core", "drivers", "rig"},
    "emulator": set(),
    "main": {"core", "rig"},
}
PORTABLE_OR_EMULATOR = ("core", "drivers", "rig", "emulator")


def sources():
    inside = [path for folder in ALLOWED for path in (FIRMWARE / folder).rglob("*.[chS]")]
    return sorted([*inside, *FIRMWARE.glob("*.[ch]")])


def included(path):
    """The files of the project that one file includes; a name is looked for beside the file, then from firmware/."""
    found = []
    for name in re.findall(r'^\s*#\s*include\s+"([^"]+)"', path.read_text(), re.MULTILINE):
        here = [place for place in (path.parent / name, FIRMWARE / name) if place.exists()]
        assert here, f"{path.relative_to(FIRMWARE)} includes {name}, which is not there"
        found.append(here[0].resolve())
    return found


def unit(path):
    """x.c and x.h are one unit."""
    return path.resolve().relative_to(FIRMWARE.resolve()).with_suffix("").as_posix()


def folder(path):
    return unit(path).split("/")[0]


def circle(graph):
    """The units of one circle, in order; empty when there is none."""
    try:
        tuple(TopologicalSorter(graph).static_order())
    except CycleError as error:
        return error.args[1]
    return []


def test_no_file_includes_another_in_a_circle():
    graph = {}
    for path in sources():
        graph.setdefault(unit(path), set()).update({unit(other) for other in included(path)} - {unit(path)})
    assert len(graph) > 30
    assert not circle(graph), " -> ".join(circle(graph))


def test_a_circle_of_three_files_is_found():
    assert set(circle({"a": {"b"}, "b": {"c"}, "c": {"a"}, "d": {"a"}})) == {"a", "b", "c"}


@pytest.mark.parametrize("path", sources(), ids=lambda path: path.relative_to(FIRMWARE).as_posix())
def test_a_folder_includes_only_folders_below_it(path):
    upward = {folder(other) for other in included(path)} - {folder(path)} - ALLOWED[folder(path)]
    assert not upward, f"{path.name} includes files of {sorted(upward)}"


@pytest.mark.parametrize(
    "path",
    [path for path in sources() if path.suffix == ".c" and folder(path) in PORTABLE_OR_EMULATOR],
    ids=lambda path: path.relative_to(FIRMWARE).as_posix(),
)
def test_a_function_is_declared_in_the_header_of_its_own_file(path):
    """A function that another header declares would be a circle which the include lines do not show."""
    defined = set(re.findall(r"^(?!static\b)[a-z][\w \*]*?\b(\w+)\([^;{]*\)\n\{", path.read_text(), re.MULTILINE))
    header = path.with_suffix(".h").read_text()
    assert {name for name in defined if not re.search(rf"\b{name}\(", header)} == set()
