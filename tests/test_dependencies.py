"""The lock file of the dependencies holds what pyproject.toml asks for, with the check of every file."""

import re
import tomllib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
LOCK = (ROOT / "host/requirements.lock").read_text()
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
LOCKED = re.findall(r"^([a-z0-9-]+)==([^\s;]+)", LOCK, re.MULTILINE)
EXTRAS = ("parquet", "uncertainties", "photo")  # those of users; test and dev are for developers


def wanted():
    extras = PROJECT["optional-dependencies"]
    return [Requirement(text) for text in [*PROJECT["dependencies"], *(one for name in EXTRAS for one in extras[name])]]


def test_every_dependency_is_locked_at_a_version_that_is_allowed():
    for one in wanted():
        versions = [number for name, number in LOCKED if name == canonicalize_name(one.name)]
        assert versions, f"{one.name} is not in host/requirements.lock"
        assert all(one.specifier.contains(number) for number in versions), one


def test_every_locked_package_has_its_checks():
    blocks = re.split(r"^(?=[a-z0-9-]+==)", LOCK, flags=re.MULTILINE)[1:]
    assert len(blocks) == len(LOCKED) > 40
    assert all("--hash=sha256:" in block for block in blocks)


def test_the_tests_run_with_locked_versions_or_newer_ones():
    """What is installed here is not older than the floor; a lock that nobody has run with would be worth nothing."""
    for one in wanted():
        try:
            assert one.specifier.contains(version(one.name)), one
        except PackageNotFoundError:
            assert one.name in {
                extra.split(">")[0] for name in EXTRAS for extra in PROJECT["optional-dependencies"][name]
            }
