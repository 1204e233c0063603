"""The form of the batch page that records a pour, prefilled from one mix of the plan. Pure functions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from frothline.bench.pour_record import ENTRIES, FORM, entries_of_plan
from frothline.pours.plan import PourPlan
from frothline.sentence_units import in_units
from frothline.web import form_fields
from frothline.web.elements import Node, button, node
from frothline.web.pages.batch import labels


def block(
    wish: Mapping[str, tuple[str, ...]],
    plan: PourPlan | None,
    system: str,
    trials: Sequence[tuple[str, str]] = (),
) -> list[Node | None]:
    """The fields with what was typed, or what the plan has, and the button that writes the file.

    trials : names and titles of the trials whose foam it may be, the newest first
    """
    of_plan = entries_of_plan(plan, system)
    fields = []
    for entry in ENTRIES:
        typed = wish.get(f"{FORM}-{entry.name}")
        fields.append(
            form_fields.entry(
                FORM,
                entry.name,
                entry.label,
                choices=[("", labels.NO_TRIAL), *trials] if entry.name == "trial" else None,
                value=of_plan.get(entry.name, "") if typed is None else "".join(typed[:1]),
                hint=in_units(entry.about, system),
                wish=f"{FORM}-{entry.name}",
                measure=(entry.kind, system) if entry.kind else None,
            )
        )
    return [
        node("p", labels.RECORD_ABOUT, class_="small"),
        node(
            "div",
            node("div", *fields, class_="entries"),
            button(labels.RECORD, "batch:record-pour", look="main"),
            data_form=FORM,
        ),
    ]


def typed(wish: Mapping[str, tuple[str, ...]]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What was typed in the form."""
    return tuple((name, text) for name, text in wish.items() if name.startswith(f"{FORM}-"))
