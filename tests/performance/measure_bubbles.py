"""Bubble diameter from simulated photos of known foam: error, and how often the 95 % intervals hold the truth.

The truth of a cell is the Sauter mean of its kind of foam, from large periodic diagrams: a photo shows one window of it.
"""

import math
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
from foam_pictures import Foam, Shot, picture, save
from results_page import Part

from frothline.bubble_size.measure import measure_photo
from frothline.bubble_size.target import LARGE
from frothline.errors import FrothlineError

PHOTOS = 8  # a row
CELLS = 420  # of the foam behind the card
SIZE = 0.066  # m, of the repeated square
LARGE_FOAM = 5000  # cells, for the truth
PIXELS, SPREADS = (7, 10, 14, 20), (0.15, 0.35, 0.6)
DISTURBED = {
    "none": {},
    "light falls by 80 %": {"gradient": 0.8},
    "tilt": {"tilt": (0.08, 0.06), "turn": 15},
    "noise 5 %": {"noise": 0.05},
    "blur 1.5 px": {"blur": 1.5},
    "JPEG quality 50": {"quality": 50},
    "glare": {"glare": 0.15},
    "half drained": {"drained": 0.5},
    "films 3 %": {"film": 0.03},
    "films 20 %": {"film": 0.2},
    "layer behind": {"behind": 0.3},
}


def truth(spread):
    """Sauter mean over the root of the area of a point."""
    found = [Foam(LARGE_FOAM, 1.0, spread, seed).d32() * math.sqrt(LARGE_FOAM) for seed in (9001, 9002, 9003)]
    return float(np.mean(found))


def photos(folder, pixels, spread, true, disturbed, seed):
    """Relative errors of the photos of a row, whether the intervals held, and numbers refused and warned of."""
    errors, held, refused, warned = [], [], 0, 0
    side = SIZE / math.sqrt(CELLS)
    for number in range(PHOTOS):
        foam = Foam(CELLS, SIZE, spread, seed + number)
        shot = Shot(scale=pixels / (true * side), seed=seed + number, **disturbed)
        path = save(picture(foam, shot), folder / "foam.png")
        try:
            found = measure_photo(path, ruler=0.1)
        except FrothlineError:
            refused += 1
            continue
        errors.append(found.diameter.value / (true * side) - 1)
        held.append(found.diameter.lower <= true * side <= found.diameter.upper)
        warned += bool(found.warnings)
    return errors, held, refused, warned


def measure(seed):
    rows, good = [], []
    true = {spread: truth(spread) for spread in SPREADS}
    cases = [(p, s, "none") for p, s in product(PIXELS, SPREADS)]
    cases += [(14, s, name) for name in DISTURBED if name != "none" for s in (SPREADS[0], SPREADS[2])]
    with TemporaryDirectory() as folder:
        for number, (pixels, spread, name) in enumerate(cases):
            errors, held, refused, warned = photos(
                Path(folder), pixels, spread, true[spread], DISTURBED[name], seed + 100 * number
            )
            if pixels >= 10:
                good += held
            mean = f"{100 * np.mean(errors):+.1f} %" if errors else "–"
            scatter = f"{100 * np.std(errors, ddof=1):.1f} %" if len(errors) > 1 else "–"
            rows.append(
                (
                    f"{pixels} px",
                    f"{100 * spread:.0f} %",
                    name,
                    mean,
                    scatter,
                    f"{sum(held)} of {len(held)}",
                    f"{warned}",
                    f"{refused}",
                )
            )
            print(rows[-1], flush=True)
    return Part(
        "Bubbles from a photo",
        (
            "Sauter mean",
            "spread of radii",
            "disturbance",
            "mean error",
            "scatter",
            "interval holds",
            "with warning",
            "refused",
        ),
        rows,
        before=(
            f"{PHOTOS} simulated photos a row: power diagrams of random points, {CELLS} cells behind the large card of "
            f"{LARGE.window * 1e3:.0f} mm, drawn with films, light, blur, noise and compression. The truth is the Sauter mean "
            "of this kind of foam in diagrams of 5000 cells, so that the scatter includes what one window shows of it."
        ),
        after=(
            f"From 10 px on {sum(good)} of {len(good)} intervals hold the truth. Below 10 px the diameter comes out too large, "
            "which the warning says and the interval allows for. A simulated film or layer behind is simpler than a real "
            "one: the next step is photos of foams whose bubbles were measured in another way."
        ),
        order=70,
    )
