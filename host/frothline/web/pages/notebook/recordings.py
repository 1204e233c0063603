"""Blocks of the notebook page: search in all recordings, and its results."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from frothline.bench.library import FolderView
from frothline.formatting import local_time, running_time
from frothline.recording.summary import GENERATOR_SWEEP
from frothline.trials.trial import is_simulated
from frothline.web.elements import Node, button, node, table
from frothline.web.pages.notebook import labels
from frothline.web.pages.notebook.look import LOOK, PLACE_OF_LOOK, wish_of
from frothline.web.pages.notebook.trials import count_of, report_address

if TYPE_CHECKING:
    from frothline.recording.summary import Entry

WORDS, KIND = "words", "kind"  # names of viewer settings
LISTED = 40  # recordings shown at once
KINDS = ("", "sweep", GENERATOR_SWEEP, "run", "trouble")


def recordings_state(seen: FolderView) -> str:
    """State of the recordings, for the heading."""
    if not seen.ready:
        return ""
    wrong = len([entry for entry in seen.entries if entry.state in {"newer", "unreadable"} or entry.problem])
    said = [str(len(seen.entries)), labels.damaged(wrong) if wrong else ""]
    return ", ".join(filter(None, said))


def search_box() -> list[Node | None]:
    """The search field; it stays unchanged while the results change."""
    return [
        node(
            "div",
            node("label", labels.SEARCH, for_="notebook-words"),
            node("input", id="notebook-words", type="search", data_wish=WORDS, autocomplete="off", spellcheck="false"),
            class_="entry",
        ),
    ]


def recordings(seen: FolderView, words: str, kind: str, system: str) -> list[Node | None]:
    """Results of the search, the newest first; damaged and too new recordings are included and marked."""
    found = find(seen.entries, words, kind)
    kinds = [
        button(labels.KINDS[one or "all"], "", also=f"{KIND}:{one}", aria_pressed=str(one == kind).lower())
        for one in KINDS
    ]
    rows = [_entry_row(seen, entry, system) for entry in found[:LISTED]]
    more = len(found) - LISTED
    return [
        node("div", *kinds, class_="choice", role="group", aria_label=labels.WHICH_KIND),
        node("p", labels.found(count_of(len(found), "recording")) if found else labels.NOTHING_FOUND, role="status"),
        table(labels.RECORDINGS_TABLE, labels.RECORDING_HEADS, rows, name="recordings") if rows else None,
        node("p", labels.more_found(more)) if more > 0 else None,
    ]


def find(entries: Sequence[Entry], words: str, kind: str) -> list[Entry]:
    """Recordings of a kind that contain every word; ``trouble`` is the kind of unreadable or newer ones."""
    wanted = words.casefold().split()

    def agrees(entry: Entry) -> bool:
        if kind == "trouble" and entry.state not in {"newer", "unreadable"} and not entry.problem:
            return False
        if kind not in {"", "trouble"} and entry.kind != kind:
            return False
        text = entry.words() if wanted else ""
        return all(word in text for word in wanted)

    return [entry for entry in entries if agrees(entry)]


def _entry_row(seen: FolderView, entry: Entry, system: str) -> list[Node]:
    day = "" if entry.began is None else local_time(entry.began)
    about = ", ".join(filter(None, (day, str(entry.metadata.get("build", "")), entry.name)))
    state = labels.STATES.get(entry.state, "")
    said = ": ".join(filter(None, (state, entry.problem)))
    source = str(entry.metadata.get("air_source", "")) or entry.source
    look: Node = ""
    if entry.state in {"closed", "open"}:
        wish = f"{LOOK}:{wish_of(entry.path)}"
        look = node(
            "a", labels.LOOK_AT, href=f"#{PLACE_OF_LOOK}", data_also=wish, aria_label=labels.look_at(entry.title)
        )
    link: Node = ""
    if entry.kind in {"run", "sweep"} and entry.state in {"closed", "open"}:
        href = report_address(seen, entry.kind, entry.path, system)
        link = node("a", labels.REPORT, href=href, target="_blank", aria_label=labels.report_of(entry.title))
    return [
        node("span", node("b", entry.title), node("span", about, class_="small"), class_="figure-cell"),
        f"{entry.kind}{labels.SIMULATED_MARK if is_simulated(entry) else ''}".strip(),
        "" if entry.seconds is None else running_time(entry.seconds),
        source,
        node("span", said, class_="trouble") if entry.state in {"newer", "unreadable"} or entry.problem else said,
        look,
        link,
    ]
