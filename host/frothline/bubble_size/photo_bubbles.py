"""Bubbles of one photo, as a plain result that can be stored."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from frothline.errors import InvalidEstimate
from frothline.estimate import Estimate

_ESTIMATES = ("diameter", "median", "spread")


@dataclass(frozen=True)
class PhotoBubbles:
    """Bubbles of a photo, SI.

    taken : the camera's time;  diameter : Sauter mean, m;  median : by number, m
    spread : standard deviation over mean
    u_scale, u_films : relative standard uncertainties within ``diameter``; all photos of a card share the first
    count : whole bubbles;  pixels : of the photo across the median bubble;  card : name of the card
    warnings : sentences;  outlines : the picture with outlines, JPEG;  diameters : of the whole bubbles, m
    """

    path: Path
    taken: datetime | None
    diameter: Estimate
    median: Estimate
    spread: Estimate
    u_scale: float
    u_films: float
    count: int
    pixels: float
    card: str
    warnings: tuple[str, ...]
    outlines: bytes = field(repr=False)
    diameters: tuple[float, ...] = field(repr=False)

    def as_dict(self) -> dict[str, Any]:
        """Plain values, SI, without the picture."""
        data = {name: value for name, value in vars(self).items() if name not in ("outlines", "diameters")}
        data |= {name: getattr(self, name).as_dict() for name in _ESTIMATES}
        taken = None if self.taken is None else self.taken.isoformat()
        return data | {"path": str(self.path), "taken": taken, "warnings": list(self.warnings)}


def stored_form(one: PhotoBubbles) -> dict[str, Any]:
    """For a file; the picture is stored apart from it."""
    return one.as_dict() | {"diameters": list(one.diameters)}


def from_stored(data: Mapping[str, Any], path: Path, outlines: bytes) -> PhotoBubbles:
    """Inverse of :func:`stored_form`. Raises KeyError, TypeError or ValueError for other data."""
    estimates = {}
    for name in _ESTIMATES:
        values = dict(data[name])
        try:
            estimates[name] = Estimate(**values | {"assumptions": tuple(map(str, values["assumptions"]))})
        except InvalidEstimate as error:
            raise ValueError(error.what) from error
    taken = None if data["taken"] is None else datetime.fromisoformat(data["taken"])
    return PhotoBubbles(
        path=path,
        taken=taken,
        **estimates,
        u_scale=float(data["u_scale"]),
        u_films=float(data["u_films"]),
        count=int(data["count"]),
        pixels=float(data["pixels"]),
        card=str(data["card"]),
        warnings=tuple(map(str, data["warnings"])),
        outlines=outlines,
        diameters=tuple(float(one) for one in data["diameters"]),
    )
