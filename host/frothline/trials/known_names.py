"""The names that a message offers where a typed one is not there."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches

_OFFERED = 12  # names in a message
_NEAR = 3  # of them, where some are near


def known_names(name: str, titles: Mapping[str, str]) -> str:
    """A remedy for a name that nothing has: the names that it, or the title of which, is near, else the first ones.

    titles : by name, in the order in which they are offered; empty without any
    """
    by_word = {word.casefold(): one for one, title in titles.items() for word in (title, one)}
    wanted = name.casefold()
    inside = [word for word in by_word if wanted in word] if wanted else []
    near = dict.fromkeys(
        by_word[word] for word in [*get_close_matches(wanted, list(by_word), n=_NEAR), *inside[:_NEAR]]
    )
    if near:
        return f"Did you mean {' or '.join(f'“{one}”' for one in list(near)[:_NEAR])}?"
    return f"Known: {', '.join(list(titles)[:_OFFERED])}" if titles else ""
