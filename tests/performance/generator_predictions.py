"""How well a generator is predicted: from its sheet, once it was measured, after a change of one part; and its foam rate.

    python tests/performance/generator_predictions.py --builds 60 --seed 2026 --runs 40 --builders 24

run from the top of the repository. Cases come from ``hidden_builds``, runs from ``foam_rates``; the page is kept in
``tests/performance/results/generator.md``.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from foam_rates import FoamSaid, runs
from hidden_builds import CHANGES, Case, draw
from learned_builds import (
    EARLIER,
    OTHERS,
    SPREADS,
    WORLDS,
    builder,
    first_and_others,
    predicted,
    predicted_by_others,
)
from scores import Outcome, score

from frothline.curve.blower import BlowerCurve
from frothline.curve.operating_point import NoCrossing
from frothline.errors import FrothlineError
from frothline.generator.model_fit import fit_to_sweeps
from frothline.generator.operating_conditions import OperatingConditions
from frothline.generator.prediction import predict
from frothline.generator.pressure_model import PressureModel
from frothline.generator.what_if import what_if

STAGES = ("from the sheet alone", "once measured", *(f"other {change}" for change in CHANGES))


@dataclass(frozen=True)
class Said:
    """One figure of one case: stage, quantity ("flow", "pressure", "change of flow"), truth and what was said (SI).

    ``base`` : what an error is told in shares of
    """

    case: int
    stage: str
    quantity: str
    truth: float
    value: float
    lower: float
    upper: float
    base: float

    @property
    def error(self):
        return (self.value - self.truth) / self.base

    @property
    def holds(self):
        return self.lower <= self.truth <= self.upper


def judge(number: int, case: Case) -> tuple[list[Said], list[str]]:
    """All figures of one case, and what was refused in words."""
    said: list[Said] = []
    words: list[str] = []

    def take(stage, quantity, truth, estimate, base=None):
        said.append(Said(number, stage, quantity, truth, estimate.value, estimate.lower, estimate.upper, base or truth))

    def take_point(stage, point, truth):
        if isinstance(point, NoCrossing) or truth is None:
            if isinstance(point, NoCrossing) != (truth is None):
                words.append(f"{stage}: {'said not to meet and does' if truth else 'said to meet and does not'}")
            return
        take(stage, "flow", truth[0], point.flow)
        take(stage, "pressure", truth[1], point.pressure)

    blower = BlowerCurve().fit(case.of_source)
    first = PressureModel(case.sheet, OperatingConditions(case.session.ambient, case.session.line_temperature))
    take_point(STAGES[0], predict(first, blower).point, case.meets)
    try:
        scaled = fit_to_sweeps(first, case.dry, case.wet).wet
    except FrothlineError as error:
        return said, [*words, f"scaling: {error.what}"]
    take_point(STAGES[1], predict(scaled, blower).point, case.meets)
    for change, (build, truth) in case.changed.items():
        result = what_if(scaled, build, blower)
        take_point(f"other {change}", result.after.point, truth)
        if result.flow_change is not None and truth is not None:
            moved = truth[0] - case.meets[0], truth[1] - case.meets[1]
            take(f"other {change}", "change of flow", moved[0], result.flow_change, case.meets[0])
            take(f"other {change}", "change of pressure", moved[1], result.pressure_change, case.meets[1])
    return said, words


def run(
    builds: int, seed: int, cling: float = 1.0, law: tuple[float, float] | None = None
) -> tuple[list[Said], list[str], int]:
    """Figures of ``builds`` cases, what was refused, and how many draws were put back.

    ``cling``, ``law`` : as in ``hidden_builds.draw``
    """
    said: list[Said] = []
    words: list[str] = []
    back = 0
    for number in range(builds):
        case, refused = draw(np.random.default_rng([seed, number]), cling, law)
        back += refused
        figures, told = judge(number, case)
        said += figures
        words += told
        if sys.stderr.isatty():
            print(f"\r{number + 1} of {builds}", end="", file=sys.stderr)
    return said, words, back


def row(words: str, said: Iterable[Said]) -> str:
    chosen = list(said)
    found = score([Outcome("", "", True, "", s.truth, s.value, s.lower, s.upper) for s in chosen])
    low, high = found.coverage_range
    errors = np.array([s.error for s in chosen])
    half = np.median([(s.upper - s.lower) / 2 / s.base for s in chosen])
    return (
        f"| {words} | {len(chosen)} | {found.coverage:.1%} ({low:.1%} – {high:.1%}) | {np.median(errors):+.1%} | "
        f"{np.median(np.abs(errors)):.1%} | {np.quantile(np.abs(errors), 0.9):.1%} | {half:.1%} |"
    )


HEAD = [
    "| what | n | coverage | median error | median size of error | 90 % within | half-width |",
    "|---|---|---|---|---|---|---|",
]


def tables(said: list[Said]) -> list[str]:
    lines = []
    for quantity in ("flow", "pressure", "change of flow", "change of pressure"):
        lines += ["", f"## {quantity.capitalize()}", "", *HEAD]
        mine = [s for s in said if s.quantity == quantity]
        for stage in STAGES:
            if chosen := [s for s in mine if s.stage == stage]:
                lines.append(row(stage, chosen))
        lines.append(row("all changes", [s for s in mine if s.stage.startswith("other")]))
    return lines


def foam_table(found: list[FoamSaid]) -> list[str]:
    """Foam rate before the sample and after."""
    rows = []
    for k, words in enumerate(("before any sample", "after one sample")):
        estimates = [(one.truth[k], one.said[k]) for one in found]
        rows.append(row(words, [Said(0, "", "", t, e.value, e.lower, e.upper, t) for t, e in estimates]))
    return [*HEAD, *rows]


def clinging(said: list[Said]) -> list[str]:
    """The same where the friction along the hose lies outside of what the model holds possible."""
    chosen = [s for s in said if s.stage in (*STAGES[:2], "other outlet")]
    rows = [
        row(f"{stage}, {quantity}", [s for s in chosen if s.stage == stage and s.quantity == quantity])
        for stage, quantity in (
            (STAGES[0], "flow"),
            (STAGES[1], "flow"),
            ("other outlet", "flow"),
            ("other outlet", "change of flow"),
        )
    ]
    return [*HEAD, *rows]


def other_law(said: list[Said]) -> list[str]:
    """The same where the wet packing follows another law than the dry one."""
    stages = {STAGES[1]: [STAGES[1]], "other packing length": ["other packing length"], "all changes": list(STAGES[2:])}
    quantities = {"once measured": ("flow", "pressure")}
    rows = [
        row(f"{words}, {quantity}", [s for s in said if s.stage in chosen and s.quantity == quantity])
        for words, chosen in stages.items()
        for quantity in quantities.get(words, ("flow", "pressure", "change of flow", "change of pressure"))
    ]
    return [*HEAD, *rows]


def learned_rows(builders: int, seed: int, own: float | None, earlier=EARLIER) -> dict[int, list[Said]]:
    """Flow of the last build of each builder from its sheet, by the number of builds that were measured before it."""
    said: dict[int, list[Said]] = {count: [] for count in earlier}
    for number in range(builders):
        cases = builder(seed, number, own, max(earlier) + 1)
        for count in earlier:
            point, truth = predicted(cases, count)
            if point is not None:
                flow = point.flow
                said[count].append(Said(number, "", "flow", truth[0], flow.value, flow.lower, flow.upper, truth[0]))
    return said


def learned_tables(builders: int, seed: int) -> list[str]:
    """What measured builds teach for the next one, for each spread of SPREADS."""
    lines: list[str] = []
    for own, words in SPREADS:
        lines += ["", f"### {words[0].upper()}{words[1:]}", "", *HEAD]
        for count, said in learned_rows(builders, seed, own).items():
            lines.append(row(f"flow, {count} measured before", said))
    return lines


def others_rows(builders: int, seed: int, own: float | None, far: bool, counts=OTHERS) -> dict[int, list[Said]]:
    """Flow of the first build of each builder from its sheet, by the number of other builders whose files are known."""
    said: dict[int, list[Said]] = {count: [] for count in counts}
    for number in range(builders):
        first, theirs = first_and_others(seed, number, own, max(counts), far)
        for count in counts:
            point, truth = predicted_by_others(first, theirs, count)
            if point is not None:
                flow = point.flow
                said[count].append(Said(number, "", "flow", truth[0], flow.value, flow.lower, flow.upper, truth[0]))
    return said


def others_tables(builders: int, seed: int) -> list[str]:
    """What the builds of other builders say about a builder's first one, for each world of WORLDS."""
    lines: list[str] = []
    for own, far, words in WORLDS:
        lines += ["", f"### {words[0].upper()}{words[1:]}", "", *HEAD]
        for count, said in others_rows(builders, seed, own, far).items():
            lines.append(row(f"flow, {count} other builders", said))
    return lines


def page(
    command: str,
    measured: list[str],
    law: list[str],
    cling: list[str],
    foam: list[str],
    learned: list[str],
    others: list[str],
    words: list[str],
    back: tuple[int, int],
    builders: int,
) -> str:
    """The kept page; ``back``: how many builds and runs were drawn again."""
    refused = "Nothing was refused." if not words else f"Refused or told wrongly: {'; '.join(words)}."
    return "\n".join(
        [
            "# Generators predicted, and their foam rate",
            "",
            f"Made by `{command}`.",
            "None of these cases was looked at before the model was as it is.",
            "",
            "Truth: the generator of the simulated rigs, whose laws are other than the model's, with its constants drawn",
            "over a plausible spread, on an air source of `sweep_truth.py`. The model gets a sheet with a builder's errors",
            "of reading, and 11 steady points of the source, 7 of the generator dry and 7 wet, read by sensors that are off",
            "by what they state. The head of `tests/performance/hidden_builds.py` lists every spread.",
            f"{back[0]} implausible draws were put back. {refused}",
            "",
            "Flow is where source and wet generator meet, at 1.2 kg/m³. Coverage: share of the 95 % intervals that hold the",
            "truth, in brackets its own 95 % interval (Clopper-Pearson; the four changes of a build are not independent of",
            "each other). Errors and half-width are shares of the true value, for a change of the value before it.",
            *measured,
            "",
            "## A wet packing that yields",
            "",
            f"Here a part of {LAW[0]:.0%} of the wet packing's pressure does not depend on the flow, and the rest goes with its",
            f"power of {LAW[1]:g}, through the same pressure where source and generator meet. The model's prior for wool is a",
            "yield part of some tens of pascals to some kilopascals and a power that is half of the dry one or so.",
            "",
            *law,
            "",
            "## What these figures do not say",
            "",
            *LIMITS,
            "",
            f"With foam that clings {CLING:g} times as much (15 to 77 Pa at 5 m/s), the same questions:",
            "",
            *cling,
            "",
            "## The next build of the same builder, from its sheet",
            "",
            "A builder's earlier builds have the same agent and kind of packing, and were swept dry and wet; the next one was",
            "not. How much more the wet packing asks for than the dry one is drawn for each builder between 2 and 6, evenly",
            "in its logarithm, and each build has its own part beside it, with the standard deviation of the logarithm in",
            "the heading. For each quantity the share of its stated variance that is each build's own is estimated, from a",
            "broad prior with a mean of a quarter. The last table is against it: each build is drawn for itself.",
            f"{builders} builders each; `tests/performance/learned_builds.py`.",
            *learned,
            "",
            "## The first build of a builder, from files of other builders",
            "",
            "Nothing of this builder was measured. Each of the other builders passed on two measured generators with the same",
            "agent and kind of packing. In the last table the other builders agree (a wet packing asks for 4.5 to 6 times the",
            "dry one) and this workshop is unlike theirs (2 to 2.5 times).",
            *others,
            "",
            "## What an earlier look mended",
            "",
            *MENDED,
            "",
            "## Foam rate",
            "",
            "Runs on the modelled rig from pin to figure (`tests/performance/foam_rates.py`): the generators drawn as above,",
            "a bucket of 10 to 20 L filled after 25 s, weighed and timed by hand, the rate judged before and after it. No",
            f"scale under the reservoir helps. {back[1]} draws made no foam on that rig's air source and were left out.",
            "",
            *foam,
            "",
            "Before a sample the factor-of-two interval is a statement about foams in general; the truths were drawn inside",
            "it, so that its coverage proves little. After a sample the stop watch decides: 0.3 s of a bucket that fills in",
            "two or three. A larger container, or the mean of three, narrows it.",
            "",
        ]
    )


CLING = 3.0
LAW = (0.25, 0.55)  # yield share and exponent

LIMITS = (
    "- **From the sheet alone the flow is read low, by a fifth in the middle.** How much more a wet packing asks for is",
    "  taken from Larkins' beds of grains (about twelve times the dry one here); the simulated generators have two to",
    "  six times (common practice). Neither has a source for wool with foam in it. The interval holds the truth because",
    "  it is wide, not because its middle is right, and `frothline whatif` says so. A wet sweep removes it.",
    "- **Friction of foam along its hose** is 2 to 110 Pa at 5 m/s in the model and 5 to 26 Pa in the truths, both",
    "  judgement; whoever put it into the model knew the spread of the truths. The figures of another outlet are",
    "  therefore not blind: they hold for foams of that kind. The table below goes beyond it.",
    "- Once measured, and where holes change, the intervals are wider than they need be: 2 % of pressure for what the",
    "  forms cannot follow is judgement too.",
    "- Two simulated models agreeing is not a bench. Nothing here was measured on a real generator.",
)

MENDED = (
    "The first 40 cases (`--seed 101`) held 72 % of the changes of flow with another outlet, and gave intervals once",
    "measured of ±7.9 % where 1.7 % was the usual error. Three mistakes were found in the model, none a matter of width:",
    "",
    "- an error of flow was turned into one of pressure by the slope of the sheet's line, which may be twice the measured",
    "  one: the points are now weighed by the scaled model's slope;",
    "- errors of the sensors lost their names in the scaling, so that what source and generator share was taken as",
    "  independent, dry and wet too: they keep them;",
    "- foam in the outlet was momentum alone, which goes with the fourth power of the bore; the friction along the hose,",
    "  which does not, was missing, and the exponents of wet parts were bound to the flow instead of the speed in the part.",
    "",
    "A later look at these cases held 90.5 % of the flows with another outlet, and 92.9 % of the changes of pressure with a",
    "yielding packing. The cause was the distribution of the fitted factors. Points determine the sum of the pressure",
    "drops and hardly the share of the outlet. That share was normal in its logarithm, with a derivative for most of what",
    "follows from it; given the same points it has a short upper and a long lower end (in five of six cases the upper limit",
    "of the friction along the hose was 2.4 to 2.7 times too large). Factors are now drawn from the posterior of the",
    "points, and the whole model is solved in each draw. This was chosen on the seeds 71 to 75: of 420 builds it holds",
    "96.2 % of the flows with another outlet, half-width 12.6 %, where 93.6 % were held with 14.1 %.",
    "",
    "What is left is a middle that is off: in all eight of 84 builds (seed 71) whose true pressure with another outlet was",
    "in the outer 3 % of the draws on either side, the outlet's share was taken for too small, as the wet packing is taken",
    "for larger before a sweep than it truly is here, see above.",
)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--builds", type=int, default=60)
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--runs", type=int, default=40, help="for the foam rate")
    parser.add_argument("--builders", type=int, default=24, help="for the next build of the same builder")
    parser.add_argument("--out", type=Path, default=Path(__file__).parent / "results" / "generator.md")
    chosen = parser.parse_args()
    command = f"python tests/performance/{Path(__file__).name}"
    command += f" --builds {chosen.builds} --seed {chosen.seed} --runs {chosen.runs} --builders {chosen.builders}"
    said, words, back = run(chosen.builds, chosen.seed)
    cling, told, _ = run(chosen.builds // 3, chosen.seed, CLING)
    law, also, _ = run(chosen.builds, chosen.seed, law=LAW)
    foam, left_out = runs(chosen.runs, chosen.seed)
    refused = words + told + also
    learned = learned_tables(chosen.builders, chosen.seed)
    others = others_tables(chosen.builders, chosen.seed)
    text = page(
        command,
        tables(said),
        other_law(law),
        clinging(cling),
        foam_table(foam),
        learned,
        others,
        refused,
        (back, left_out),
        chosen.builders,
    )
    chosen.out.write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
