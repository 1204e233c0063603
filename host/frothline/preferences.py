"""The preferences of a person: units, folder and name, in one file.

::

    # ~/.config/frothline/preferences.toml; Windows and macOS have folders of their own for it
    units = "us"                  # metric or us
    folder = "~/Foam"             # of the recordings
    builder = "A. Turner"         # in the files of generators that are passed on

An option comes before the environment (FROTHLINE_UNITS, FROTHLINE_FOLDER, FROTHLINE_BUILDER), and the environment
before this file.
"""

from __future__ import annotations

import os
from difflib import get_close_matches
from pathlib import Path

from platformdirs import user_config_path

from frothline.errors import InputError
from frothline.toml_text import TomlUnreadable, read_text, read_toml
from frothline.units import NAMES, SYSTEMS, VARIABLE

FOLDER_VARIABLE = "FROTHLINE_FOLDER"  # environment variable with the folder of the recordings
BUILDER_VARIABLE = "FROTHLINE_BUILDER"  # environment variable with the name of the builder
FILE_VARIABLE = "FROTHLINE_PREFERENCES"  # environment variable with another place of the file
_VARIABLES = {"units": VARIABLE, "folder": FOLDER_VARIABLE, "builder": BUILDER_VARIABLE}


def preferences_path() -> Path:
    """Where the file is, or would be."""
    named = os.environ.get(FILE_VARIABLE, "")
    return Path(named) if named else user_config_path("frothline", appauthor=False, roaming=True) / "preferences.toml"


def builder_name() -> str:
    """The name of the builder; "" without one."""
    return os.environ.get(BUILDER_VARIABLE, "").strip()


def read_preferences(path: Path | None = None) -> dict[str, str]:
    """The preferences; empty without a file.

    Raises InputError with the entry for a file that cannot be read, an unknown entry, or unknown units.
    """
    file = preferences_path() if path is None else path
    try:
        document = read_toml(read_text(file))
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except (OSError, TomlUnreadable) as error:
        words = getattr(error, "strerror", None) or str(error)
        raise InputError(
            f"the preferences cannot be read: {words}", where=str(file), remedy="Fix or remove the file"
        ) from error
    found: dict[str, str] = {}
    for key, value in document.items():
        if key not in _VARIABLES:
            near = get_close_matches(key, _VARIABLES, n=1)
            remedy = f"Did you mean “{near[0]}”?" if near else f"Known: {', '.join(_VARIABLES)}"
            raise InputError(f"“{key[:40]}” is not known here", where=str(file), remedy=remedy)
        if not isinstance(value, str) or not value.strip():
            raise InputError(f"{key} is not a text", where=str(file), remedy=f'Write it like {key} = "…"')
        found[key] = value.strip()
    if "units" in found and found["units"].casefold() not in {*NAMES, *SYSTEMS}:
        raise InputError(f"“{found['units'][:40]}” is not a system of units", where=str(file), remedy="metric or us")
    return found


def use_preferences() -> None:
    """Give the preferences to everything that reads the environment; what the environment says stays.

    Raises as ``read_preferences``.
    """
    for key, value in read_preferences().items():
        if not os.environ.get(_VARIABLES[key]):
            os.environ[_VARIABLES[key]] = value
