"""The report of a batch, and the one-page card for the wall at the mixer."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from frothline.foam.batch_order import MeasuredFoam
from frothline.foam.concrete_batch import RESERVE, ConcreteBatch, blended
from frothline.formatting import interval_text, three_figures, value_text
from frothline.physics.foam import SOLUTION_DENSITY
from frothline.physics.mix import WATER_DENSITY, agent_fraction
from frothline.report.html_page import Report, figure_rows, large, page, section, table, words
from frothline.report.provenance import RecordingProvenance, provenance
from frothline.rounding import counted
from frothline.trials.trial import Trial, names_of
from frothline.units import METRIC, Unit

Row = tuple[str, str, str]  # words, for the batch, for one bag

ON_CARD = 3  # cautions on the batch card, which is one page; the report and the page have them all


def batch_rows(batch: ConcreteBatch, system: Mapping[str, Unit] = METRIC) -> list[Row]:
    """Rows of amounts for command line, report and card: label, for the batch, for one bag of cement."""
    mass, volume = system["mass"], system["volume"]
    bag = batch.per_bag

    def amount(value: float, unit: Unit) -> str:
        return f"{three_figures(value * unit.factor)} {unit.symbol}"

    water, per_water = batch.mix.mixer_water, bag["mixer_water"]
    rows: list[Row] = [
        ("cement", f"{amount(batch.mix.cement, mass)} ({batch.bags:.2f} bags)", amount(bag["cement"], mass)),
        ("sand", amount(batch.mix.sand, mass), amount(bag["sand"], mass)),
        (
            "water into the mixer",
            f"{amount(water, mass)} ({amount(water / WATER_DENSITY, volume)})",
            f"{amount(per_water, mass)} ({amount(per_water / WATER_DENSITY, volume)})",
        ),
        ("foam", amount(batch.foam_volume, volume), amount(bag["foam_volume"], volume)),
        (
            "generator run time, from air on",
            f"{batch.run_time.value:.0f} s" if batch.run_time else "not known: time a sample",
            f"{bag['run_time']:.0f} s" if math.isfinite(bag["run_time"]) else "not known",
        ),
        (
            f"or level buckets of {amount(batch.dosing.bucket, volume)}",
            f"{batch.dosing.buckets:.1f}",
            f"{bag['buckets']:.1f}",
        ),
        ("foam solution", amount(batch.solution, volume), amount(bag["solution"], volume)),
        ("agent", amount(batch.agent, volume), amount(bag["agent"], volume)),
        ("water", amount(batch.solution_water, volume), amount(bag["solution_water"], volume)),
    ]
    return [row for row in rows if row[0] != "sand" or batch.mix.sand > 0]


def batch_data(batch: ConcreteBatch, foam: MeasuredFoam) -> dict[str, Any]:
    """The batch for ``--json``, SI."""
    return {
        "order": dict(vars(batch.order)),
        "foam": {
            "density": foam.density.as_dict(),
            "output": None if foam.output is None else foam.output.as_dict(),
            "survival": foam.survival.as_dict(),
            "agent_parts": foam.agent_parts,
            "convention": foam.convention,
            "life": {"time": foam.life.time, "origin": foam.life.origin},
        },
        "cement": batch.mix.cement,
        "sand": batch.mix.sand,
        "mixer_water": batch.mix.mixer_water,
        "foam_water": batch.mix.foam_water,
        "total_water": batch.mix.total_water,
        "foam_volume": batch.foam_volume,
        "foam_share": batch.foam_share,
        "run_time": None if batch.run_time is None else batch.run_time.as_dict(),
        "start_up": foam.start_up.as_dict(),
        "dosing": vars(batch.dosing),
        "refills": None if batch.refills is None else vars(batch.refills),
        "solution": batch.solution,
        "agent": batch.agent,
        "solution_water": batch.solution_water,
        "bags": batch.bags,
        "per_bag": {name: value if math.isfinite(value) else None for name, value in batch.per_bag.items()},
        "slurry_density": batch.mix.base_density,
        "slurry_volume": batch.mix.base_volume,
        "true_water_cement": batch.true_water_cement,
        "cast_density": batch.cast_density.as_dict(),
        "dry_density": batch.dry_density.as_dict(),
        "warnings": list(batch.warnings),
        "cautions": list(batch.cautions),
    }


def batch_report(
    batch: ConcreteBatch,
    foam: MeasuredFoam,
    *,
    trial: Trial | None = None,
    title: str = "",
    system: Mapping[str, Unit] = METRIC,
) -> Report:
    """The report of a batch with all its inputs. ``trial`` is the trial of the measured foam, if any."""
    density, volume = system["density"], system["volume"]
    sources = _sources(trial)
    kind = "dry" if batch.order.dry else "cast"
    wanted = f"{density.from_si(batch.order.density):.0f} {density.symbol} {kind}"
    slurry = f"{density.from_si(batch.mix.base_density):.0f} {density.symbol}"
    cup = f"{density.from_si(batch.mix.cast_density):.0f} {density.symbol}"
    sections = [
        large(
            [
                (
                    f"wanted, {kind}",
                    f"{density.from_si(batch.order.density):.0f} {density.symbol}",
                    _volume(batch, volume),
                ),
                (
                    "expected cast density",
                    value_text(batch.cast_density, density),
                    interval_text(batch.cast_density, density),
                ),
                (
                    "foam",
                    f"{three_figures(batch.foam_volume * volume.factor)} {volume.symbol}",
                    _running(batch, system),
                ),
            ],
            "predicted",
        ),
        section("Mix", table(["", "for the batch", "for one bag"], batch_rows(batch, system), right=(1, 2))),
        section("Warnings", words(batch.said)),
        section(
            "Expected results",
            figure_rows(
                [
                    ("cast density", batch.cast_density, density, ""),
                    ("oven-dry density", batch.dry_density, density, ""),
                    ("generator run time, from air on", batch.run_time, system["time"], "no sample was timed"),
                    ("start-up without foam", foam.start_up, system["time"], ""),
                    ("foam density", foam.density, density, ""),
                    ("foam output", foam.output, system["foam_rate"], "no sample was timed"),
                    ("share of the foam's air that survives mixing", foam.survival, Unit("", 1.0), ""),
                ]
            ),
        ),
        section("Mass and volume balance", _sums(batch, foam, system)),
        section("Where the uncertainty of the cast density comes from", _budget(batch, foam, system)),
        section(
            "Before the pour",
            words(
                [
                    (
                        f"weigh a container of slurry before the foam; target {slurry}, otherwise “frothline batch "
                        "--slurry”"
                    ),
                    f"weigh a cup of the foamed concrete; target {cup}, otherwise “frothline batch --cup”",
                ]
            ),
        ),
        section("Cautions", words(batch.cautions, "caution")),
        provenance(sources),
    ]
    data = batch_data(batch, foam) | {
        "trial": None if trial is None else trial.name,
        "recordings": [vars(one) for one in sources],
    }
    subtitle = f"{wanted}, {_volume(batch, volume)}" + (f"; foam as measured in “{trial.title}”" if trial else "")
    return page(
        title or "Batch",
        subtitle,
        sections,
        data,
        simulated=trial is not None and trial.simulated,
        system=system,
        names=_names(trial),
    )


def _names(trial: Trial | None) -> Sequence[str]:
    return () if trial is None else names_of(trial)


def _sources(trial: Trial | None) -> Sequence[RecordingProvenance]:
    return () if trial is None else (RecordingProvenance.of(trial.path),)


def _volume(batch: ConcreteBatch, unit: Unit) -> str:
    return f"{three_figures(batch.order.volume * unit.factor)} {unit.symbol} to fill"


def _running(batch: ConcreteBatch, system: Mapping[str, Unit]) -> str:
    if batch.run_time is None:
        return "run time not known: no sample was timed"
    return f"{value_text(batch.run_time, system['time'])} run time ({interval_text(batch.run_time, system['time'])})"


def _sums(batch: ConcreteBatch, foam: MeasuredFoam, system: Mapping[str, Unit]) -> str:
    """The absolute-volume method line by line, so that it can be checked by hand."""
    m, order = batch.mix, batch.order
    mass, volume, density = system["mass"], system["volume"], system["density"]

    def line(name: str, kg: float, heavy: float) -> list[str]:
        litres = kg / heavy * volume.factor
        return [name, f"{three_figures(kg * mass.factor)} {mass.symbol}", f"{three_figures(litres)} {volume.symbol}"]

    solids = [line("cement", m.cement, order.cement_relative_density * WATER_DENSITY)]
    if m.sand:
        solids.append(line("sand", m.sand, order.sand_relative_density * WATER_DENSITY))
    foam_mass = batch.foam_volume * foam.density.value
    rows = [
        *solids,
        line("water into the mixer", m.mixer_water, WATER_DENSITY),
        line("water from the foam", foam_mass, WATER_DENSITY),
        ["air", "", f"{three_figures(m.air_fraction * m.volume * volume.factor)} {volume.symbol}"],
        [
            "together",
            f"{three_figures((m.cement + m.sand + m.total_water) * mass.factor)} {mass.symbol}",
            f"{three_figures(m.volume * volume.factor)} {volume.symbol}",
        ],
    ]
    volumes = f"{density.from_si(blended(batch, foam)):.1f} {density.symbol}"
    agent = 1 / agent_fraction(foam.agent_parts, foam.convention)
    said = [
        f"total water/cement {batch.true_water_cement:.3f}, in the mixer before the foam {m.mixer_water_cement:.3f}",
        f"foam is {100 * batch.foam_share:.0f} % of the volume",
        f"volume check: slurry and surviving foam give {volumes}",
        (
            f"solution of {SOLUTION_DENSITY:.0f} kg/m³ with one part agent in {agent:.0f}, {100 * RESERVE:.0f} % in "
            f"reserve; counted with {counted(batch.starts, 'start')} before the first foam"
        ),
        "absolute-volume method; relations of ASTM C796 and C869 as given in the bibliography of physics.mix",
    ]
    return table(["", "mass", "volume"], rows, right=(1, 2)) + words(said)


def _budget(batch: ConcreteBatch, foam: MeasuredFoam, system: Mapping[str, Unit]) -> str:
    """Effect of one standard uncertainty of each input on the cast density, by the same formulas."""
    m, density = batch.mix, system["density"]
    slurry = m.cement + m.sand + m.mixer_water

    def cast(foam_volume: float, foam_density: float, survival: float) -> float:
        water = foam_volume * foam_density
        space = m.base_volume + water / WATER_DENSITY + survival * (foam_volume - water / WATER_DENSITY)
        return (slurry + water) / space

    at = (batch.foam_volume, foam.density.value, foam.survival.value)
    share = batch.dosing.u_volume
    steps = (
        (f"foam volume, by the {batch.dosing.by}", (share * at[0], 0.0, 0.0)),
        ("density of the foam", (0.0, foam.density.standard_uncertainty, 0.0)),
        ("air that survives mixing", (0.0, 0.0, foam.survival.standard_uncertainty)),
    )
    parts = []
    for name, (dv, dd, ds) in steps:
        change = (cast(at[0] + dv, at[1] + dd, at[2] + ds) - cast(at[0] - dv, at[1] - dd, at[2] - ds)) / 2
        parts.append((name, abs(change)))
    total = sum(u**2 for _, u in parts) or 1.0
    return table(
        ["from", "standard uncertainty", "share"],
        [[name, f"{u * density.factor:.2g} {density.symbol}", f"{100 * u**2 / total:.0f} %"] for name, u in parts],
        right=(1, 2),
    )


# --- the card -----------------------------------------------------------------------------------------------------

_CARD = """
main{max-width:46rem}
.card td{font-size:1.25rem;padding:.5rem .4rem}
.card td.n{font-weight:600;font-size:1.4rem}
.card thead th{font-size:1rem}
@media (max-width:40rem){.card td{font-size:1rem}.card td.n{font-size:1.05rem;white-space:normal}}
.blank td{height:2.1rem;border-bottom:1px solid var(--faint)}
@media print{
@page{size:A4;margin:12mm}
.card td{font-size:14pt;padding:1.4mm 1mm}.card td.n{font-size:16pt}
h1{font-size:22pt}.large b{font-size:24pt}
ul{margin:.2rem 0;font-size:8.8pt}h2{margin-top:.6rem}footer{margin-top:.5rem}
}
"""


def batch_card(
    batch: ConcreteBatch,
    foam: MeasuredFoam,
    *,
    trial: Trial | None = None,
    title: str = "",
    system: Mapping[str, Unit] = METRIC,
) -> Report:
    """A one-page card: ingredients in order, amounts to weigh, and space to write the results."""
    density, volume = system["density"], system["volume"]
    kind = "dry" if batch.order.dry else "cast"
    cells = "".join(
        f'<tr><td>{escape(a)}</td><td class="n">{escape(b)}</td><td class="n">{escape(c)}</td></tr>'
        for a, b, c in batch_rows(batch, system)
    )
    head = '<thead><tr><th></th><th class="n">batch</th><th class="n">one bag</th></tr></thead>'
    cup = f"{density.from_si(batch.mix.cast_density):.0f} {density.symbol}"
    slurry = f"{density.from_si(batch.mix.base_density):.0f} {density.symbol}"
    blanks = "".join(
        f"<tr><td>{escape(one)}</td><td></td></tr>" for one in ("date, batch", "slurry weighed", "cup weighed")
    )
    sections = [
        large(
            [
                (kind, f"{density.from_si(batch.order.density):.0f} {density.symbol}", _volume(batch, volume)),
                ("slurry before the foam", slurry, "weigh a full container"),
                ("cup after the foam", cup, interval_text(batch.cast_density, density) + " to expect"),
            ],
            "predicted",
        ),
        f'<table class="card">{head}<tbody>{cells}</tbody></table>',
        words(
            [
                "water and cement first, then sand, until smooth; foam last, folded in until no streaks remain",
                *batch.said,
            ]
        ),
        f'<table class="blank"><tbody>{blanks}</tbody></table>',
        words(batch.cautions[:ON_CARD], "caution"),
    ]
    data = batch_data(batch, foam) | {"trial": None if trial is None else trial.name}
    made = "" if trial is None else f"Foam as in “{escape(trial.title)}”, recording {trial.sha256[:16]}…. "
    return page(
        title or "Batch card",
        "for the mixing area",
        sections,
        data,
        simulated=trial is not None and trial.simulated,
        style=_CARD,
        system=system,
        names=_names(trial),
        footer=made,
    )
