"""``overview``: a recording over time, as the notebook page shows it."""

from __future__ import annotations

from argparse import Namespace
from typing import Any

from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.label_case import label_case
from frothline.readings.overview import overview
from frothline.readings.overview_result import SHOWN, series_of, values_in
from frothline.units import SYSTEMS, Unit

DONE = 0
_WIDTH = 22  # characters of a column
_NO_SERIES = "No sensor gave a value"


def run(options: Namespace, say: Say) -> int:
    source = options.recording
    say.progress(f"reading {source}")
    frame = overview(
        source,
        begin=options.begin,
        end=options.end,
        points=options.stretches,
        progress=lambda share: say.progress(f"reading {source}: {share:.0%}"),
        **sensors_of(options, source, say=say),
    )
    units, marks = frame.attrs["units"], frame.attrs["marks"]
    data: dict[str, Any] = {
        "path": source,
        "seconds": frame.attrs["seconds"],
        "stretch": frame.attrs["stretch"],
        "time": frame["time"].tolist(),
        "series": {
            name: {
                "unit": units[f"{name}_low"],
                "low": frame[f"{name}_low"].tolist(),
                "high": frame[f"{name}_high"].tolist(),
            }
            for name in frame.attrs["known"]
        },
        "marks": marks,
    }
    system = SYSTEMS[options.units]
    shown = [(name, *_headed(name, system)) for name in series_of(frame)]
    lines = [f"{source}: {frame.attrs['seconds']:.0f} s, in stretches of {frame.attrs['stretch']:.4g} s"]
    lines.append("From".rjust(10) + "".join(words.rjust(_WIDTH) for _, words, _ in shown) if shown else _NO_SERIES)
    columns = [[_between(*pair) for pair in zip(*values_in(frame, name, unit), strict=True)] for name, _, unit in shown]
    for time, *cells in zip(frame["time"], *columns, strict=True) if shown else ():
        lines.append(f"{time:8.1f} s" + "".join(cell.rjust(_WIDTH) for cell in cells))
    lines += [f"{mark['time']:8.1f} s  {mark['kind']}: {mark['text']}" for mark in marks]
    say.result(data, "\n".join(lines))
    return DONE


def _headed(name: str, system: dict[str, Unit]) -> tuple[str, Unit]:
    """Head of a column, and its unit."""
    quantity, _ = SHOWN[name]
    return f"{label_case(quantity)}, {system[quantity].symbol}", system[quantity]


def _between(low: float, high: float) -> str:
    """Lowest and highest value of a stretch; a dash where it has no sample."""
    return "–" if low != low else f"{low:.4g} to {high:.4g}"  # noqa: PLR0124  NaN
