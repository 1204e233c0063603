"""The page that ``interval_coverage`` writes: Markdown tables and a drawing, nothing that must be installed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from scores import RESULTS, Outcome, Score, score

WIDTH, ROW, LEFT = 760, 26, 250


def write(
    folder: Path,
    seed: int,
    sweeps: int,
    outcomes: Sequence[Outcome],
    refused: Sequence[str],
    awkward: Sequence[Outcome],
) -> Path:
    """Writes ``coverage.md`` and ``coverage.svg`` into ``folder``; gives the path of the page."""
    folder.mkdir(parents=True, exist_ok=True)
    groups = grouped(outcomes)
    (folder / "coverage.svg").write_text(drawing(groups), encoding="utf-8")
    page = folder / "coverage.md"
    page.write_text(text(seed, sweeps, outcomes, refused, awkward, groups), encoding="utf-8")
    return page


def grouped(outcomes: Sequence[Outcome]) -> list[tuple[str, str, Score]]:
    """Result, group and score: all sweeps first, then by kind of source, then by kind of sensor error."""
    rows: list[tuple[str, str, Score]] = []
    for name in RESULTS:
        mine = [item for item in outcomes if item.result == name]
        choices = [("all", mine)]
        choices += [(kind, [o for o in mine if o.kind == kind]) for kind in sorted({o.kind for o in mine})]
        choices += [
            ("no common sensor errors", [o for o in mine if not o.common]),
            ("common sensor errors", [o for o in mine if o.common]),
        ]
        rows += [(name, group, score(chosen)) for group, chosen in choices if chosen]
    return rows


def text(
    seed: int,
    sweeps: int,
    outcomes: Sequence[Outcome],
    refused: Sequence[str],
    awkward: Sequence[Outcome],
    groups: Sequence[tuple[str, str, Score]],
) -> str:
    """The whole page."""
    forms = Counter((item.kind, item.form) for item in outcomes if item.result == "shut_off")
    lines = [
        "# How often the 95 % intervals hold the truth",
        "",
        f"Made by `python tests/performance/interval_coverage.py --sweeps {sweeps} --seed {seed}`.",
        "Each sweep: a random air source, throttled by a random hand, read by sensors with random errors",
        "(`tests/performance/sweep_truth.py`, which shares no code with the fit); from its samples steady points,",
        "curve and operating point with a known resistance.",
        f"{len(refused)} of {sweeps} sweeps were refused.",
        "",
        "The bracket is the 95 % interval of the share itself (Clopper-Pearson). Bias is the mean error over the mean",
        "width of the interval. Half-width is the median of half the interval over the true value.",
        "",
        "![coverage](coverage.svg)",
        "",
        "## All sweeps",
        "",
        *table([(RESULTS[name], found) for name, group, found in groups if group == "all"], "result"),
        "",
        "Required: coverage 93 to 97 %, bias below 0.1.",
    ]
    for name, words in RESULTS.items():
        lines += ["", f"## {words.capitalize()}, by kind of sweep", ""]
        lines += table([(group, found) for result, group, found in groups if result == name], "sweeps")
    lines += ["", "## Shapes chosen", "", "| source | shape with the best criterion | sweeps |", "|---|---|---|"]
    lines += [f"| {kind} | {form} | {count} |" for (kind, form), count in sorted(forms.items())]
    if awkward:
        lines += [
            "",
            "## Power curves",
            "",
            "1 - x^n with n from 1.2 to 2.5: the curvature at no flow is infinite below 2, and no polynomial follows.",
            "Not counted above. With fewer points, other lowest flows and published fan tables: the page that",
            "`python tests/performance/test_shut_off_coverage.py 400` prints.",
            "",
        ]
        rows = [(RESULTS[name], [o for o in awkward if o.result == name]) for name in RESULTS]
        lines += table([(words, score(found)) for words, found in rows if found], "result")
    if refused:
        lines += ["", "## Refused", "", *(f"- {count} x {words}" for words, count in Counter(refused).most_common())]
    return "\n".join(lines) + "\n"


def table(rows: Sequence[tuple[str, Score]], head: str) -> list[str]:
    """A Markdown table of scores."""
    lines = [f"| {head} | n | coverage | bias / width | half-width |", "|---|---|---|---|---|"]
    for words, found in rows:
        low, high = found.coverage_range
        lines.append(
            f"| {words} | {found.count} | {found.coverage:.1%} ({low:.1%} – {high:.1%}) | {found.bias:+.3f} | "
            f"{found.half_width:.2%} |"
        )
    return lines


def drawing(groups: Sequence[tuple[str, str, Score]]) -> str:
    """Coverage of every group as a dot with its own interval, over the band 93 to 97 %."""
    low, high = 0.85, 1.0

    def x(share: float) -> float:
        return LEFT + (WIDTH - LEFT - 20) * (float(np.clip(share, low, high)) - low) / (high - low)

    height = ROW * (len(groups) + 2)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}"',
        ' font-family="sans-serif" font-size="12">',
        f'<rect width="{WIDTH}" height="{height}" fill="#fcfcfa"/>',
        f'<rect x="{x(0.93):.1f}" y="0" width="{x(0.97) - x(0.93):.1f}" height="{height - ROW}" fill="#d9ece4"/>',
        f'<line x1="{x(0.95):.1f}" x2="{x(0.95):.1f}" y1="0" y2="{height - ROW}" stroke="#2e8b70"/>',
    ]
    for k, (name, group, found) in enumerate(groups):
        y = ROW * (k + 1)
        bold = ' font-weight="bold"' if group == "all" else ""
        label = RESULTS[name] if group == "all" else group
        indent = 8 if group == "all" else 24
        ends = [x(end) for end in found.coverage_range]
        parts += [
            f'<text x="{indent}" y="{y + 4}" fill="#26323a"{bold}>{label}</text>',
            f'<line x1="{ends[0]:.1f}" x2="{ends[1]:.1f}" y1="{y}" y2="{y}" stroke="#26323a"/>',
            f'<circle cx="{x(found.coverage):.1f}" cy="{y}" r="{5 if group == "all" else 3}" fill="#2e8b70"/>',
        ]
    for share in (0.85, 0.90, 0.93, 0.95, 0.97, 1.0):
        parts.append(
            f'<text x="{x(share):.1f}" y="{height - 8}" text-anchor="middle" fill="#26323a">{share:.0%}</text>'
        )
    return "\n".join([*parts, "</svg>", ""])
