"""A photo as grey levels, the right way up, with the moment at which it was taken."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from frothline.errors import InputError
from frothline.photo_file import open_photo

if TYPE_CHECKING:
    from PIL.Image import Image

MOST = 50_000_000  # pixels that are kept; a larger JPEG is halved while it is decoded
_TAKEN, _SUB_FOLDER = (36867, 306), 0x8769  # EXIF: DateTimeOriginal, DateTime; the Exif folder (CIPA DC-008, 4.6)

Grey = NDArray[np.uint8]


@dataclass(frozen=True)
class GreyPhoto:
    """Grey levels (rows, columns) from 0 to 255, and the camera's time (None if not written)."""

    path: Path
    grey: Grey
    taken: datetime | None
    size: tuple[int, int] = (0, 0)  # px across and down of the whole photo, of which ``grey`` may be a reduced copy


def read_photo(path: Path) -> GreyPhoto:
    """Read a photo. Raises InputError if it cannot be read or is too large."""
    from PIL import ImageOps  # noqa: PLC0415  the imaging library takes time to load

    with open_photo(path) as image:
        taken = _taken(image)
        whole = image.size
        try:
            if image.format == "JPEG":  # without its colours; a very large one at half its size
                half = 2 if image.width * image.height > MOST else 1
                image.draft("L", (image.width // half, image.height // half))
            upright = ImageOps.exif_transpose(_plain(image))
            grey = np.asarray(upright)
            turned = (grey.shape[1] > grey.shape[0]) != (whole[0] > whole[1]) and whole[0] != whole[1]
        except Exception as error:  # the library raises many kinds of errors for a damaged file
            raise InputError("the photo is damaged", where=str(path), remedy="Copy it again from the camera") from error
    return GreyPhoto(path, grey, taken, (whole[1], whole[0]) if turned else whole)


def _plain(image: Image) -> Image:
    """Grey, 8 bits, on white where it is transparent; with the entry for its orientation."""
    from PIL import Image as Images  # noqa: PLC0415

    exif = image.getexif()
    if image.mode.startswith("I") or image.mode == "F":  # 16 bits a pixel
        levels = np.asarray(image, dtype=float)
        made = Images.fromarray(np.clip(levels / 257.0, 0, 255).astype(np.uint8))
    elif image.mode in {"RGBA", "LA", "PA"} or "transparency" in image.info:
        clear = image.convert("RGBA")
        made = Images.new("RGBA", clear.size, "white")
        made.alpha_composite(clear)
        made = made.convert("L")
    else:
        made = image.convert("L")
    made.getexif().update(exif)
    return made


def _taken(image: Image) -> datetime | None:
    try:
        exif = image.getexif()
        texts = [exif.get_ifd(_SUB_FOLDER).get(_TAKEN[0]), exif.get(_TAKEN[1])]
        text = next(str(one) for one in texts if one)
        return datetime.strptime(text.strip("\0 "), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007  a camera writes no time zone
    except Exception:  # a damaged entry is like a missing one
        return None
