"""Every public function of physics says its formula, the unit of each argument, where it holds, and its source."""

import importlib
import inspect
import pkgutil
import re

import pytest

import frothline.physics
from frothline.physics.references import BIBLIOGRAPHY

UNITS = {
    "1", "m", "m²", "m³", "s", "kg", "kg/s", "m/s", "m/s²", "m³/s", "kg/m³", "K", "Pa", "Pa s", "W", "J", "N", "N/m",
    "J/(kg K)", "J/kg", "dB", "rad", "word",
}  # fmt: skip
MODULES = [
    importlib.import_module(f"frothline.physics.{found.name}")
    for found in pkgutil.iter_modules(frothline.physics.__path__)
    if found.name != "references"
]
FUNCTIONS = [
    pytest.param(function, id=f"{module.__name__.rsplit('.', 1)[1]}.{name}")
    for module in MODULES
    for name, function in inspect.getmembers(module, inspect.isfunction)
    if function.__module__ == module.__name__ and not name.startswith("_")
]


def test_there_is_something_to_check():
    assert len(FUNCTIONS) > 60


@pytest.mark.parametrize("function", FUNCTIONS)
def test_each_argument_has_its_unit(function):
    text = inspect.getdoc(function)
    for name in inspect.signature(function).parameters:
        found = re.search(rf"^{name} : (.+)$", text, re.MULTILINE)
        assert found, f"{name} is not described"
        unit = found.group(1).split(",")[0].strip().split(";")[0].strip()
        assert unit in UNITS, f"{name} has unit “{unit}”"


@pytest.mark.parametrize("function", FUNCTIONS)
def test_formula_result_range_and_source_are_told(function):
    text = inspect.getdoc(function)
    assert "Returns\n-------" in text
    assert re.search(r"^Validity: \S", text, re.MULTILINE)
    source = re.search(r"^Source: (.+)$", text, re.MULTILINE)
    assert source
    keys = re.findall(r"\[([a-z][a-z0-9.\-]*)\]", source.group(1))
    assert keys, "no key of the bibliography"
    assert set(keys) <= set(BIBLIOGRAPHY)


def test_every_entry_of_the_bibliography_is_used_and_whole():
    everything = "".join(inspect.getsource(module) for module in MODULES)
    for key, entry in BIBLIOGRAPHY.items():
        assert entry.key == key
        assert f"[{key}]" in everything, f"{key} is cited nowhere"
        assert entry.authors
        assert entry.title
        assert entry.where
        assert 1900 < entry.year <= 2026


def test_no_key_is_given_twice():
    source = inspect.getsource(importlib.import_module("frothline.physics.references"))
    keys = re.findall(r'Reference\(\s*"([a-z0-9.\-]+)"', source)
    assert len(keys) == len(set(keys)) == len(BIBLIOGRAPHY)
