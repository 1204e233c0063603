"""Photo files from outside: which are read, and how much of them.

A picture of a few kilobytes can have many gigabytes of pixels. The format, the size of the file and the number of
pixels are therefore checked before anything is decoded. The imaging library is loaded on first use and limited to the
allowed formats.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from frothline.errors import InputError

if TYPE_CHECKING:
    from PIL.Image import Image

FORMATS = {".jpg": "JPEG", ".jpeg": "JPEG", ".png": "PNG", ".webp": "WEBP"}  # format name of the library by suffix
LARGEST = 30_000_000  # bytes of a file that is read
# Pixels of a photo. The largest of a phone is 108 million, as JPEG, which is scaled down while it is decoded. Other
# formats are decoded as a whole: 4 bytes a pixel. A progressive JPEG needs up to 6 bytes a pixel for its coefficients.
MOST_PIXELS = {"JPEG": 120_000_000, "progressive JPEG": 50_000_000, "PNG": 50_000_000, "WEBP": 50_000_000}

_ORIENTATION, _ON_ITS_SIDE = 0x0112, (5, 6, 7, 8)  # EXIF (CIPA DC-008, 4.6.5): the first row of pixels is a side


@contextmanager
def open_photo(path: Path) -> Iterator[Image]:
    """Open a photo and read its header. Raises InputError with the problem."""
    from PIL import Image as Images  # noqa: PLC0415  see above
    from PIL import UnidentifiedImageError  # noqa: PLC0415

    kind = FORMATS.get(path.suffix.lower())
    if kind is None:
        raise InputError(
            f"{path.suffix or 'a file without a suffix'} cannot be shown",
            where=str(path),
            remedy="Save it as JPEG under the same name",
        )
    try:
        if not path.is_file():
            raise InputError("the file does not exist", where=str(path))
        size = path.stat().st_size
        if size > LARGEST:
            raise InputError(
                f"it has {size / 1e6:.0f} MB, above the limit of {LARGEST / 1e6:.0f} MB",
                where=str(path),
                remedy="Save it smaller",
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Images.DecompressionBombWarning)  # our own limit is below
            image = Images.open(path, formats=(kind,))
    except (UnidentifiedImageError, Images.DecompressionBombError, OSError, ValueError, SyntaxError) as error:
        raise InputError(f"it cannot be read as {kind}", where=str(path)) from error
    with image:
        kind = "progressive JPEG" if kind == "JPEG" and image.info.get("progressive") else kind
        if image.width * image.height > MOST_PIXELS[kind]:
            raise InputError(
                f"it has {image.width} x {image.height} pixels, too many", where=str(path), remedy="Save it smaller"
            )
        yield image


def upright_size(path: Path) -> tuple[int, int]:
    """Pixels across and down of a photo, turned as its EXIF entry Orientation says; only its header is read.

    Raises InputError.
    """
    try:
        changed = path.stat().st_mtime_ns
    except OSError:
        changed = 0
    return _upright_size(path, changed)


@lru_cache(1000)
def _upright_size(path: Path, changed: int) -> tuple[int, int]:  # noqa: ARG001  another one once the file has changed
    with open_photo(path) as image:
        try:
            turned = image.getexif().get(_ORIENTATION) in _ON_ITS_SIDE
        except Exception:  # a damaged entry is like a missing one
            turned = False
        return (image.height, image.width) if turned else (image.width, image.height)
