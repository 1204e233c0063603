"""A report as one HTML file with style, charts and figures, without network access, printable.

The file has the figures twice: as text, and as the JSON of ``--json`` in a script element that is never executed.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from importlib import resources
from pathlib import Path
from typing import Any

from frothline import __version__
from frothline.atomic_file import write_atomically
from frothline.estimate import Estimate
from frothline.formatting import interval_text, value_text
from frothline.label_case import Name, label_case
from frothline.sentence_units import in_units_html
from frothline.units import METRIC, Unit, name_of_system

SIMULATED = "Simulated: a physical model made these data. No real generator or foam."

# the light palette of the pages, so that paper and screen look alike; a test compares them
COLOURS = {
    "paper": "#fbfaf6",
    "ink": "#1f2b33",
    "faint": "#53606a",
    "rule": "#d5d3ca",
    "measured": "#0b6b62",
    "predicted": "#8a5a00",
    "alarm": "#a32d18",
}
_COLOURS_AS_CSS = "".join(f"--{name}:{colour};" for name, colour in COLOURS.items())


def _style() -> str:
    paper = resources.files("frothline.report").joinpath("paper.css").read_text("utf-8")
    return f":root{{{_COLOURS_AS_CSS}}}\n{paper}"


@dataclass(frozen=True)
class Report:
    """A finished report: ``html`` is the whole file, ``data`` its figures in SI as ``--json`` gives them."""

    title: str
    html: str = field(repr=False)
    data: dict[str, Any] = field(repr=False)

    def write(self, path: str | Path) -> Path:
        """Write the file atomically. Raises RecordingUnwritable."""
        target = Path(path)
        write_atomically(target, lambda file: file.write(self.html.encode("utf-8")))
        return target

    def _repr_html_(self) -> str:
        return self.html


def page(
    title: str,
    subtitle: str,
    sections: Iterable[str],
    data: dict[str, Any],
    *,
    simulated: bool,
    style: str = "",
    footer: str = "",
    system: Mapping[str, Unit] = METRIC,
    names: Collection[str] = (),
) -> Report:
    """Put a report together. ``sections`` are HTML; ``data`` must be plain JSON.

    ``system`` : units of its sentences;  ``names`` : names and files, which are unchanged
    """
    data = {"report": title, "frothline": __version__, "simulated": simulated, **data}
    # in a person's notes "</script" would end the script element early, and "<!--<script" would keep it open
    inside = json.dumps(data, ensure_ascii=False, allow_nan=False).replace("<", "\\u003c")
    flag = f'<p class="simulated">{escape(SIMULATED)}</p>' if simulated else ""
    html = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        # the policy forbids the browser to fetch anything
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; "
        'img-src data:">'
        f"<title>{escape(title)}</title><style>{_style()}{style}</style></head><body><main>"
        f'<header><h1>{escape(title)}</h1><p class="faint">{escape(subtitle)}</p>{flag}</header>'
        f"{in_units_html(''.join(sections), name_of_system(system), names)}"
        f"<footer>Written by Frothline {escape(__version__)}. {footer}"
        "This file contains the same figures as JSON.</footer>"
        f'<script type="application/json" id="figures">{inside}</script></main></body></html>'
    )
    return Report(title, html, data)


# --- pieces ---------------------------------------------------------------------------------------------------------


def section(heading: str, *content: str) -> str:
    """A heading with its content; empty without content."""
    body = "".join(content)
    return f"<section><h2>{escape(heading)}</h2>{body}</section>" if body else ""


def words(sentences: Iterable[str], kind: str = "") -> str:
    """Sentences as a list, each with a capital letter."""
    items = "".join(f"<li>{escape(one[:1].upper() + one[1:])}</li>" for one in sentences if one)
    mark = f' class="{kind}"' if kind else ""
    return f"<ul{mark}>{items}</ul>" if items else ""


def large(items: Sequence[tuple[str, str, str]], kind: str = "measured") -> str:
    """A few figures in large type: label, value, and below the interval or the reason."""
    cells = "".join(
        f'<div><small>{escape(label_case(label))}</small><b class="{kind}">{escape(value)}</b>'
        f"<small>{escape(under)}</small></div>"
        for label, value, under in items
    )
    return f'<div class="large">{cells}</div>'


def figure_rows(rows: Iterable[tuple[str, Estimate | None, Unit, str]]) -> str:
    """A table of figures: label, value, interval, and remark (the reason if unknown)."""
    body = []
    for label, estimate, unit, why in rows:
        said = why if estimate is None or not estimate.known else "; ".join(estimate.assumptions)
        if estimate is not None and estimate.extrapolated:
            said = "; ".join(filter(None, ("outside what was measured", said)))
        body.append([label_case(label), value_text(estimate, unit), interval_text(estimate, unit), said])
    return table(["", "", "95 % interval", ""], body, right=(1, 2))


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    right: Sequence[int] = (),
    raw: Sequence[int] = (),
    kind: str = "",
) -> str:
    """An HTML table of texts; columns in ``right`` are right-aligned, those in ``raw`` are already HTML.

    A ``Name`` in a cell is unchanged in every system of units.
    """
    mark = [' class="n"' if k in right else "" for k in range(len(head))]
    top = "".join(f"<th{mark[k]}>{escape(label_case(cell))}</th>" for k, cell in enumerate(head))
    body = "".join(
        "<tr>"
        + "".join(f"<td{mark[k]}>{cell if k in raw else _cell(cell)}</td>" for k, cell in enumerate(row))
        + "</tr>"
        for row in rows
    )
    if not body:
        return ""
    heading = f"<thead><tr>{top}</tr></thead>" if any(head) else ""
    named = f' class="{kind}"' if kind else ""
    return f'<div class="wide"><table{named}>{heading}<tbody>{body}</tbody></table></div>'


def _cell(text: str) -> str:
    return f'<span translate="no">{escape(text)}</span>' if isinstance(text, Name) else escape(text)


def picture(svg: str, caption: str = "", kind: str = "") -> str:
    """A picture with its caption; empty without a picture."""
    if not svg:
        return ""
    under = f"<figcaption>{escape(caption)}</figcaption>" if caption else ""
    return f'<figure class="{kind}">{svg}{under}</figure>'
