"""Renders the printed parts: STL for the printer, pictures for the guide. Needs Debian's openscad (pictures: xvfb too).

    python hardware/spool/render.py            STL files into hardware/spool/build
    python hardware/spool/render.py --pictures pictures into hardware/guide/pictures

Sizes come from the package's spool file, or from another one: --spool my-spool.toml
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
PARTS = ("carrier", "saddle", "straightener", "adapter", "plate_holder", "plate")
# rotation about x, y, z in degrees from which each part shows what matters
VIEWS = {
    "carrier": "62,0,110",
    "saddle": "55,0,200",
    "straightener": "40,0,25",
    "adapter": "70,0,25",
    "plate_holder": "55,0,60",
    "plate": "35,0,25",
}


def sizes(spool: Spool) -> dict[str, float]:
    """What spool.scad is given, in millimetres."""
    return {
        "bore": round(spool.pipe.bore * 1e3, 3),
        "pipe_outer": round(spool.pipe.outer_diameter * 1e3, 3),
        "plate_hole": round(spool.plate.hole * 1e3, 3),
    }


def command(part: str, spool: Spool, output: Path, *more: str) -> list[str]:
    """The openscad call for one part."""
    given = [f"-Dpart={part!r}".replace("'", '"'), *(f"-D{name}={value}" for name, value in sizes(spool).items())]
    return ["openscad", "-q", *given, *more, "-o", str(output), str(HERE / "spool.scad")]


def solid(part: str, spool: Spool, folder: Path) -> Path:
    """Renders one part to STL and returns its path."""
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"{part}.stl"
    subprocess.run(command(part, spool, target), check=True)
    return target


def picture(part: str, spool: Spool, folder: Path) -> Path:
    """Renders one part to PNG under a virtual screen and returns its path."""
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"{part}.png"
    camera = f"--camera=0,0,0,{VIEWS[part]},500"
    more = (
        "-Dcut=true",
        camera,
        "--viewall",
        "--autocenter",
        "--render",
        "--imgsize=900,700",
        "--colorscheme=Tomorrow",
    )
    subprocess.run(["xvfb-run", "-a", *command(part, spool, target, *more)], check=True)
    return target


def main() -> int:
    parser = argparse.ArgumentParser(description="Renders the printed parts of the spool.")
    parser.add_argument("--spool", type=Path, help="spool file; default: the spool as drawn")
    parser.add_argument("--pictures", action="store_true", help="PNG pictures for the guide instead of STL")
    chosen = parser.parse_args()
    spool = Spool.load(chosen.spool) if chosen.spool else Spool.default()
    for part in PARTS:
        made = (
            picture(part, spool, HERE.parent / "guide/pictures")
            if chosen.pictures
            else solid(part, spool, HERE / "build")
        )
        print(made)
    return 0


if __name__ == "__main__":
    sys.exit(main())
