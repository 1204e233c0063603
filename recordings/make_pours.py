"""Makes the pours of the demonstration season; ``make_season.py`` calls it. Nobody poured any of this concrete.

Rules of this scenario alone, with no measurement behind them: foam of a long packing survives mixing a little better,
and foam of a strong solution clearly worse; concrete settles with the foam that is lost; much detergent weakens the
cement. So the foam that drains most slowly, of a strong solution, makes the weakest concrete.
"""

from __future__ import annotations

from collections.abc import Callable
from math import exp, log
from pathlib import Path
from random import Random

SLURRY = 1 / 3150.0  # m3 of a kg of cement
CEMENT, WATER_CEMENT, WANTED = 25.0, 0.5, 600.0  # kg, 1, kg/m3
CUP = 0.001  # m3
EMPTY = 0.1124  # kg

# name, trial, title, time of the pour, share of the foam's air that survives, strength at 28 days and 500 kg/m3 in MPa
POURS = (
    ("04-05-bench-foot", "04-05-first-tube", "Foot of the bench", "2025-04-05T14:00:00", 0.93, 0.80),
    ("04-12-stepping-stones", "04-12-long-packing", "Stepping stones", "2025-04-12T15:30:00", 0.97, 0.93),
    ("04-12-kerb", "04-12-narrow-outlet", "Kerb of the herb bed", "2025-04-12T17:00:00", 0.92, 0.80),
    ("04-26-planter", "04-26-strong", "Planter", "2025-04-26T13:40:00", 0.84, 0.58),
    ("05-03-step", "05-03-first-tube", "Step at the shed", "2025-05-03T13:00:00", 0.94, 0.83),
    ("05-03-window-sill", "05-03-strong-long-narrow", "Window sill", "2025-05-03T15:00:00", 0.86, 0.60),
)


def write_pours(folder: Path, foam: Callable[[str], float], chance: Callable[[str], Random], simulated: str) -> None:
    """Write all pours; ``foam`` gives the density of a trial's foam, kg/m³."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, trial, title, when, survival, strength in POURS:
        text = _pour(trial, title, when, survival, strength, foam(trial), chance(f"pour {name}"), simulated)
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")


def _pour(
    trial: str, title: str, when: str, survival: float, strength: float, foam: float, random: Random, simulated: str
) -> str:
    lines = [f"# {simulated}. Nobody poured this and nobody crushed it.", f'trial = "{trial}"', f'title = "{title}"']
    lines += [f"poured = {when}", "simulated = true", f'wanted_density = "{WANTED:.0f} kg/m3"']
    # amounts as a batch sheet gives them if 93 % of the air survives, weighed to 10 g
    total = CEMENT * (1 + WATER_CEMENT)
    volume = total / WANTED
    air = volume - CEMENT * SLURRY - CEMENT * WATER_CEMENT / 1000
    foam_volume = air / 0.93 / (1 - foam / 1000)
    foam_mass = round(foam_volume * foam * exp(random.gauss(0.0, 0.01)), 2)
    water = round(CEMENT * WATER_CEMENT - foam_mass, 2)
    put_in = foam_mass / foam
    lived = exp(random.gauss(0.0, 0.008)) * survival
    mass = CEMENT + water + foam_mass
    made = CEMENT * SLURRY + (water + foam_mass) / 1000 + lived * (put_in - foam_mass / 1000)
    cast = mass / made
    slurry = (CEMENT + water) / (CEMENT * SLURRY + water / 1000)
    settled = 0.004 + 0.12 * (1 - lived)
    lift = 0.15
    lines += [f'wanted_volume = "{volume * 1e3:.1f} L"', "", "[masses]", f'cement = "{CEMENT:.2f} kg"', 'sand = "0 kg"']
    lines += [f'water = "{water:.2f} kg"', f'foam = "{foam_mass:.2f} kg"', ""]
    for place, density in (("slurry", slurry), ("cup", cast)):
        full = EMPTY + CUP * density * exp(random.gauss(0.0, 0.004))
        lines += [
            f"[{place}]",
            'container = "1 L"',
            f'empty = "{EMPTY * 1e3:.0f} g"',
            f'full = "{full * 1e3:.0f} g"',
            "",
        ]
    lines += ["[flow]", f'spread = "{random.gauss(205.0, 6.0):.0f} mm"', "", "[temperatures]"]
    lines += [f'slurry = "{random.gauss(18.0, 1.5):.1f} °C"', "", "[cast]", f'volume = "{made * 970:.1f} L"']
    lines += [f'lift = "{lift * 1e3:.0f} mm"', f'sank = "{settled * lift * 1e3 + random.gauss(0.0, 0.3):.1f} mm"']
    dry = 1.2 * CEMENT / made
    for number, days in enumerate((7, 28, 28), 1):
        density = dry * 1.12 * exp(random.gauss(0.0, 0.015))
        power = strength * (density / 500) ** 2.4 * (log(days) / log(28)) ** 1.2 * exp(random.gauss(0.0, 0.06))
        lines += ["", "[[specimen]]", 'edge = "100 mm"', f'age = "{days} d"', f'mass = "{density:.0f} g"']
        lines.append(f'load = "{power * 10:.2f} kN"')
        if number == 3:
            lines.append(f'dry_mass = "{dry * exp(random.gauss(0.0, 0.008)):.0f} g"')
    return "\n".join(lines) + "\n"
