"""Forms of the source page: points entered by hand, the measured curve as a file, a source that nobody measured.

The files go into the folder ``sources`` of the recordings, and are offered wherever a recorded sweep is.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from frothline.bench.source_files import save_measured, save_points, save_unmeasured
from frothline.curve.blower import BlowerFit
from frothline.curve.loaded_filter import loaded_filter
from frothline.curve.steady_points import SteadyPoint
from frothline.errors import FrothlineError, InputError
from frothline.formatting import show_estimate
from frothline.generator.room_air import NAMES, RoomAir
from frothline.label_case import label_case
from frothline.sentence_units import in_units
from frothline.web.components import Asked, unknown
from frothline.web.elements import Node, button, node
from frothline.web.form_fields import entry
from frothline.web.pages.source import labels
from frothline.web.pages.source.other_sweeps import Overlay

if TYPE_CHECKING:
    from frothline.bench.library import LibraryFolder
    from frothline.bench.snapshot import Snapshot

POINTS, KEEP, UNMEASURED = "points", "keep", "unmeasured"  # verbs of the buttons
TABLE = "source-points-table"  # id of the field for the table


def form_pieces(groups: Mapping[str, int], *, has_curve: bool) -> list[Node | None]:
    """The three forms; without a curve that of the measured one is left out."""
    return [
        node(
            "div",
            node("h3", labels.BY_HAND),
            node("p", labels.BY_HAND_ABOUT, class_="small"),
            entry("source-points", "name", labels.SOURCE_NAME, example=labels.SOURCE_EXAMPLE),
            node(
                "div",
                node("label", labels.TABLE, for_=TABLE),
                node(
                    "textarea",
                    id=TABLE,
                    name="table",
                    rows="8",
                    spellcheck="false",
                    autocomplete="off",
                    placeholder=labels.TABLE_EXAMPLE,
                    aria_describedby=f"{TABLE}-hint",
                ),
                node("span", labels.TABLE_HINT, class_="hint", id=f"{TABLE}-hint"),
                class_="entry",
            ),
            node(
                "div",
                node("label", labels.TABLE_FILE, for_=f"{TABLE}-file"),
                node("input", type="file", id=f"{TABLE}-file", accept=".csv,.tsv,.txt,text/plain", data_into=TABLE),
                class_="entry",
            ),
            button(labels.SAVE_POINTS, f"source:{POINTS}", look=""),
            data_form="source-points",
        ),
        _keep_form() if has_curve else None,
        _unmeasured_form(groups) if groups else None,
    ]


def _keep_form() -> Node:
    return node(
        "div",
        node("h3", labels.KEEP),
        node("p", labels.KEEP_ABOUT, class_="small"),
        entry("source-keep", "name", labels.SOURCE_NAME, example=labels.SOURCE_EXAMPLE),
        entry("source-keep", "group", labels.GROUP, example=labels.GROUP_EXAMPLE),
        button(labels.SAVE_CURVE, f"source:{KEEP}", look=""),
        data_form="source-keep",
    )


def _unmeasured_form(groups: Mapping[str, int]) -> Node:
    choices = [(name, labels.of_kind(name, number)) for name, number in groups.items()]
    return node(
        "div",
        node("h3", labels.UNMEASURED),
        node("p", labels.UNMEASURED_ABOUT, class_="small"),
        entry("source-unmeasured", "group", labels.GROUP, choices=choices),
        button(labels.SAVE_UNMEASURED, f"source:{UNMEASURED}", look=""),
        data_form="source-unmeasured",
    )


def answer(asked: Asked, now: Snapshot, own: LibraryFolder, calibration: Any = None) -> str:
    """Do what a button of the forms requests; ``calibration`` is that of the session. Raises InputError, FitError."""
    values = asked.values
    name = values.get("name", "").strip()
    if asked.verb == POINTS:
        path, fit = save_points(own.folder, name, values.get("table", ""))
        said = labels.points_saved(
            path, *_figures(fit, asked.system), [label_case(in_units(one, asked.system)) for one in fit.notes]
        )
    elif asked.verb == KEEP:
        points = () if now.fit is None else now.fit.points
        group = values.get("group", "").strip()
        path = save_measured(own.folder, name, group, points, now.fit, air=_air(now), calibration=calibration)
        said = labels.saved(path)
    elif asked.verb == UNMEASURED:
        if not values.get("group", ""):
            raise InputError(labels.NO_KIND, where=labels.GROUP, remedy=labels.CHOOSE_KIND)
        path, words = save_unmeasured(own.folder, values["group"])
        said = f"{labels.saved(path)} {words}"
    else:
        raise unknown(asked.verb)
    own.expire()
    return said


def _air(now: Snapshot) -> RoomAir:
    """The air that the rig measures now."""
    latest = ((name, now.latest.get(name)) for name in NAMES)
    known: dict[str, Any] = {name: one.value for name, one in latest if one is not None and one.known}
    return RoomAir(**known, origin=labels.WHEN_SAVED) if known else RoomAir()


def _figures(fit: BlowerFit, system: str) -> tuple[str, str]:
    shown = (show_estimate(fit.shut_off, "pressure", system), show_estimate(fit.free_delivery, "flow", system))
    top, free = (f"{one.value} {one.unit}".strip() for one in shown)
    return top, free


def filter_pieces(points: tuple[SteadyPoint, ...], chosen: Overlay, system: str) -> list[Node | None]:
    """The newest point against each chosen curve: what a loaded filter takes, and the rescaled figures.

    Curves that the point does not lie below are left out.
    """
    if not points:
        return [None]
    found: list[Node | None] = []
    for other in chosen.others:
        if other.fit is None:
            continue
        try:
            loaded = loaded_filter(other.fit, points[-1:])
        except FrothlineError:
            continue
        if not loaded.significant:
            continue
        top, free = _figures(loaded.fit, system)
        words = in_units(loaded.words, system)
        found.append(node("li", labels.loaded(other.name, words, top, free)))
    return [node("h3", labels.FILTER), node("ul", *found)] if found else [None]
