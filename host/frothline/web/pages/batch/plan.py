"""The pour plan on the batch page: answer first, then the entries, one group open at a time. Pure functions."""

from __future__ import annotations

from collections.abc import Mapping
from urllib.parse import urlencode

from frothline.bench.pour_plan_form import FORM, GROUPS, group_of
from frothline.bench.pour_planning import WorkedPlan
from frothline.label_case import label_case
from frothline.pours.plan import PourPlan
from frothline.pours.plan_entries import BY_NAME, ENTRIES, PlanEntry
from frothline.pours.plan_rows import TIMES_HEAD, facts, times_rows
from frothline.rounding import counted
from frothline.sentence_units import in_units
from frothline.units import ENTRY_UNITS, SYSTEMS
from frothline.web import form_fields
from frothline.web.elements import Node, in_reader_units, node, nodes, table
from frothline.web.pages.batch import labels

CARD = "/pour-card"


def block(typed: Mapping[str, str], found: WorkedPlan | None, system: str) -> list[Node | None]:
    """Answer, figures, and the form."""
    wrong = {} if found is None else found.wrong
    plan = None if found is None else found.plan
    top: list[Node | None] = []
    if plan is not None:
        top = in_reader_units(_result(plan, typed, system), system, [*plan.paces, plan.source])
    elif found is None:
        top = [node("p", labels.CALCULATING, role="status")]
    else:
        said = [f"{_label(name)}: {text}" for name, text in wrong.items()]
        top = [node("p", labels.plan_lacks(counted(len(said), "entry", "entries")), role="status")]
        top += in_reader_units([node("ul", *nodes("li", said), class_="problems")], system)
    typed_wrong = {
        name: text for name, text in wrong.items() if typed.get(name, "").strip()
    }  # an empty entry is no error
    groups = [_group(name, typed, typed_wrong, system, first=name == GROUPS[0]) for name in GROUPS]
    return [*top, node("div", *groups, data_one_open="yes")]


def state(found: WorkedPlan | None) -> str:
    """The plan in a few words, next to its heading while it is closed."""
    plan = None if found is None else found.plan
    return "" if plan is None else counted(plan.mixes, "mix", "mixes")


def _label(name: str) -> str:
    return BY_NAME[name].label if name in BY_NAME else label_case(name)


def _result(plan: PourPlan, typed: Mapping[str, str], system: str) -> list[Node | None]:
    groups = facts(plan, SYSTEMS[system])
    address = f"{CARD}?{urlencode({**typed, 'system': system})}"
    tables: list[Node] = [
        table(title, (), [[label_case(label), text] for label, text in rows], name="plan")
        for title, rows in groups.items()
    ]
    times = [list[Node](row) for row in times_rows(plan)]
    return [
        node("p", node("b", plan.answer_in(SYSTEMS[system])), class_="outcome", role="status"),
        node("p", node("a", labels.CARD, href=address, target="_blank"), class_="small"),
        *[node("p", one[:1].upper() + one[1:], class_="odd") for one in plan.warnings],
        node("div", *tables, class_="verdict"),
        node("details", node("summary", labels.TIMETABLE), table(labels.TIMETABLE, TIMES_HEAD, times), id="pour-times")
        if times
        else None,
        node(
            "details",
            node("summary", labels.cautions(len(plan.cautions))),
            node("ul", *nodes("li", plan.cautions), class_="batch-cautions"),
            id="pour-cautions",
        ),
    ]


def _group(name: str, typed: Mapping[str, str], wrong: Mapping[str, str], system: str, *, first: bool) -> Node:
    entries = [entry for entry in ENTRIES if group_of(entry) == name]
    bad = sum(entry.name in wrong for entry in entries)
    brief = in_units(", ".join(typed[entry.name] for entry in entries if typed[entry.name]), system)
    head = node(
        "summary",
        node("b", labels.GROUPS[name]),
        node("span", brief, class_="brief"),
        node("span", counted(bad, "problem"), class_="marks") if bad else None,
    )
    inside = node("div", *(_entry(entry, typed, wrong, system) for entry in entries), class_="entries", role="group")
    return node("details", head, inside, class_="drawer", id=f"pour-{name}", open=first, data_is="wrong" if bad else "")


def _entry(entry: PlanEntry, typed: Mapping[str, str], wrong: Mapping[str, str], system: str) -> Node:
    kind = entry.kind.rpartition("-")[2]
    unit = {"span": "min" if kind == entry.kind else "s", "share": "%"}.get(kind, "")
    return form_fields.entry(
        FORM,
        entry.name,
        entry.label,
        value=typed[entry.name],
        choices=[(one, labels.CHOICES.get(one, one)) for one in entry.choices] or None,
        hint=in_units(entry.about, system),
        note=wrong.get(entry.name, ""),
        look="wrong" if entry.name in wrong else "",
        mode=form_fields.keyboard(kind),
        wish=f"{FORM}-{entry.name}",
        measure=(kind, system) if kind in ENTRY_UNITS else None,
        unit=unit,
    )
