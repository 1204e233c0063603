"""Content of the notebook page; each block is cached until its inputs change."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any

from frothline.bench.snapshot import Snapshot
from frothline.web.elements import Block, Node, block
from frothline.web.memo import Memo
from frothline.web.pages.notebook import agents as agents_view
from frothline.web.pages.notebook import look, plan_form, sample_forms
from frothline.web.pages.notebook import recordings as all_recordings
from frothline.web.pages.notebook import trials as view
from frothline.web.pages.notebook import what_helped as learnt
from frothline.web.services import Services
from frothline.web.viewer import Viewer


class NotebookContent:
    """Fills in the notebook page."""

    def __init__(self, services: Services) -> None:
        self._services = services
        self._kept = Memo()
        self._looks = look.RecordingLooks()

    def say(self, now: Snapshot, viewer: Viewer, message: dict[str, Any]) -> None:
        shelf, kept = self._services.library, self._kept
        wish, system = viewer.wish, viewer.system
        seen = shelf.choose(view.one(wish.get(view.PLACE, ())), simulated=now.simulated).look()
        wished = wish.get(view.CHOSEN, ())
        words, kind = view.one(wish.get(all_recordings.WORDS, ())), view.one(wish.get(all_recordings.KIND, ()))
        response = view.one(wish.get(learnt.RESPONSE, ()))
        response = response if response in learnt.responses(seen) else learnt.RESPONSES[0]
        effects = learnt.ask_helped(shelf, seen, response)
        plan = learnt.ask_next(shelf, seen)
        soaps = agents_view.ask_agents(shelf, seen, response)
        stamp = (seen.place, seen.look, seen.ready, system)
        pieces: dict[str, tuple[Any, Callable[[], Sequence[Node | None]]]] = {
            "notebook-head": ((), lambda: view.head(shelf, seen)),
            "notebook-trials": (wished, lambda: view.trials(seen, wished, system)),
            "notebook-beside": (wished, lambda: view.side_by_side(seen, wished, system)),
            "notebook-samples": (
                (wished, sample_forms.typed_in(wish)),
                lambda: sample_forms.sample_block(seen, wished, wish, system),
            ),
            "notebook-helped": ((response, effects.working), lambda: learnt.helped(seen, effects, response, system)),
            "notebook-next": (plan is None or plan.working, lambda: learnt.ahead(seen, plan, system)),
            "notebook-plan": (_typed(viewer.wish), lambda: plan_form.plan_form(seen, viewer.wish, system)),
            "notebook-agents": (
                (response, soaps is None or soaps.working),
                lambda: agents_view.agents(seen, soaps, system),
            ),
            "notebook-search": ((), all_recordings.search_box),
            "notebook-recordings": ((words, kind), lambda: all_recordings.recordings(seen, words, kind, system)),
        }
        message["texts"] |= {
            "part-trials": view.trials_state(seen, wished),
            "part-compare": view.compared_state(seen, wished),
            "part-helped": learnt.helped_state(seen, effects),
            "part-next": learnt.next_state(seen, plan),
            "part-plan": plan_form.plan_state(seen),
            "part-agents": agents_view.agents_state(seen),
            "part-recordings": all_recordings.recordings_state(seen),
        }
        look.say(self._looks, seen, now, viewer, message)
        for name, (inputs, make) in pieces.items():
            whole = kept.once((name, stamp, inputs), partial(_made, make))
            known = viewer.have.get(name) == whole["key"]
            message["blocks"][name] = {"key": whole["key"]} if known else whole


def _typed(wish: Mapping[str, tuple[str, ...]]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What was typed in the form of the plan."""
    return tuple((name, values) for name, values in wish.items() if name.startswith("plan-"))


def content(services: Services) -> NotebookContent:
    return NotebookContent(services)


def _made(make: Callable[[], Sequence[Node | None]]) -> Block:
    return block(make())
