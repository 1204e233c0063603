"""The report of a series of trials: comparison, changes, effects and next trial."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

from frothline.errors import FrothlineError, InputError
from frothline.formatting import interval_text, local_day, value_text
from frothline.generator.drawing import draw
from frothline.report.html_page import Report, page, picture, section, table, words
from frothline.report.pressure_flow_chart import plane
from frothline.report.provenance import RecordingProvenance, caution_section, provenance
from frothline.report.svg_chart import intervals
from frothline.rounding import counted
from frothline.trials.compare import compare
from frothline.trials.figures import BY_NAME, shown_figures, unit_of
from frothline.trials.next_trial import NextTrial
from frothline.trials.notebook import Notebook
from frothline.trials.trial import Trial
from frothline.trials.which_helped import EffectsOfChanges, which_helped
from frothline.units import METRIC, Unit, name_of_system

RESPONSES = ("density", "drainage", "output")
_DRAWN = {"hose", "tube", "body", "packing", "outlet"}  # parts of a build in its side view


def series_report(
    notebook: Notebook,
    *,
    names: Sequence[str] = (),
    responses: Sequence[str] = RESPONSES,
    system: Mapping[str, Unit] = METRIC,
) -> Report:
    """Report of all trials of a notebook, or of the named ones. Raises InputError without a trial."""
    trials = tuple(notebook.trial(name) for name in names) if names else notebook.trials
    if not trials:
        raise InputError(
            "no trial in this folder", where=str(notebook.folder), remedy="A trial is a recording with kind = “run”."
        )
    helped, not_told = _helped(trials, responses)
    ahead, no_plan = _ahead(notebook)
    sources = [RecordingProvenance.of(one.path) for one in trials]
    reference = trials[0]
    highest = max((one.line_pressure.upper for one in trials if one.line_pressure is not None), default=0.0)
    sections = [
        section("Comparison of trials", _table(trials, system)),
        section("Figures at a glance", *(picture(_glance(trials, name, system)) for name in responses)),
        section(f"What changed, from “{reference.title}”", *_changes(trials, name_of_system(system))),
        section("Which change helped", *(_effects(one, system) for one in helped), words(not_told)),
        section("What to try next", _next(ahead, name_of_system(system)), words([no_plan] if no_plan else [])),
        section("Operating points", *_planes(notebook, trials, system)),
        section(
            "Unknown values and reasons",
            table(
                ["trial", "figure", "why"],
                _unknown(trials) + [[one.title, "", problem] for one in trials for problem in one.problems],
            ),
        ),
        section(
            "Stretches behind pressure, air and solution",
            table(
                ["trial", "from", "to", "reason"],
                [
                    [one.title, f"{one.used.start:.1f} s", f"{one.used.end:.1f} s", one.used.why]
                    for one in trials
                    if one.used is not None
                ],
                right=(1, 2),
            ),
        ),
        caution_section(highest, next((one.build for one in trials if one.build is not None), None)),
        provenance(sources),
    ]
    data = {
        "trials": [one.as_dict() for one in trials],
        "effects": [one.as_dict() for one in helped],
        "effects_not_told": not_told,
        "next": None if ahead is None else ahead.as_dict(),
        "recordings": [vars(one) for one in sources],
    }
    first, last = (one.started for one in (trials[0], trials[-1]))
    when = f"{local_day(first)} to {local_day(last)}" if first and last else "times not known"
    return page(
        f"Trials: {notebook.folder.name}",
        f"{counted(len(trials), 'trial')}, {when}",
        sections,
        data,
        simulated=any(one.simulated for one in trials),
        system=system,
        names=[name for one in trials for name in (one.title, one.name, one.build_name, one.air_source) if name],
    )


def _unknown(trials: Sequence[Trial]) -> list[list[str]]:
    """Unknown figures with their reasons; trials with one reason share a row."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in trials:
        for name, why in one.why.items():
            label = BY_NAME[name].label if name in BY_NAME else name.replace("_", " ")
            found.setdefault((label, why), []).append(one.title)
    every = len(trials)
    return [
        [f"all {every} trials" if len(titles) == every > 1 else "; ".join(titles), label, why]
        for (label, why), titles in found.items()
    ]


def _table(trials: Sequence[Trial], system: Mapping[str, Unit]) -> str:
    """A table with one row per trial and units in the head, because a page is higher than wide."""
    left_out = ("expansion", "water_temperature")
    chosen = [one for one in shown_figures([]) if one.name not in left_out]
    head = ["trial"]
    for figure in chosen:
        symbol = unit_of(figure, system).symbol
        head.append(f"{figure.label}, {symbol}" if symbol else figure.label)
    rows = []
    for number, one in enumerate(trials, 1):
        batch = one.solution_batch and f"batch {one.solution_batch}"
        about = ", ".join(filter(None, (one.build_name, one.air_source, batch)))
        cells = [f"{number}. {escape(one.title)}<br><small>{escape(about)}</small>"]
        for figure in chosen:
            unit = Unit("", unit_of(figure, system).factor, unit_of(figure, system).offset)
            estimate = one.figure(figure.name)
            under = interval_text(estimate, unit) or one.why.get(figure.name, "")
            cells.append(f"{escape(value_text(estimate, unit))}<br><small>{escape(under)}</small>")
        rows.append(cells)
    return table(head, rows, right=range(1, len(head)), raw=range(len(head)), kind="many")


def _glance(trials: Sequence[Trial], name: str, system: Mapping[str, Unit]) -> str:
    figure = BY_NAME[name]
    unit = unit_of(figure, system)
    rows = [
        (one.title, unit.from_si(e.value), unit.from_si(e.lower), unit.from_si(e.upper))
        for one in trials
        if (e := one.figure(name)) is not None and e.known
    ]
    return intervals(rows, unit=f"{figure.label}, {unit.symbol}", title=f"{figure.label} of each trial", zero=False)


def _changes(trials: Sequence[Trial], system: str) -> list[str]:
    reference, out, drawn = trials[0], [], set()
    for one in trials[1:]:
        found = compare(reference, one, trials)
        key = tuple((d.path, str(d.after)) for d in found.changed)
        picture_of = ""
        if any(d.path.partition(".")[0] in _DRAWN for d in found.changed) and key not in drawn:
            drawn.add(key)
            picture_of = picture(found.drawing(system=system), "Marked: what is different.", "drawing")
        out.append(f'<div class="keep"><h3>{escape(one.title)}</h3><p>{escape(found.words)}.</p>{picture_of}</div>')
    return out


def _helped(trials: Sequence[Trial], responses: Sequence[str]) -> tuple[list[EffectsOfChanges], list[str]]:
    found, refused = [], []
    for name in responses:
        try:
            found.append(which_helped(trials, name))
        except FrothlineError as error:
            refused.append(f"{BY_NAME[name].label}: {error}")
    return found, refused


def _effects(one: EffectsOfChanges, system: Mapping[str, Unit]) -> str:
    unit, name = one.shown_unit(system).symbol or "1", name_of_system(system)
    rows = [
        (" ".join(one.factor_shown(e, name)), *one.ends_shown(e, system))
        for e in sorted(one.report.effects, key=lambda e: e.p_value)
    ]
    chart = intervals(rows, unit=f"change of the {one.label}, {unit}", title=f"Effects on the {one.label}")
    runs = "<p>Runs that would separate them:</p>" + words(one.runs) if one.runs else ""
    caption = "From the low to the high setting, with 95 % intervals. Open dots: the interval includes no change."
    return (
        f'<div class="keep"><h3>{escape(one.label[:1].upper() + one.label[1:])}</h3>{picture(chart, caption)}</div>'
        f"{words(one.words)}{runs}"
    )


def _ahead(notebook: Notebook) -> tuple[NextTrial | None, str]:
    if not (notebook.folder / "plan.toml").exists():
        return None, ""
    try:
        return notebook.next_run(), ""
    except FrothlineError as error:
        return None, str(error)


def _next(ahead: NextTrial | None, system: str) -> str:
    if ahead is None:
        return ""
    rows = [
        [str(k), f"batch {r.batch}", ahead.plan.words(r.settings, system), r.why] for k, r in enumerate(ahead.runs, 1)
    ]
    drawing = ""
    if ahead.build is not None:
        title = "" if ahead.compared is None else ahead.compared.title
        drawing = picture(
            draw(ahead.build, changed=ahead.marked, system=system), f"Marked: what differs from “{title}”.", "drawing"
        )
    said = words(f"excluded: {one}" for one in ahead.left_out)
    return f'<p class="lead">{escape(ahead.reason)}</p>{table(["", "", "settings", "why"], rows)}{drawing}{said}'


def _planes(notebook: Notebook, trials: Sequence[Trial], system: Mapping[str, Unit]) -> list[str]:
    out = []
    for name in dict.fromkeys(one.air_source for one in trials):
        mine = [
            (str(k), one.line_pressure, one.standard_flow)
            for k, one in enumerate(trials, 1)
            if one.air_source == name and one.line_pressure is not None and one.standard_flow is not None
        ]
        try:
            fit = notebook.curve(name)
        except FrothlineError:
            fit = None
        curve = "its curve from its sweeps" if fit is not None else "its curve is not known"
        out.append(
            picture(
                plane(fit, (), mine, system=system, title=f"Trials on {name or 'an unnamed source'}"),
                f"{name or 'Unnamed source'}: {curve}, and its trials by their number in the table.",
            )
        )
    return out
