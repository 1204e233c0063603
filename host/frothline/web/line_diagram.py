"""The diagram of the line at the top of every page. Air flows from left to right; each part links to its page.

    source ── spool ── generator ── run        batch   notebook

The drawing is one inline SVG in the page before anything else is loaded. Values appear at the place of measurement, and
faults are marked at their place with a word. A narrow screen shows the same as a strip of marks. Only the words change;
``words`` makes them, and the page's script moves words that would overlap.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from frothline.bench.snapshot import Snapshot
from frothline.formatting import DASH, Shown
from frothline.web.live_figures import LineFault, Place, figure
from frothline.web.page_link import AXIS, PageLink

WIDTH, HEIGHT = 1200, 170
NAME, STATUS = 132, 156  # heights of the name of a part and of its state
ROOM = 14  # space above, for words of faults


# Path of the dot, from the housing to the bucket.
AIR_PATH = f"M118 {AXIS}H880q26 0 34 -18"
HOSES = f'<path class="ink hose" d="M170 {AXIS}H318M542 {AXIS}H626"/>'

# Position of a measured value: key, x, y, anchor.
VALUES: tuple[tuple[str, int, int, str], ...] = (
    ("pressure", 364, 36, "middle"),
    ("speed", 430, 110, "middle"),
    ("temperature", 552, 36, "end"),
    ("flow", 250, 60, "middle"),
    ("foam", 952, 36, "middle"),
    ("solution", 664, 33, "middle"),
)


@dataclass(frozen=True)
class Spot:
    """Place of a fault: its mark, its word, the value that it replaces, and its screen-reader text."""

    x: int
    text: tuple[int, int]
    instead: str
    aloud: str


SPOTS: dict[Place, Spot] = {
    "source": Spot(90, (90, 26), "", "at the source"),
    "inlet": Spot(232, (232, 104), "", "between source and spool"),
    "tap": Spot(364, (364, 36), "pressure", "at the pressure tap"),
    "spool": Spot(500, (520, 36), "temperature", "on the spool"),
    "rotor": Spot(430, (430, 110), "speed", "at the rotor"),
    "hose": Spot(584, (584, 104), "", "at the hose after the spool"),
    "generator": Spot(725, (725, 36), "solution", "at the generator"),
    "outlet": Spot(824, (764, 110), "", "at the outlet"),
    "bucket": Spot(952, (952, 36), "foam", "at the bucket"),
}


def drawing(links: Sequence[PageLink]) -> str:
    """The line as one SVG with empty values; its parts are the navigation links."""
    parts = "".join(
        f'<a href="{part.path}" data-page="{part.key}" aria-label="{part.key}: {escape(part.question)}">'
        f'<rect class="area" x="{part.left}" y="6" width="{part.right - part.left}" height="{HEIGHT - 12}" rx="6"/>'
        f"{part.drawing}"
        f'<text class="name" x="{part.middle}" y="{NAME}" text-anchor="middle">{part.key}</text>'
        f'<text class="part-status" x="{part.middle}" y="{STATUS}" text-anchor="middle" '
        f'data-live="status-{part.key}"></text></a>'
        for part in links
    )
    values = "".join(
        f'<text class="value" data-live="line-{key}" x="{x}" y="{y}" text-anchor="{anchor}"></text>'
        for key, x, y, anchor in VALUES
    )
    faults = "".join(
        f'<g class="fault" data-state="fault-{place}"><path d="M{spot.x - 9} {AXIS - 9}l18 18m0-18l-18 18"/>'
        f'<text x="{spot.text[0]}" y="{spot.text[1]}" text-anchor="middle" data-live="fault-{place}"></text></g>'
        for place, spot in SPOTS.items()
    )
    return (
        f'<svg class="line" viewBox="0 {-ROOM} {WIDTH} {HEIGHT + ROOM}" role="group" '
        'aria-label="the air line, from source to bucket">'
        f'{parts}{HOSES}<path id="air" class="way" d="{AIR_PATH}"/>{values}{faults}'
        '<circle id="dot" r="5.5" cx="118" cy="74"/></svg>'
    )


def strip(links: Sequence[PageLink]) -> str:
    """The line for a narrow screen: a mark for each part with its name and state, and the value of the chosen part.

    The mark of a part that is done has a tick, that of one under way is filled.
    """
    marks = "".join(
        f'<a href="{part.path}" data-page="{part.key}"><i aria-hidden="true" data-state="status-{part.key}"></i>'
        f'<span>{part.key}</span> <small data-live="status-{part.key}"></small></a>'
        for part in links
    )
    return f'<div class="strip">{marks}</div><p class="strip-value" data-live="strip" data-state="strip"></p>'


def words(
    snapshot: Snapshot, faults: Sequence[LineFault], page: str, system: str, of_run: Mapping[str, str] | None = None
) -> tuple[dict[str, str], dict[str, str]]:
    """Texts and states of the line: ``(texts, states)``, by the keys in the drawing.

    ``of_run`` : "line-foam" and "line-solution" during a run
    """
    shown = {
        "pressure": _of(snapshot, "line_pressure", "pressure", system),
        "speed": _of(snapshot, "air_speed", "speed", system),
        "temperature": _of(snapshot, "line_temperature", "temperature", system),
        "flow": _of(snapshot, "standard_flow", "flow", system),
    }
    texts = {f"line-{key}": _short(item) for key, item in shown.items()}
    texts |= {"line-foam": "", "line-solution": ""} | dict(of_run or {})
    texts["strip"] = _strip(page, shown, faults, [texts["line-foam"], texts["line-solution"]])
    states = {"strip": "alarm" if any(fault.alarm for fault in faults) else ""}
    for place, spot in SPOTS.items():
        found = [fault for fault in faults if fault.place == place]
        if found and spot.instead:
            texts[f"line-{spot.instead}"] = ""
        texts[f"fault-{place}"] = ", ".join(fault.word for fault in found)
        states[f"fault-{place}"] = "" if not found else "alarm" if any(f.alarm for f in found) else "warn"
    return texts, states


def _of(snapshot: Snapshot, name: str, quantity: str, system: str) -> Shown:
    return figure(snapshot, name).shown(quantity, system)


def _short(item: Shown) -> str:
    return DASH if item.value == DASH else f"{item.value} {item.unit}"


def _both(one: Shown, word: str, other: Shown) -> str:
    if one.value == other.value == DASH:
        return f"{DASH} {one.under}"
    return f"{_short(one)} {word} {_short(other)}"


def _strip(page: str, shown: dict[str, Shown], faults: Sequence[LineFault], of_run: Sequence[str]) -> str:
    parts = {
        "source": _both(shown["pressure"], "at", shown["flow"]),
        "generator": _both(shown["pressure"], "at", shown["flow"]),
        "run": ", ".join(filter(None, of_run)) or _both(shown["pressure"], "at", shown["flow"]),
        "batch": ", ".join(filter(None, of_run)),
        "spool": _both(shown["speed"], "at", shown["temperature"]),
    }
    said = [f"{fault.word} {SPOTS[fault.place].aloud}" for fault in faults]
    figures = [parts[page]] if page in parts else []
    alarm = any(fault.alarm for fault in faults)  # a phone shows one line of it: the alarm comes before the figures
    return "; ".join([*said, *figures] if alarm else [*figures, *said])
