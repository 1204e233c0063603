"""The bubbles of one foam from one photo or several: diameter, spread, growth, and the picture with outlines."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frothline.bubble_size.growth import growth_of, times_of
from frothline.bubble_size.photo_bubbles import PhotoBubbles
from frothline.bubble_size.photo_notes import notes_of
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.formatting import RATIO, full_text
from frothline.presentable import Observations, Presentable, PresentedFigure, estimate_cells, estimate_units
from frothline.units import METRIC

if TYPE_CHECKING:
    import plotly.graph_objects as go

MOST = 50  # photos at once
WALL = (
    "The sizes are those at the pane. In fresh foam of even bubbles they agree with those inside; in foam of very "
    "uneven bubbles the wall shows too few large ones, and the diameter comes out low (Cheng and Lemlich 1983)."
)


@dataclass(frozen=True, repr=False)
class FoamPhotos(Presentable):
    """Bubbles of one foam, SI.

    photos : in order of time;  times : s after the first, None if unknown
    growth : of the diameter, m/s; None with its reason in ``why_no_growth``
    """

    photos: tuple[PhotoBubbles, ...]
    times: tuple[float, ...] | None
    growth: Estimate | None
    why_no_growth: str

    @property
    def diameter(self) -> Estimate:
        """Sauter mean diameter of the first photo, m."""
        return self.photos[0].diameter

    @property
    def warnings(self) -> tuple[str, ...]:
        """Warnings of all photos, each with its file where there are several."""
        several = len(self.photos) > 1
        return tuple(f"{one.path.name}: {said}" if several else said for one in self.photos for said in one.warnings)

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``: plain values, SI."""
        return {
            "photos": [one.as_dict() for one in self.photos],
            "times": None if self.times is None else list(self.times),
            "diameter": self.diameter.as_dict(),
            "growth": None if self.growth is None else self.growth.as_dict(),
            "why_no_growth": self.why_no_growth,
            "wall": WALL,
        }

    def plot(self, number: int = 0) -> go.Figure:
        """The window of a photo with the outlines of its bubbles: orange those that count, blue those at the edge."""
        import plotly.graph_objects as go  # noqa: PLC0415  a second to load

        if not 0 <= number < len(self.photos):
            raise InputError(f"there is no photo {number}", where="plot", remedy=f"0 to {len(self.photos) - 1}")
        one = self.photos[number]
        figure = go.Figure(go.Image(source=picture_url(one.outlines)))
        figure.update_layout(title=escape(f"{one.path.name}: {full_text(one.diameter, METRIC['length'])}"))
        figure.update_xaxes(visible=False)
        figure.update_yaxes(visible=False)
        return figure

    def _title(self) -> str:
        name = self.photos[0].path.name
        more = f" and {len(self.photos) - 1} more" if len(self.photos) > 1 else ""
        return f"{name}{more}: bubble diameter {full_text(self.diameter, METRIC['length'])}"

    def _figures(self) -> Sequence[PresentedFigure]:
        first = self.photos[0]
        return (
            PresentedFigure("bubble diameter (Sauter mean)", first.diameter, METRIC["length"]),
            PresentedFigure("median diameter", first.median, METRIC["length"]),
            PresentedFigure("spread of diameters", first.spread, RATIO),
            PresentedFigure("bubble growth", self.growth, METRIC["bubble_growth"], self.why_no_growth, difference=True),
        )

    def _facts(self) -> Sequence[tuple[str, str]]:
        first = self.photos[0]
        return (
            ("whole bubbles", str(first.count)),
            ("pixels across the median bubble", f"{first.pixels:.0f}"),
            ("uncertainty of the scale", f"{100 * first.u_scale:.1f} %"),
            ("uncertainty of the films", f"{100 * first.u_films:.1f} %"),
        )

    def _words(self) -> Sequence[str]:
        return (*self.warnings, WALL)

    def _names(self) -> Sequence[str]:
        return tuple(one.path.name for one in self.photos)

    def _repr_html_(self) -> str:
        picture = (
            f'<img src="{picture_url(self.photos[0].outlines)}" alt="window with outlines of bubbles" width="420">'
        )
        return f"{super()._repr_html_()}{picture}"

    def _observations(self) -> Observations:
        units = {
            "photo": "",
            "time": "s",
            **estimate_units(diameter="m", median="m", spread="1"),
            "count": "1",
            "pixels": "1",
        }
        times = self.times or (float("nan"),) * len(self.photos)
        rows = [
            {
                "photo": one.path.name,
                "time": time,
                **estimate_cells(diameter=one.diameter, median=one.median, spread=one.spread),
                "count": one.count,
                "pixels": one.pixels,
            }
            for one, time in zip(self.photos, times, strict=True)
        ]
        unknown = {} if self.times is not None else {"time": "the photos have no time of the camera"}
        return Observations(tuple(rows), units, unknown, {"growth": self.growth, "warnings": self.warnings})


def picture_url(jpeg: bytes) -> str:
    """A JPEG as a ``data:`` URL (RFC 2397)."""
    return f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode()}"


def measure_photos(
    paths: Sequence[str | Path],
    *,
    ruler: float | None = None,
    times: Sequence[float] | None = None,
    notes: Mapping[str, str] | None = None,
) -> FoamPhotos:
    """Measure the photos of one foam.

    notes : texts by name of ``photo_notes.NAMES``, for all photos; those next to each photo, if not given
    ruler : m, measured length of the printed ruler;  times : s, one a photo; the camera's if not given

    Raises InputError where a photo cannot be read, has no target or no bubbles; MissingPackage without scikit-image.
    """
    from frothline.bubble_size.measure import measure_photo  # noqa: PLC0415  its libraries take time to load

    if not paths:
        raise InputError("no photo is given", where="bubbles", remedy="Give one photo or more")
    if len(paths) > MOST:
        raise InputError(f"{len(paths)} photos are given", where="bubbles", remedy=f"Give at most {MOST}")
    if times is not None and len(times) != len(paths):
        raise InputError(
            f"{len(times)} times are given for {len(paths)} photos", where="times", remedy="Give one for each photo"
        )
    given = None if notes is None else notes_of(notes, "bubbles")
    return together([measure_photo(path, ruler=ruler, notes=given) for path in paths], times)


def together(photos: Sequence[PhotoBubbles], times: Sequence[float] | None = None) -> FoamPhotos:
    """One result of measured photos, in order of time."""
    at = times_of(photos, times)
    if at is not None:
        pairs = sorted(zip(at, photos, strict=True), key=lambda one: one[0])
        photos, at = [photo for _, photo in pairs], tuple(time for time, _ in pairs)
    growth, why = growth_of(photos, at)
    return FoamPhotos(tuple(photos), at, growth, why)
