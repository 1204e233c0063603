"""The files around the package: they agree with each other, and the package works from a wheel and an sdist."""

import re
import subprocess
import sys
import tarfile
import tomllib
import zipfile
from pathlib import Path

import pytest

import frothline

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


def test_one_version_is_in_every_file():
    assert frothline.__version__ == PROJECT["version"]
    citation = (ROOT / "CITATION.cff").read_text("utf-8")
    assert f"version: {PROJECT['version']}\n" in citation
    newest = re.search(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE)[1]
    assert newest == PROJECT["version"]


def test_the_citation_has_what_the_format_needs():
    """Citation File Format 1.2.0, required keys: cff-version, message, title, authors."""
    text = (ROOT / "CITATION.cff").read_text("utf-8")
    for key in ("cff-version: 1.2.0", "message:", "title:", "authors:", "license: MIT"):
        assert key in text


def test_contributors_are_sent_to_the_guide_and_the_test_command():
    text = (ROOT / "CONTRIBUTING.md").read_text("utf-8")
    assert "DEVELOPERS.md" in text
    assert "sh tests/run" in text


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """A wheel and an sdist, built as an installer would."""
    folder = tmp_path_factory.mktemp("built")
    command = [sys.executable, "-m", "build", "--outdir", folder, ROOT]
    made = subprocess.run(command, capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stdout[-2000:] + made.stderr[-2000:]
    return folder


@pytest.mark.exhaustive
def test_the_wheel_works_outside_the_checkout(built, tmp_path):
    """Its data files are with it: the demo's pages, the image of the firmware, the spool."""
    (wheel,) = built.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        archive.extractall(tmp_path / "site")
    for part in ("web/assets/base.css", "rig/image/frothline.hex", "sensors/spool.toml", "report/paper.css"):
        assert f"frothline/{part}" in names
    assert not [name for name in names if name.startswith(("tests", "recordings"))]
    environment = {"PATH": "/usr/bin:/bin", "PYTHONPATH": str(tmp_path / "site"), "HOME": str(tmp_path)}
    where = [sys.executable, "-c", "import frothline; print(frothline.__file__)"]
    said = subprocess.run(where, capture_output=True, text=True, check=True, env=environment, cwd=tmp_path)
    assert said.stdout.startswith(str(tmp_path / "site"))
    run = [sys.executable, "-m", "frothline", "batch", "--density", "600", "--volume", "120 L", "--foam-density", "70"]
    said = subprocess.run(run, capture_output=True, text=True, check=True, env=environment, cwd=tmp_path)
    assert "Expected cast density" in said.stdout
    table = [
        sys.executable,
        "-m",
        "frothline",
        "record",
        "--port",
        "modelled://run?speed=100",
        "--seconds",
        "5",
        "--folder",
        ".",
    ]
    said = subprocess.run(table, capture_output=True, text=True, check=False, env=environment, cwd=tmp_path)
    assert said.returncode == 0, said.stderr
    assert list(tmp_path.glob("*.froth"))


@pytest.mark.exhaustive
def test_the_sdist_has_what_the_wheel_is_made_of(built):
    (source,) = built.glob("*.tar.gz")
    with tarfile.open(source) as archive:
        names = {name.split("/", 1)[1] for name in archive.getnames() if "/" in name}
    assert {"pyproject.toml", "README.md", "LICENSE", "host/frothline/web/assets/base.css"} <= names
