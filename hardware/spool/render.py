"""Renders the printed parts: STL for the printer, pictures for the guide. Needs Debian's openscad.

    python hardware/spool/render.py            STL files into hardware/spool/build
    python hardware/spool/render.py --pictures pictures into hardware/guide/pictures

Sizes come from the package's spool file, or from another one: --spool my-spool.toml
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
import picture as drawing  # noqa: E402  (a script that runs from any folder)
from sizes import sizes  # noqa: E402

# part -> how many, how it is printed
PARTS = {
    "carrier": (1, "as drawn, arrow of the air down; PETG or ABS, 4 walls"),
    "rotor": (1, "as drawn, 3 walls, 100 % filled"),
    "nose": (1, "as drawn, 3 walls"),
    "straightener": (1, "standing, 1 wall is enough"),
    "saddle": (1, "on its end, 4 walls"),
    "adapter": (1, "wide end down, 4 walls"),
    "plate_holder": (1, "sealing face down, 5 walls"),
    "plate_ring": (1, "as drawn, 4 walls"),
    "plate": (11, "drilled metal is better; printed: sharp edge on the glass, 100 % filled"),
    "gasket": (1, "cut from 2 mm rubber sheet; or printed in TPU, 100 % filled"),
}
# tilt back from the view from above, and turn about the upright axis, in degrees
VIEWS = {
    "carrier": (65, 250),
    "rotor": (50, 25),
    "nose": (70, 25),
    "saddle": (60, 115),
    "straightener": (40, 25),
    "adapter": (65, 250),
    "plate_holder": (50, 60),
    "plate_ring": (50, 20),
    "plate": (35, 25),
    "gasket": (35, 25),
}
CUT = {"carrier", "adapter"}  # shown with a part of the body taken away


def command(part: str, spool: Spool, output: Path, *more: str, hole: float | None = None) -> list[str]:
    """The openscad call for one part. ``hole`` mm of a plate, 0 for the blind one."""
    given = [f'-Dpart="{part}"', *(f"-D{name}={value}" for name, value in sizes(spool, hole).items())]
    return ["openscad", "-q", *given, *more, "-o", str(output), str(HERE / "spool.scad")]


def solid(part: str, spool: Spool, folder: Path, *more: str, hole: float | None = None, name: str = "") -> Path:
    """Renders one part to STL and returns its path."""
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"{name or part}.stl"
    subprocess.run(command(part, spool, target, *more, hole=hole), check=True)
    return target


def plate_name(hole: float) -> str:
    """File name of a plate with a hole in mm."""
    return f"plate-{hole:g}" if hole else "plate-blind"


def picture(part: str, spool: Spool, folder: Path) -> Path:
    """Draws one part as PNG and returns its path."""
    target = folder / f"{part}.png"
    with tempfile.TemporaryDirectory() as work:
        cut = ("-Dcut=true",) if part in CUT else ()
        drawing.draw(solid(part, spool, Path(work), *cut, "-D$fn=90"), target, *VIEWS[part])
    return target


def main(arguments: Iterable[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Renders the printed parts of the spool.")
    parser.add_argument("--spool", type=Path, help="spool file; default: the spool as drawn")
    parser.add_argument("--pictures", action="store_true", help="PNG pictures for the guide instead of STL")
    parser.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS), help="these parts alone")
    parser.add_argument(
        "--holes", nargs="+", type=float, metavar="MM", help="holes of the plates; 0 is the blind plate"
    )
    chosen = parser.parse_args(None if arguments is None else list(arguments))
    spool = Spool.load(chosen.spool) if chosen.spool else Spool.default()
    for part in chosen.only:
        if part == "plate" and chosen.holes and not chosen.pictures:
            for hole in chosen.holes:
                print(solid(part, spool, HERE / "build", hole=hole, name=plate_name(hole)))
            continue
        made = (
            picture(part, spool, HERE.parent / "guide/pictures")
            if chosen.pictures
            else solid(part, spool, HERE / "build")
        )
        print(made)
    return 0


if __name__ == "__main__":
    sys.exit(main())
