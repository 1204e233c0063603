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

import numpy as np

from frothline.errors import FrothlineError
from frothline.sensors.spool import Spool

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))
import picture as drawing  # noqa: E402  (a script that runs from any folder)
from sizes import BEARING_OUTER, BED, PIN, sizes, vane_fits  # noqa: E402

# part -> how many, how it is printed
PARTS = {
    "carrier": (1, "as drawn, arrow of the air down; PETG or ABS, 4 walls"),
    "rotor": (1, "as drawn, 3 walls, 100 % filled"),
    "nose": (1, "boss on the bed, with a brim, 3 walls"),
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


WITH_VANE = ("carrier", "rotor", "nose")


def parts_for(spool: Spool) -> list[str]:
    """Parts that this spool has: a narrow bore has no vane, and its plates measure the flow."""
    return [part for part in PARTS if part not in WITH_VANE or vane_fits(spool)]


def too_large(stl: Path) -> str:
    """What is wrong if a part does not fit the bed; empty if it does."""
    shape = drawing.triangles(stl)
    wide, deep, high = np.ptp(shape.reshape(-1, 3), axis=0)
    if max(wide, deep, high) <= BED:
        return ""
    return f"{stl.stem} is {wide:.0f} × {deep:.0f} × {high:.0f} mm, more than {BED:.0f} mm: print it on a larger bed"


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


def holder_apart(spool: Spool, folder: Path) -> Path:
    """Draws the plate holder taken apart: from the pipe down flange, gasket, plate, ring, wing nuts' washers."""
    s = sizes(spool)
    target = folder / "holder_apart.png"
    with tempfile.TemporaryDirectory() as work:
        shapes = {
            part: drawing.triangles(solid(part, spool, Path(work), "-D$fn=90"))
            for part in ("plate_holder", "gasket", "plate", "plate_ring")
        }
    shapes["plate"] = shapes["plate"] * np.array([-1.0, 1.0, -1.0])  # the sharp edge meets the air
    heights = {"plate_holder": 0.0, "gasket": -26.0, "plate": -52.0, "plate_ring": -90.0}
    colours = {"gasket": drawing.RUBBER, "plate": drawing.SHEET}
    solids = [
        (shapes[part] + np.array([0.0, 0.0, at]), colours.get(part, drawing.PRINT)) for part, at in heights.items()
    ]
    for x, y in ((1, 1), (1, -1), (-1, 1), (-1, -1)):
        at = (x * s["screw_x"], y * s["screw_y"])
        solids.append((drawing.rod(s["screw"] / 2, 22.0, 57.0, at), drawing.STEEL))
        solids.append((drawing.rod(s["nut_across"] / 2, 57.0, 60.5, at, sides=6), drawing.STEEL))
        solids.append((drawing.rod(s["screw"], -106.0, -105.0, at), drawing.STEEL))
    drawing.draw_solids(solids, target, 68, 35)
    return target


def rotor_apart(spool: Spool, folder: Path) -> Path:
    """Draws the rotor over its carrier, taken apart along the pin: nose, bearing, rotor with magnets, bearing, pin."""
    s = sizes(spool)
    target = folder / "rotor_apart.png"
    with tempfile.TemporaryDirectory() as work:
        nose, rotor = (drawing.triangles(solid(part, spool, Path(work), "-D$fn=90")) for part in ("nose", "rotor"))
    solids = [(rotor, drawing.PRINT), (nose + np.array([0.0, 0.0, 46.0]), drawing.PRINT)]
    for low, high, radius in (
        (-14.0, -10.0, BEARING_OUTER / 2),
        (32.0, 36.0, BEARING_OUTER / 2),
        (-64.0, -24.0, PIN / 2),
    ):
        solids += [(drawing.rod(radius, low, high), drawing.STEEL)]
    tip = s["bore"] / 2 - s["tip_gap"]
    turn = 2 * np.pi * (s["magnet_floor"] + s["magnet_diameter"] / 2) / s["vane_pitch"]
    flat = drawing.rod(s["magnet_diameter"] / 2, 0.0, s["magnet_thick"])[:, :, [2, 1, 0]][
        :, ::-1
    ]  # lying, axis along x
    for i in range(int(s["vanes"])):
        a = 2 * np.pi * i / s["vanes"] + turn
        about = np.array([[np.cos(a), np.sin(a), 0], [-np.sin(a), np.cos(a), 0], [0, 0, 1]])
        lying = flat + np.array([tip - s["pod_skin"] - s["magnet_thick"], 0.0, 19.0])
        solids.append((lying @ about, drawing.MAGNET))
    drawing.draw_solids(solids, target, 62, 20)
    return target


APART = {"holder_apart": holder_apart, "rotor_apart": rotor_apart}


def main(arguments: Iterable[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Renders the printed parts of the spool.")
    parser.add_argument("--spool", type=Path, help="spool file; default: the spool as drawn")
    parser.add_argument("--pictures", action="store_true", help="PNG pictures for the guide instead of STL")
    parser.add_argument("--only", nargs="+", choices=PARTS, help="these parts alone")
    parser.add_argument(
        "--holes", nargs="+", type=float, metavar="MM", help="holes of the plates; 0 is the blind plate"
    )
    chosen = parser.parse_args(None if arguments is None else list(arguments))
    try:
        spool = Spool.load(chosen.spool) if chosen.spool else Spool.default()
    except FrothlineError as trouble:
        print(f"render: {trouble}", file=sys.stderr)
        return 2
    parts = chosen.only or parts_for(spool)
    if not vane_fits(spool):
        print(
            f"No vane fits a bore of {spool.pipe.bore * 1e3:g} mm: carrier, rotor and nose are left out. Plates measure there."
        )
    if chosen.pictures:
        for part in parts:
            print(picture(part, spool, HERE.parent / "guide/pictures"))
        for assembly in APART.values() if not chosen.only else ():
            print(assembly(spool, HERE.parent / "guide/pictures"))
        return 0
    made = [solid(part, spool, HERE / "build") for part in parts if not (part == "plate" and chosen.holes)]
    if "plate" in parts and chosen.holes:
        made += [solid("plate", spool, HERE / "build", hole=hole, name=plate_name(hole)) for hole in chosen.holes]
    for stl in made:
        print(stl)
    large = [words for words in map(too_large, made) if words]
    print("\n".join(large), end="\n" if large else "")
    return 1 if large else 0


if __name__ == "__main__":
    sys.exit(main())
