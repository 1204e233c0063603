"""Printed parts as meshes, rendered once and cached by content."""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from functools import lru_cache
from pathlib import Path

import pytest

from frothline.sensors.spool import Spool

SPOOL = Path(__file__).parents[2] / "hardware" / "spool"
CACHE = SPOOL / "build" / "meshes"
COARSE = "-D$fn=48"  # facets of a circle: a chord is 0.2 % inside it


def script(name, folder=SPOOL):
    """A script of the hardware folder as a module."""
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.spec_from_file_location(name, folder / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # dataclasses look themselves up there
    spec.loader.exec_module(module)
    return module


sizes = script("sizes")
render = script("render")
measure = script("measure")


def rendered(call, text):
    """The STL of an openscad call. Cached under a hash of the call and of every drawing."""
    if not shutil.which("openscad"):
        pytest.fail("openscad is not installed; tests/run installs it")
    key = hashlib.sha256(repr((call, text)).encode()).hexdigest()[:24]
    made = CACHE / f"{key}.stl"
    if not made.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        part = CACHE / f"{key}.{os.getpid()}.stl"
        subprocess.run([*call, "-o", str(part)], check=True, capture_output=True)
        part.replace(made)
    return made


@lru_cache
def mesh(part, spool=None, hole=None):
    """One printed part as a trimesh, coarse circles."""
    trimesh = pytest.importorskip("trimesh")
    call = render.command(part, spool or Spool.default(), Path("out.stl"), COARSE, hole=hole)
    at = call.index("-o")
    call = [*call[:at], *call[at + 2 :]]
    text = [one.read_text("utf-8") for one in sorted(SPOOL.glob("*.scad"))]
    return trimesh.load(rendered(call, text))


def drawn(text, folder):
    """A mesh from OpenSCAD text written in a test."""
    trimesh = pytest.importorskip("trimesh")
    file = folder / "drawn.scad"
    file.write_text(text, "utf-8")
    return trimesh.load(rendered(["openscad", "-q", str(file)], text))
