"""Entries of a form given at the command line, like ``cup='640 kg/m3'``."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence

from frothline.errors import InputError


def one_action(options: Namespace, names: Sequence[str]) -> None:
    """Raises InputError where more than one of these options is given: each writes something else."""
    given = [name for name in names if getattr(options, name) is not None]
    if len(given) > 1:
        said = " and ".join(f"--{name.replace('_', '-')}" for name in given)
        raise InputError(f"{said} are together", where="options", remedy="Nothing is written: give one at a time")


def entry_texts(given: Sequence[str]) -> dict[str, str]:
    """Texts by name from "cup=640 kg/m3". Raises InputError for one without a sign of equality, or twice."""
    found = {}
    for one in given:
        name, sign, text = one.partition("=")
        if not sign:
            raise InputError(f"“{one[:40]}” is not an entry", where="entries", remedy="Write it like cup=640 kg/m3")
        if name.strip() in found:
            raise InputError(f"“{name.strip()[:40]}” is given twice", where="entries", remedy="Give each entry once")
        found[name.strip()] = text
    return found
