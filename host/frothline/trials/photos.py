"""Photos next to a recording: checks, and small copies for display.

Only a copy made here is shown, never the file itself: rotated upright (the EXIF entry Orientation, CIPA DC-008, 4.6.5),
scaled down, as JPEG, and without the camera's other entries such as the location. ``photo_file`` says which files are
read.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from frothline.errors import InputError
from frothline.photo_file import open_photo
from frothline.quantities import shorten

if TYPE_CHECKING:
    from PIL.Image import Image

THUMBNAIL, LARGE = 360, 1600  # px of the longer side
QUALITY = 82  # of the JPEG, usual for photos
KEPT = 60  # small copies kept in memory


@dataclass(frozen=True)
class Copy:
    """A small copy: JPEG bytes and its size in px."""

    jpeg: bytes
    width: int
    height: int

    @property
    def url(self) -> str:
        """The copy as a ``data:`` URL, for a self-contained file (RFC 2397)."""
        return f"data:image/jpeg;base64,{base64.b64encode(self.jpeg).decode()}"


def inside(folder: Path, name: str) -> Path:
    """The photo of that name in or below a folder. Raises InputError if it leads outside, also by a link."""
    try:
        return folder / (folder / name).resolve().relative_to(folder.resolve())
    except (ValueError, OSError, RuntimeError):  # RuntimeError: a link to itself
        raise InputError(f"photo “{shorten(name)}” is not in the folder of the recording", where=str(folder)) from None


def trouble(path: Path) -> str:
    """Reason why a photo cannot be shown; empty if it can. Only its header is read."""
    try:
        with open_photo(path):
            return ""
    except InputError as error:
        return f"photo {path.name}: {error.what}" + (f". {error.remedy}" if error.remedy else "")


def copy(path: Path, longest: int = THUMBNAIL) -> Copy:
    """Make a copy of a photo with at most ``longest`` px on its longer side. Raises InputError if that is
    impossible.
    """
    try:
        changed = path.stat().st_mtime_ns
    except OSError:
        changed = 0
    return _copy(path, longest, changed)


@lru_cache(KEPT)
def _copy(path: Path, longest: int, changed: int) -> Copy:  # noqa: ARG001  another one once the file has changed
    from PIL import ImageOps  # noqa: PLC0415  see above

    with open_photo(path) as image:
        try:
            image.thumbnail((longest, longest))
            upright = ImageOps.exif_transpose(image)
            plain = _on_white(upright)
        except Exception as error:  # the library raises many kinds of errors for a damaged file
            raise InputError("it is damaged", where=str(path)) from error
        written = io.BytesIO()
        colours = upright.info.get("icc_profile") if upright.mode == "RGB" else None
        plain.save(written, "JPEG", quality=QUALITY, optimize=True, icc_profile=colours)
    return Copy(written.getvalue(), plain.width, plain.height)


def _on_white(image: Image) -> Image:
    """The photo as RGB pixels without transparency and metadata."""
    from PIL import Image as Images  # noqa: PLC0415

    if image.mode not in {"RGBA", "LA", "PA"} and "transparency" not in image.info:
        return image.convert("RGB")
    clear = image.convert("RGBA")
    paper = Images.new("RGBA", clear.size, "white")
    paper.alpha_composite(clear)
    return paper.convert("RGB")
