"""``sample`` and ``batch``: foam weighed and timed, and what is to be mixed with it."""

from __future__ import annotations

import math
from argparse import ArgumentParser, Namespace
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.cli.numbers import number
from frothline.cli.output import Command, Say, add_units
from frothline.errors import InputError
from frothline.estimate import Z95, Estimate
from frothline.formatting import RATIO, full_text
from frothline.units import SYSTEMS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from frothline.foam.batch_order import MeasuredFoam
    from frothline.foam.concrete_batch import ConcreteBatch, SlurryCorrection
    from frothline.trials.trial import Trial

DONE = 0


# --- sample -----------------------------------------------------------------------------------------------------------


def _sample_options(sub: ArgumentParser) -> None:
    sub.add_argument("--container", required=True, metavar="VOLUME", help="volume of the container to its rim (2 L)")
    sub.add_argument("--empty", required=True, metavar="MASS", help="mass of the empty container (184 g)")
    sub.add_argument("--full", required=True, metavar="MASS", help="mass of the container full of foam (331 g)")
    sub.add_argument("--fill-time", metavar="TIME", help="how long it took to fill (8.1 s)")
    sub.add_argument("--depth", metavar="LENGTH", help="depth of foam in it (190 mm); drainage depends on it")
    sub.add_argument(
        "--drained", nargs="+", metavar="TIME=VOLUME", help="liquid under the foam, by the clock (60s=4mL 120s=9mL)"
    )
    sub.add_argument(
        "--air", type=number(above=0), metavar="L/S", help="free air that was blown in, for the share caught (L/s)"
    )
    sub.add_argument("--u-air", type=number(low=0), default=0.0, metavar="L/S", help="its standard uncertainty (0)")
    sub.add_argument(
        "--wanted",
        nargs=2,
        type=number(above=0),
        metavar=("FROM", "TO"),
        help="foam density that you want, kg/m³, in place of the usual 40 to 80",
    )
    sub.add_argument("--toml", action="store_true", help="print the lines to put beside a recording, nothing else")
    add_units(sub)


def _sample(options: Namespace, say: Say) -> int:
    from frothline.foam.sample import evaluate  # noqa: PLC0415
    from frothline.foam.sample_check import question_of  # noqa: PLC0415
    from frothline.foam.target_windows import with_wanted  # noqa: PLC0415  scipy takes a moment to load
    from frothline.trials.sample_sidecar import read_sample, sample_entry  # noqa: PLC0415

    table: dict[str, Any] = {"container": options.container, "empty": options.empty, "full": options.full}
    for key in ("fill_time", "depth"):
        if (value := getattr(options, key)) is not None:
            table[key] = value
    if options.drained:
        table["drained"] = [one.split("=", 1) for one in options.drained]
    try:
        weighing = read_sample(table).weighing
    except InputError as error:
        raise InputError(error.what, where=_option(options, error.where), remedy=error.remedy) from error
    entry = sample_entry(weighing)
    if options.toml:
        import tomlkit  # noqa: PLC0415

        text = "[[sample]]\n" + tomlkit.dumps(entry).rstrip()
        say.result(entry, text)
        return DONE
    air = None if options.air is None else Estimate.normal(options.air * 1e-3, options.u_air * 1e-3, "m3/s")
    found = evaluate(weighing, air)
    system = SYSTEMS[options.units]
    rows = (
        ("density", found.density, system["density"]),
        ("expansion ratio", found.expansion, None),
        ("output", found.output, system["foam_rate"]),
        ("solution in it", found.solution_rate, system["foam_rate"]),
        ("share of the air caught", found.capture, None),
        ("25 % drained after", found.drainage, system["time"]),
        ("drained after 5 min", found.drained_share, None),
    )
    lines = [f"{label:24} {_in(e, unit)}" for label, e, unit in rows if e is not None]
    if found.drainage is not None and not found.drainage.known:
        lines.append(found.drainage.assumptions[0])
    wanted = None if options.wanted is None else (min(options.wanted), max(options.wanted))
    verdicts = with_wanted(found.verdicts, found.density, wanted)
    judged = [(v.state, f"{v.state:7} {v.window.words} ({v.window.provenance})") for v in verdicts]
    lines = [text for state, text in judged if state in ("above", "below")] + lines  # what is wrong comes first
    lines = list(found.remarks) + lines
    lines += [text for state, text in judged if state not in ("above", "below")]
    asked = ""
    if air is not None:
        asked = question_of(weighing, found, (), air.value, options.u_air / options.air)
    if asked:
        lines.insert(0, f"Check this sample: {asked}")
    say.result({"entry": entry, "sample": replace(found, verdicts=verdicts), "question": asked}, "\n".join(lines))
    return DONE


def _option(options: Namespace, where: str) -> str:
    """The option that stands for an entry of a sample, as "--fill-time" for "sample: fill_time"."""
    entry, comma, rest = where.rpartition(": ")[2].partition(",")
    entry = entry.removesuffix("_volume")
    return f"--{entry.replace('_', '-')}{comma}{rest}" if hasattr(options, entry) else where


def _in(estimate: Any, unit: Any) -> str:
    return full_text(estimate, unit or RATIO)


# --- batch ------------------------------------------------------------------------------------------------------------


def _batch_options(sub: ArgumentParser) -> None:
    sub.add_argument("--density", required=True, metavar="DENSITY", help="density wanted (600, or 37 lb/ft3)")
    sub.add_argument("--dry", action="store_true", help="that is the oven-dry density, not the cast one")
    sub.add_argument("--volume", required=True, metavar="VOLUME", help="volume to fill (120 L)")
    sub.add_argument(
        "--water-cement", type=number(low=0), default=0.5, metavar="RATIO", help="all water over cement (0.5)"
    )
    sub.add_argument(
        "--sand-cement", type=number(low=0), default=0.0, metavar="RATIO", help="sand over cement by mass (0)"
    )
    sub.add_argument("--bag", default="25 kg", metavar="MASS", help="cement in one bag (25 kg)")
    sub.add_argument("--bucket", default="10 L", metavar="VOLUME", help="bucket that foam is measured in (10 L)")
    sub.add_argument("--reservoir", metavar="VOLUME", help="solution that it holds (of the trial's build)")
    sub.add_argument("--folder", type=Path, metavar="DIR", help="with --trial: folder of the trials")
    sub.add_argument("--trial", metavar="NAME", help="the trial whose foam it is")
    sub.add_argument(
        "--foam-density", type=number(above=0), metavar="KG/M3", help="density of the foam, without a trial"
    )
    sub.add_argument(
        "--u-foam-density", type=number(low=0), metavar="KG/M3", help="its standard uncertainty (1 %% of it)"
    )
    sub.add_argument(
        "--foam-output", type=number(above=0), metavar="L/MIN", help="foam the generator makes, without a trial"
    )
    sub.add_argument(
        "--u-foam-output", type=number(low=0), metavar="L/MIN", help="its standard uncertainty (2.5 %% of it)"
    )
    sub.add_argument(
        "--dilution", default=None, help="of the solution: 1+30 or 1 in 31 (of the trial's build, else 1+40)"
    )
    sub.add_argument("--survival", type=number(), metavar="SHARE", help="share of the air still there after mixing")
    sub.add_argument(
        "--slurry", type=number(above=0), metavar="KG/M3", help="slurry weighed before the foam: gives the correction"
    )
    sub.add_argument(
        "--cup", type=number(above=0), metavar="KG/M3", help="foamed concrete weighed: gives the correction"
    )
    sub.add_argument(
        "--keep-cup", action="store_true", help="with --trial and --cup: keep the cup, later batches learn from it"
    )
    sub.add_argument("--report", type=Path, metavar="FILE", help="write the report (HTML)")
    sub.add_argument("--card", type=Path, metavar="FILE", help="write the card for the wall (HTML)")
    add_units(sub)


def _batch(options: Namespace, say: Say) -> int:
    from frothline.foam.batch_check import check_figure  # noqa: PLC0415
    from frothline.foam.batch_order import BatchOrder  # noqa: PLC0415
    from frothline.foam.concrete_batch import correct_cast, correct_slurry, mix_batch  # noqa: PLC0415
    from frothline.report import batch_card, batch_data, batch_report, batch_rows  # noqa: PLC0415

    order = BatchOrder(
        check_figure("density", _read(options, "density", "density"), "--density"),
        _read(options, "volume", "volume"),
        options.water_cement,
        options.sand_cement,
        dry=options.dry,
        bag=_read(options, "bag", "mass"),
        bucket=_read(options, "bucket", "volume"),
    )
    trial, foam = _foam(options)
    try:
        batch = mix_batch(order, foam)
    except InputError as error:
        name = error.where.removeprefix("batch: ").replace("_", "-").replace(" ", "-")
        if not hasattr(options, name.replace("-", "_")):
            raise
        raise InputError(error.what, where=f"--{name}", remedy=error.remedy) from error
    corrections = {
        key: correct(batch, foam, value)
        for key, value, correct in (("slurry", options.slurry, correct_slurry), ("cup", options.cup, correct_cast))
        if value is not None
    }
    system = SYSTEMS[options.units]
    data = batch_data(batch, foam) | {"trial": None if trial is None else trial.name}
    lines = ["the foam is simulated: nothing of this is to be mixed"] if trial is not None and trial.simulated else []
    for key, found in corrections.items():
        data[f"correction_{key}"] = {
            "foam": found.foam,
            "slurry": found.slurry,
            "run_time": found.run_time if math.isfinite(found.run_time) else None,
            "survival": found.survival,
            "words": found.words,
        }
        lines.append(f"{key} of {getattr(options, key):.0f} kg/m³: {found.words}")
    lines += [f"warning: {one}" for one in batch.warnings]
    lines += batch.said[len(batch.warnings) :]
    lines += [f"{a:30} {b:>22}   one bag {c}" for a, b, c in batch_rows(batch, system)]
    lines.append(f"cast density to expect  {full_text(batch.cast_density, system['density'])}")
    lines.append(f"dry density to expect   {full_text(batch.dry_density, system['density'])}")
    lines += [f"assumed: {one}" for one in dict.fromkeys((*foam.survival.assumptions, *foam.start_up.assumptions))]
    if options.keep_cup:
        data["kept"] = _keep(options, trial, batch, corrections)
        lines.append(f"cup kept in {data['kept']}")
    for key, make in (("report", batch_report), ("card", batch_card)):
        path: Path | None = getattr(options, key)
        if path is not None:
            data[key] = make(batch, foam, trial=trial, system=system).write(path)
            lines.append(f"{key} written to {path}")
    lines += list(batch.cautions)
    say.result(data, "\n".join(lines))
    return DONE


def _read(options: Namespace, key: str, kind: str) -> float:
    from frothline.quantities import read_quantity  # noqa: PLC0415

    try:
        return read_quantity(getattr(options, key), kind)
    except ValueError as error:
        raise InputError(str(error), where=f"--{key}") from error


def _keep(
    options: Namespace, trial: Trial | None, batch: ConcreteBatch, corrections: Mapping[str, SlurryCorrection]
) -> Path:
    """Keep the weighed cup next to the trial's recording; gives the file."""
    from frothline.trials.cup_notes import keep_cup  # noqa: PLC0415

    cup = corrections.get("cup")
    if trial is None or cup is None or cup.survival is None:
        raise InputError("a cup is kept with its trial", where="--keep-cup", remedy="Give --trial and --cup, too")
    keep_cup(trial.path, options.cup, batch.mix.cast_density, cup.survival)
    return trial.path.with_suffix(".toml")


def _foam(options: Namespace) -> tuple[Trial | None, MeasuredFoam]:
    from frothline.foam.batch_check import check_figure  # noqa: PLC0415
    from frothline.foam.concrete_batch import U_TYPED_DENSITY, U_TYPED_OUTPUT  # noqa: PLC0415
    from frothline.foam.dilution import read_dilution  # noqa: PLC0415
    from frothline.trials.workshop_foam import foam_for_batch  # noqa: PLC0415

    trial: Trial | None = None
    trials: tuple[Trial, ...] = ()
    density = output = dilution = survival = reservoir = None
    if options.trial is not None:
        from frothline.bench.folders import default_folder  # noqa: PLC0415
        from frothline.trials.notebook import open_notebook  # noqa: PLC0415

        notebook = open_notebook(options.folder or default_folder())
        trial, trials = notebook.trial(options.trial), notebook.trials
    if options.foam_density is not None:
        check_figure("foam_density", options.foam_density, "--foam-density")
        u = U_TYPED_DENSITY * options.foam_density if options.u_foam_density is None else options.u_foam_density
        density = Estimate.normal(options.foam_density, u, "kg/m3", assumptions=("as given at the prompt",))
    if options.foam_output is not None:
        check_figure("foam_output", options.foam_output / 6e4, "--foam-output")
        u = U_TYPED_OUTPUT * options.foam_output if options.u_foam_output is None else options.u_foam_output
        output = Estimate.normal(options.foam_output / 6e4, u / 6e4, "m3/s", assumptions=("as given at the prompt",))
    if options.dilution is not None:
        try:
            dilution = read_dilution(options.dilution)
        except ValueError as error:
            raise InputError(str(error), where="--dilution") from error
    if options.survival is not None:
        value = check_figure("survival", options.survival, "--survival")
        u = 0.02
        said = ("as given at the prompt",)
        survival = Estimate(value, u, value - Z95 * u, min(value + Z95 * u, 1.0), "1", assumptions=said)
    if options.reservoir is not None:
        reservoir = _read(options, "reservoir", "volume")
    given: dict[str, Any] = {"density": density, "output": output, "dilution": dilution}
    given |= {"survival": survival, "reservoir": reservoir}
    try:
        return trial, foam_for_batch(trial, trials, **given)
    except InputError as error:
        remedy = "Give --foam-density, or a --trial with one"
        raise InputError(error.what, where=error.where, remedy=remedy) from error


COMMANDS = (
    Command(
        "sample",
        "what a weighed and timed container of foam says",
        _sample_options,
        _sample,
        "Foam density, expansion, output and drainage time from two weighings, a clock and a measuring glass.",
    ),
    Command(
        "batch",
        "how much of everything, and how long the generator runs",
        _batch_options,
        _batch,
        "A batch of cellular concrete by absolute volumes, from a trial's foam or from figures given here; with\n"
        "--slurry or --cup what to add. Not structural unless a licensed engineer says so.",
    ),
)
