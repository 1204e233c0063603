"""Puts all that a builder needs into one folder: STL, plates drawing, wiring, parts list, firmware image, guide, checksums.

make -C hardware release DIR=/where/it/goes
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import sys
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from frothline.errors import FrothlineError
from frothline.sensors import spool as spool_module
from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
ROOT = HERE.parent
sys.path[:0] = [str(HERE / "spool"), str(HERE / "guide")]
import paper  # noqa: E402
import plates_drawing  # noqa: E402
import render  # noqa: E402

PAGES = (".md", ".html", ".svg", ".png", ".csv", ".toml", ".kicad_sch")  # of the hardware folder, with their places
IMAGES = ROOT / "host/frothline/rig/image"
SUMS = "SHA256SUMS"
READ_ME = """Frothline: what you need to build the rig

guide.html                 the whole guide in one file: open it in a browser, and print it
hardware/guide/README.md   the same, page by page: cautions first, then step by step
stl/                       parts to print, as they are printed; one file for each plate
plates.svg                 plates, gasket and flange, full size on paper
hardware/wiring/           wiring picture and table
hardware/parts/parts.csv   what to buy; estimated prices, check before you order
firmware/                  image for the board ("frothline flash" writes it) and its description
spool.toml                 the sizes that all of this is made from
SHA256SUMS                 check with: sha256sum -c SHA256SUMS

Blower air only in printed parts and plastic pipe: compressed air bursts them. Local codes come first.
"""


def release(target: Path, spool: Path | None, holes: list[float] | None, facets: int | None) -> list[Path]:
    """Fill ``target``, an empty or new folder, and return its files."""
    sizes = Spool.load(spool) if spool else Spool.default()
    target.mkdir(parents=True, exist_ok=True)
    if any(target.iterdir()):
        raise SystemExit(f"{target} is not empty. Name a new folder: make -C hardware release DIR=...")
    chosen = [*plates_drawing.listed_holes(sizes), 0.0] if holes is None else holes
    _solids(target / "stl", sizes, chosen, facets)
    (target / "plates.svg").write_text(plates_drawing.drawing(sizes, chosen), "utf-8")
    written = spool or Path(spool_module.__file__).with_name("spool.toml")
    shutil.copyfile(written, target / "spool.toml")
    (target / "firmware").mkdir()
    for image in sorted(IMAGES.iterdir()):
        if image.suffix in {".hex", ".uf2", ".bin"}:
            shutil.copyfile(image, target / "firmware" / image.name)
    for page in ("firmware/README.md", "firmware/boards/rp2040/README.md"):
        (target / page).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(ROOT / page, target / page)
    for page in sorted(HERE.rglob("*")):
        if page.suffix in PAGES and "build" not in page.relative_to(HERE).parts:
            copy = target / "hardware" / page.relative_to(HERE)
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(page, copy)
    (target / "guide.html").write_text(paper.paper(), "utf-8")
    (target / "README.txt").write_text(READ_ME, "utf-8")
    return write_sums(target)


def _solids(folder: Path, spool: Spool, holes: list[float], facets: int | None) -> None:
    """Every part once, and one plate for each hole; as many at a time as there are cores."""
    more = () if facets is None else (f"-D$fn={facets}",)
    wanted: list[tuple[str, float | None, str]] = [
        (part, None, "") for part in render.parts_for(spool) if part != "plate"
    ]
    wanted += [("plate", hole, render.plate_name(hole)) for hole in holes]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        jobs = [
            pool.submit(render.solid, part, spool, folder, *more, hole=hole, name=name) for part, hole, name in wanted
        ]
        for job in jobs:
            print(job.result(), render.too_large(job.result()))


def write_sums(target: Path) -> list[Path]:
    """SHA-256 of every file below ``target``, as sha256sum writes it."""
    files = sorted(path for path in target.rglob("*") if path.is_file() and path.name != SUMS)
    lines = [
        f"{hashlib.sha256(path.read_bytes()).hexdigest()}  {path.relative_to(target).as_posix()}" for path in files
    ]
    (target / SUMS).write_text("\n".join(lines) + "\n", "utf-8")
    return files


def main(arguments: Iterable[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Everything a builder needs, in one folder.")
    parser.add_argument("target", type=Path, help="new or empty folder")
    parser.add_argument("--spool", type=Path, help="spool file; default: the spool as drawn")
    parser.add_argument("--holes", type=float, nargs="+", metavar="MM", help="holes of the plates; default: plates.csv")
    parser.add_argument("--facets", type=int, help="facets of a circle; default: 120")
    asked = parser.parse_args(None if arguments is None else list(arguments))
    try:
        files = release(asked.target, asked.spool, asked.holes, asked.facets)
    except FrothlineError as trouble:
        print(f"release: {trouble}", file=sys.stderr)
        return 2
    print(f"{len(files)} files and {SUMS} in {asked.target}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
