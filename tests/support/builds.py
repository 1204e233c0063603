"""Builds that the tests share; of nobody in particular."""

from frothline.foam.dilution import Dilution
from frothline.generator.build import Body, Build, Connection, Hose, Outlet, Packing, Reservoir, Solution, Tube

FIRST = Build(
    name="first tube",
    connection=Connection(0.0381, ("elbow", "ball valve")),
    hose=Hose(0.0381, 2.0, "corrugated", 0.004),
    tube=Tube(0.0204, 0.300, 6, 12, 0.002, 0.003, "no", 36, 0.040),
    body=Body(0.1036, 0.600),
    packing=Packing("wire wool", 0.150, 0.080, "stainless", 80e-6),
    outlet=Outlet(0.0314, "cone", 0.080),
    reservoir=Reservoir(0.020, "batch"),
    solution=Solution("dish soap", Dilution(30, "1+N"), 291.15),
)

BARE = Build(  # as little as there can be: no hose, no fittings, no packing; holes in air
    name="bare tube",
    connection=Connection(0.030),
    hose=Hose(0.030, 0.0),
    tube=Tube(0.030, 0.200, 4, 10, 0.003, 0.003),
    body=Body(0.100, 0.300),
    packing=Packing(),
    outlet=Outlet(0.050),
    reservoir=Reservoir(0.010),
    solution=Solution("soap", Dilution(40, "1 in N")),
)
