"""One command makes the folder of a release: everything a builder needs, with checksums that hold."""

import hashlib
import os
import re
import subprocess
from pathlib import Path

import numpy as np
import printed
import pytest

from frothline.sensors.spool import Spool

ROOT = Path(__file__).parents[2]
HARDWARE = ROOT / "hardware"
drawing = printed.script("plates_drawing")
release = printed.script("release", HARDWARE)


def make(folder, *more):
    """make release with coarse circles and two plates."""
    import sys

    call = [
        "make",
        "--silent",
        "-C",
        str(HARDWARE),
        "release",
        f"DIR={folder}",
        f"PYTHON={sys.executable}",
        "FACETS=12",
    ]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "host")}
    return subprocess.run([*call, "HOLES=0 20", *more], capture_output=True, text=True, env=environment, check=False)


@pytest.fixture(scope="session")
def made(tmp_path_factory):
    folder = tmp_path_factory.mktemp("release") / "rig"
    said = make(folder)
    assert said.returncode == 0, said.stderr
    return folder


@pytest.mark.slow
@pytest.mark.exhaustive
def test_a_release_has_parts_plates_wiring_list_image_and_guide(made):
    names = {path.relative_to(made).as_posix() for path in made.rglob("*") if path.is_file()}
    for part in printed.render.PARTS:
        assert part == "plate" or f"stl/{part}.stl" in names
    assert {
        "stl/plate-blind.stl",
        "stl/plate-20.stl",
        "plates.svg",
        "spool.toml",
        "README.txt",
        "firmware/frothline.hex",
        "hardware/wiring/wiring.svg",
        "hardware/parts/parts.csv",
        "hardware/guide/README.md",
    } <= names


@pytest.mark.slow
@pytest.mark.exhaustive
def test_every_file_of_a_release_has_its_sum_and_every_sum_holds(made):
    """The form of GNU sha256sum: 64 hexadecimal digits, two blanks, the name."""
    listed = dict(
        reversed(re.fullmatch(r"([0-9a-f]{64})  (.+)", line).groups())
        for line in (made / "SHA256SUMS").read_text("utf-8").splitlines()
    )
    files = {path.relative_to(made).as_posix() for path in made.rglob("*") if path.is_file()} - {"SHA256SUMS"}
    assert set(listed) == files
    for name, digest in listed.items():
        assert hashlib.sha256((made / name).read_bytes()).hexdigest() == digest


@pytest.mark.slow
@pytest.mark.exhaustive
def test_every_picture_and_page_that_a_page_of_the_release_needs_is_in_it(made):
    """Links to pages outside the hardware folder lead to the repository; pictures are never outside."""
    for page in (made / "hardware").rglob("*.md"):
        text = page.read_text("utf-8")
        for mark, target in re.findall(r"(!?)\[[^\]]*\]\(([^)#:\s]+)\)", text):
            inside = (page.parent / target).resolve()
            if mark or made.resolve() in inside.parents:
                assert inside.exists(), f"{page.relative_to(made)} needs {target}"


@pytest.mark.slow
@pytest.mark.exhaustive
def test_the_image_of_a_release_is_the_one_that_flash_writes(made):
    shipped = ROOT / "host/frothline/rig/image/frothline.hex"
    assert (made / "firmware/frothline.hex").read_bytes() == shipped.read_bytes()


def test_a_folder_that_holds_something_is_refused_and_left_alone(tmp_path):
    (tmp_path / "mine.txt").write_text("keep", "utf-8")
    said = make(tmp_path)
    assert said.returncode != 0
    assert "not empty" in said.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_spool_file_that_cannot_be_read_is_named_and_nothing_is_written(tmp_path):
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("[pipe]\nbore = 'thick'\n", "utf-8")
    target = tmp_path / "rig"
    assert release.main([str(target), "--spool", str(wrong)]) == 2
    assert not target.exists()


def circles(text):
    return [tuple(map(float, found)) for found in re.findall(r'cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"', text)]


def test_the_plates_are_drawn_full_size():
    """An SVG whose viewBox and size in mm agree prints full size; the radius of each hole is half its diameter."""
    spool = Spool.default()
    text = drawing.drawing(spool, [*drawing.listed_holes(), 0.0])
    width, box = re.search(r'width="([\d.]+)mm".*?viewBox="0 0 ([\d.]+) ', text).groups()
    assert float(width) == float(box) == 210.0
    radii = [r for *_, r in circles(text)]
    for hole in drawing.listed_holes():
        assert hole / 2 in radii
    assert {80 / 2, 64 / 2, 63 / 2} <= set(radii)
    assert "100 mm: measure this line" in text


def test_the_screws_of_the_drawing_are_those_of_the_printed_flange():
    """Centres on paper against the holes in the mesh."""
    s = printed.sizes.sizes(Spool.default())
    text = drawing.drawing(Spool.default(), [20.0])
    small = np.array([(x, y) for x, y, r in circles(text) if r == s["screw"] / 2 + 0.25])
    assert len(small) == 4
    across = np.ptp(small, axis=0)
    flange = printed.mesh("plate_holder")
    for x, y in ((-1, -1), (-1, 1), (1, -1), (1, 1)):
        centre = [[x * across[0] / 2, y * across[1] / 2, -1.0]]
        assert not flange.ray.intersects_any(centre, [[0.0, 0.0, 1.0]])[0]


@pytest.mark.parametrize(("file", "least"), [("small-bore.toml", 3.0), ("leaf-blower.toml", 16.0)])
def test_the_plates_of_another_bore_keep_their_shares_of_it(file, least):
    """9.5 of 63 mm is 0.15 of the bore: 3 mm of 20, 16 mm of 103.6. None is above 0.8 of the bore."""
    spool = Spool.load(printed.SPOOL / "files" / file)
    holes = drawing.listed_holes(spool)
    assert holes[0] == least
    assert holes[-1] <= 0.8 * spool.pipe.bore * 1e3
    assert len(holes) >= 9


def test_the_drawing_of_a_large_spool_stays_on_its_sheet():
    spool = Spool.load(printed.SPOOL / "files/leaf-blower.toml")
    text = drawing.drawing(spool, [60.0])
    width, height = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', text).groups())
    for x, y, r in circles(text):
        assert r < x < width - r
        assert r < y < height - r
