"""Names that differ only in capitals and spaces are one name, as in the folder of agents."""

from __future__ import annotations

from collections.abc import Sequence


def one_spelling(names: Sequence[str]) -> list[str]:
    """Each name as it was spelled first."""
    first: dict[str, str] = {}
    return [first.setdefault(" ".join(name.casefold().split()), name.strip()) for name in names]
