"""Makes the agents, the jar and the pour plan of the demonstration season; ``make_season.py`` calls it.

Nobody weighed these drops and nobody stirred this jar. The figures are invented, and each file says so. The agent of
the season's runs has no drops here, so that its foam is that of the runs alone.
"""

from __future__ import annotations

from pathlib import Path

# Drops of 30 mN/m from a tip of 4.0 mm weigh 23.3 mg each (Harkins and Brown), 50 of them 1.17 g.
AGENTS = {
    "washing-up-liquid": """\
name = "washing-up liquid"           # as “agent” in the build sheets
kind = "detergent"
dilution = "1+30"

[water]
source = "tap"
hardness = "12 °dH"
temperature = "15 °C"
""",
    "shampoo": """\
name = "shampoo"
kind = "detergent"
dilution = "1+30"

[water]
source = "rain"
hardness = "1 °dH"
temperature = "14 °C"

[drops]                              # of the solution, slowly from a tip, weighed together
tip = "4.0 mm"                       # outside diameter
count = 50
mass = "1.17 g"
temperature = "18 °C"
""",
}
# 300 g cement of 3.15 are 95 mL; with 150 mL water and 300 mL foam of 75 g/L, of whose air 90 % is left, the mix has
# 517 mL: 78 mm in a jar of 92 mm.
JARS = {
    "shampoo-1": """\
title = "Shampoo, first jar"
note = "stirred by hand for one minute"

[masses]                             # put into the jar
cement = "300 g"
sand = "0 g"
water = "150 g"
foam = "22.5 g"
foam_volume = "300 mL"               # with the mass: the density of the foam

[jar]
diameter = "92 mm"                   # inside
height = "78 mm"                     # of the mix after stirring
settled = "76 mm"                    # height later
after = "2 h"
""",
}
PLAN = """\
title = "Garden wall"

[form]
length = "2 m"
width = "200 mm"
height = "1 m"
lift = "500 mm"

[concrete]
density = "600 kg/m3"
basis = "cast"
water_cement = 0.55

[mixer]
volume = "120 L"
fill = "60 %"

[team]
helpers = 2

[foam]
trial = "05-03-strong-long-narrow"   # its density, output, dilution and start-up
reservoir = "20 L"

[sources]
"small pump" = "45 L/min, 10 min on, 20 min rest"
"""


def write_notes(folder: Path, simulated: str) -> None:
    """Write agents, jar and pour plan into the folder of the season."""
    for place, texts in (("agents", AGENTS), ("jars", JARS)):
        (folder / place).mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (folder / place / f"{name}.toml").write_text(
                f"# {simulated}. Nobody weighed this and nobody stirred it.\n{text}", encoding="utf-8"
            )
    (folder / "pour-plan.toml").write_text(f"# {simulated}.\n{PLAN}", encoding="utf-8")
