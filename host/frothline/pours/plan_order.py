"""The order of a pour plan: form, concrete, mixer, people, times; with all contradictions of its entries at once."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from frothline.errors import FrothlineError
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder
from frothline.physics.mix import air_free_density, cast_density_for_dry
from frothline.pours.duty import Duty

MOST_MIXES = 300  # of a plan; more are a wrong unit or far too small a mixer
APART = 0.02  # of volume and sizes of a form


@dataclass(frozen=True)
class WorkTimes:
    """Times of the work on one mix, s. ``weigh`` and ``place`` are for one person. ``refill`` of the reservoir;
    ``setting`` from the first water to the start of setting; ``wait`` between two lifts.
    """

    weigh: float = 240.0
    load: float = 120.0
    slurry: float = 180.0
    fold: float = 120.0
    empty: float = 180.0
    place: float = 240.0
    refill: float = 180.0
    setting: float = 3600.0
    wait: float = 86400.0


@dataclass(frozen=True)
class PlanOrder:
    """What is to be poured, and with what; SI. ``volume`` m³ of the form; ``height`` and ``length`` m (NaN unknown);
    ``waste`` share on top; ``lift`` m at most; ``mixer`` m³ to the brim, of which the share ``fill`` is used;
    ``life`` s within which foam is used, None by its drainage; ``dose`` is "auto", "time", "bucket" or "scale";
    ``concrete`` is the mix. ``duty`` is of the source whose foam was measured, ``duties`` of those of ``sources`` that
    must rest.
    """

    volume: float
    concrete: BatchOrder
    height: float = math.nan
    length: float = math.nan
    waste: float = 0.05
    lift: float = 0.5
    mixer: float = 0.12
    fill: float = 0.6
    helpers: int = 2
    life: float | None = None
    dose: str = "auto"
    times: WorkTimes = field(default_factory=WorkTimes)
    sources: Mapping[str, Estimate] = field(default_factory=dict)
    duty: Duty | None = None
    duties: Mapping[str, Duty] = field(default_factory=dict)
    title: str = ""

    @property
    def usable(self) -> float:
        """What goes into the mixer at once, m³."""
        return self.mixer * self.fill


def order_of(values: Mapping[str, Any], wrong: Mapping[str, str]) -> tuple[PlanOrder | None, dict[str, str]]:
    """The order from entries as ``read_entries`` returns them, and all problems by name; None with a problem."""
    found = dict(wrong)
    volume = _volume(values, found)
    _density(values, found)
    mixer, fill, bucket = (values.get(name, math.nan) for name in ("mixer", "fill", "bucket"))
    if mixer * fill < bucket:
        found["mixer"] = (
            f"the mixer takes {mixer * fill * 1e3:.3g} L, less than one bucket of foam ({bucket * 1e3:.3g} L): give a "
            "larger mixer or a smaller bucket"
        )
    elif volume is not None and volume > MOST_MIXES * mixer * fill:
        found["mixer"] = (
            f"{volume * 1e3:.4g} L in a mixer that takes {mixer * fill * 1e3:.3g} L are more than {MOST_MIXES} mixes: "
            "check both units, or give a larger mixer"
        )
    if found or volume is None:
        return None, found
    concrete = BatchOrder(
        values["density"],
        volume,
        values["water-cement"],
        values["sand-cement"],
        dry=values["basis"] == "dry",
        bag=values["bag"],
        bucket=bucket,
    )
    sources = values.get("source", {})
    names = ("weigh", "load", "slurry", "fold", "empty", "place", "refill", "setting", "wait")
    return (
        PlanOrder(
            volume=volume,
            concrete=concrete,
            height=values.get("height", math.nan),
            length=values.get("length", math.nan),
            waste=values["waste"],
            lift=values["lift"],
            mixer=mixer,
            fill=fill,
            helpers=int(values["helpers"]),
            life=values.get("life"),
            dose=values["dose"],
            times=WorkTimes(**{name: values[name] for name in names}),
            sources={name: output for name, (output, _) in sources.items()},
            duty=values.get("duty"),
            duties={name: duty for name, (_, duty) in sources.items() if duty is not None},
            title=values.get("title", ""),
        ),
        found,
    )


def _volume(values: Mapping[str, Any], wrong: dict[str, str]) -> float | None:
    """Volume of the form, m³."""
    sizes = [values.get(name) for name in ("length", "width", "height")]
    given: float | None = values.get("volume")
    if None not in sizes:
        by_sizes = math.prod(sizes)  # type: ignore[arg-type]
        if given is not None and abs(given / by_sizes - 1.0) > APART:
            wrong["volume"] = (
                f"volume is {given * 1e3:.4g} L, and length × width × height are {by_sizes * 1e3:.4g} L: leave one out"
            )
        elif given is None and not 1e-3 <= by_sizes <= 200.0:
            wrong["length"] = f"the form holds {by_sizes * 1e3:.4g} L, which is not plausible: check the units"
        return by_sizes if given is None else given
    if given is None and not {"volume", "length", "width", "height"} & set(wrong):
        missing = [name for name, one in zip(("length", "width", "height"), sizes, strict=True) if one is None]
        if len(missing) == 3:
            wrong["volume"] = "the volume is missing: give it, or length, width and height of the form"
        else:
            wrong[missing[0]] = f"{' and '.join(missing)} missing: give all three sizes of the form, or its volume"
    return given


def _density(values: Mapping[str, Any], wrong: dict[str, str]) -> None:
    """Refuse a target that is not lighter than the slurry."""
    density, water, sand = (values.get(name) for name in ("density", "water-cement", "sand-cement"))
    if density is None or water is None or sand is None:
        return
    dry = values.get("basis") == "dry"
    cast = cast_density_for_dry(density, water, sand) if dry else density
    try:
        slurry = air_free_density(1.0, water, sand)
    except (FrothlineError, ZeroDivisionError):
        return
    if cast >= slurry:
        said = f" ({cast:.0f} kg/m³ as cast)" if dry else ""
        wrong["density"] = (
            f"{density:.0f} kg/m³{said} is not lighter than the slurry without foam, {slurry:.0f} kg/m³: give a lower "
            "density"
        )
