"""What the notebook's page is sent: each piece made once for what it depends on, and again when that has changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from frothline.bench.library import Library
from frothline.bench.snapshot import Snapshot
from frothline.web.elements import Block, Node, block
from frothline.web.memo import Memo
from frothline.web.pages.notebook import trials as view
from frothline.web.pages.notebook import what_helped as learnt

if TYPE_CHECKING:
    from frothline.web.viewer import Viewer


def say(shelf: Library, kept: Memo, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
    """Fill in the pieces of the notebook."""
    wish, system = viewer.wish, viewer.system
    seen = shelf.choose(view.one(wish.get(view.PLACE, ())), simulated=now.simulated).look()
    wished = wish.get(view.CHOSEN, ())
    words, kind = view.one(wish.get(view.WORDS, ())), view.one(wish.get(view.KIND, ()))
    response = view.one(wish.get(learnt.RESPONSE, ()))
    response = response if response in learnt.RESPONSES else learnt.RESPONSES[0]
    effects = learnt.ask_helped(shelf, seen, response)
    plan = learnt.ask_next(shelf, seen)
    stamp = (seen.place, seen.look, seen.ready, system)
    pieces: dict[str, tuple[Any, Callable[[], Sequence[Node | None]]]] = {
        "notebook-head": ((), lambda: view.head(shelf, seen)),
        "notebook-trials": (wished, lambda: view.trials(seen, wished, system)),
        "notebook-beside": (wished, lambda: view.side_by_side(seen, wished, system)),
        "notebook-helped": ((response, effects.working), lambda: learnt.helped(seen, effects, response, system)),
        "notebook-next": (plan is None or plan.working, lambda: learnt.ahead(seen, plan, system)),
        "notebook-search": ((), view.search_box),
        "notebook-recordings": ((words, kind), lambda: view.recordings(seen, words, kind, system)),
    }
    for name, (look, make) in pieces.items():
        whole = kept.once((name, stamp, look), partial(_made, make))
        known = viewer.have.get(name) == whole["key"]
        message["blocks"][name] = {"key": whole["key"]} if known else whole


def _made(make: Callable[[], Sequence[Node | None]]) -> Block:
    return block(make())
