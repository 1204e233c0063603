"""Blocks of the notebook page: trials, changes between them, and all recordings.

Effects and the next trial are in ``what_helped``. All data come from the last reading of the folder; nothing here reads
a file.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING
from urllib.parse import quote

from frothline.bench.library import OWN, SEASON, FolderView, Library
from frothline.estimate import Estimate
from frothline.formatting import (
    DASH,
    RATIO,
    Shown,
    local_day,
    local_time,
    running_time,
    show_difference,
    show_estimate_in,
    unit_of,
)
from frothline.generator.entry_words import entry_words, spoken
from frothline.label_case import Name
from frothline.recording.summary import GENERATOR_SWEEP
from frothline.trials.common_depth import comparable
from frothline.trials.compare import Comparison, compare
from frothline.trials.figures import FIGURES, TrialFigure
from frothline.trials.trial import Trial, is_simulated
from frothline.web.elements import Node, button, drawing, node, table

if TYPE_CHECKING:
    from frothline.recording.summary import Entry

CHOSEN, WORDS, KIND, PLACE = "trials", "words", "kind", "place"  # names of viewer settings
MOST = 4  # trials side by side
LISTED = 40  # recordings shown at once
SHORT_LIST = ("density", "drainage", "output", "line_pressure")  # figures in the list of trials
SIMULATED = "Simulated: no real generators and no weighed foam."
KINDS = (
    ("", "all"),
    ("sweep", "sweeps"),
    (GENERATOR_SWEEP, "generators swept"),
    ("run", "runs"),
    ("trouble", "damaged or unreadable"),
)
STATES = {
    "open": "being written or incomplete",
    "newer": "written by a newer version",
    "unreadable": "damaged, cannot be read",
}
PLACES = {OWN: "my recordings", SEASON: "Example data (simulated)"}


def one(values: Sequence[str]) -> str:
    """A viewer setting with at most one value."""
    return values[0] if values else ""


# --- which folder -----------------------------------------------------------------------------------------------------


def head(shelf: Library, seen: FolderView) -> list[Node | None]:
    """The folder shown, and whether its data are real."""
    choice = None
    if len(shelf.places) > 1:
        buttons = [
            button(PLACES[place], "", also=f"{PLACE}:{place}", aria_pressed=str(place == seen.place).lower())
            for place in shelf.places
        ]
        choice = node("div", *buttons, class_="choice", role="group", aria_label="which recordings")
    made_up = any(is_simulated(entry) for entry in seen.entries)
    words = f"{_count(len(seen.entries), 'recording')}, {_count(len(seen.trials), 'trial')}" if seen.ready else ""
    return [
        node("div", choice, node("p", node("span", str(seen.folder), class_="path"), f" {words}"), class_="place"),
        node("p", SIMULATED, class_="simulated") if made_up else None,
        node("p", seen.problem, class_="wrong") if seen.problem else None,
        None if seen.ready else node("p", "reading the folder"),
    ]


def _count(number: int, word: str) -> str:
    return f"no {word} yet" if not number else f"{number} {word}{'s' if number > 1 else ''}"


# --- trials -----------------------------------------------------------------------------------------------------------


def chosen_of(seen: FolderView, wished: Sequence[str]) -> list[Trial]:
    """Trials to compare: the chosen ones in order of time, else the last two."""
    picked = [trial for trial in seen.trials if str(trial.path) in wished][-MOST:]
    return picked or list(seen.trials[-2:])


def trials(seen: FolderView, wished: Sequence[str], system: str) -> list[Node | None]:
    """All trials with their main figures, the newest first, to choose from."""
    if not seen.trials:
        words = "A trial is a run with its build sheet and its weighed samples. Record a run to see it here."
        return [node("p", words) if seen.ready else None]
    rows = [_trial_row(trial, str(trial.path) in wished, system) for trial in reversed(seen.trials)]
    heads = ("trial", *(_label(name) for name in SHORT_LIST), "")
    series = node("a", "Report of all trials", href=_report(seen, "series", "", system), target="_blank")
    return [
        table(f"Trials, the newest first; select up to {MOST} to compare", heads, rows, name="trials"),
        node("p", series),
    ]


def _trial_row(trial: Trial, picked: bool, system: str) -> list[Node]:
    about = ", ".join(filter(None, (_day(trial), trial.build_name, trial.air_source, _batch(trial))))
    name = node(
        "label",
        node("input", type="checkbox", value=str(trial.path), data_wish=CHOSEN, checked=picked),
        node("span", node("b", trial.title), node("span", about, class_="small")),
        class_="pick",
    )
    cells = [_cell(figure_shown(trial, figure, system)) for figure in FIGURES if figure.name in SHORT_LIST]
    order = [figure.name for figure in FIGURES if figure.name in SHORT_LIST]
    by_name = dict(zip(order, cells, strict=True))
    link = node("a", "report", href=_report_of(trial, system), target="_blank", aria_label=f"report of {trial.title}")
    return [name, *(by_name[wanted] for wanted in SHORT_LIST), link]


def _label(name: str) -> str:
    return next(figure.label for figure in FIGURES if figure.name == name)


def _day(trial: Trial) -> str:
    return "" if trial.started is None else local_day(trial.started)


def _batch(trial: Trial) -> str:
    return f"batch {trial.solution_batch}" if trial.solution_batch else ""


def figure_shown(trial: Trial, figure: TrialFigure, system: str) -> Shown:
    """A figure of a trial in the reader's units, or a dash with the reason."""
    return _shown(trial, figure, trial.figure(figure.name), system)


def _shown(trial: Trial, figure: TrialFigure, estimate: Estimate | None, system: str) -> Shown:
    reason = trial.why.get(figure.name, "not known")
    if estimate is None and trial.figure(figure.name) is not None:
        reason = "depth of foam not recorded"
    return show_estimate_in(estimate, unit_of(figure.quantity, system) if figure.quantity else RATIO, reason=reason)


def _cell(shown: Shown) -> Node:
    value = DASH if shown.value == DASH else f"{shown.value} {shown.unit}".strip()
    return node("span", node("b", value), node("span", shown.under, class_="small"), class_="figure-cell")


def _report(seen: FolderView, kind: str, path: str, system: str) -> str:
    return f"/report?place={seen.place}&kind={kind}&path={quote(path)}&system={system}"


def _report_of(trial: Trial, system: str) -> str:
    return f"/report?place=&kind=run&path={quote(str(trial.path))}&system={system}"


# --- side by side -----------------------------------------------------------------------------------------------------


def side_by_side(seen: FolderView, wished: Sequence[str], system: str, noted: str = "") -> list[Node | None]:
    """The change of each figure, the parts that changed, then values, drawings and notes of the chosen trials."""
    picked = chosen_of(seen, wished)
    if not picked:
        return [node("p", "No trial yet")] if seen.ready else []
    found = [compare(picked[0], trial) for trial in picked[1:]]
    if not found:
        return [
            node("p", "Select a second trial to see the changes."),
            *_values(picked, system),
            *_told(picked, _note_form(picked, noted) if seen.place == OWN else None),
        ]
    return [
        *(_figure_changes(one, system) for one in found),
        *(_part_changes(one, system) for one in found),
        node(
            "details",
            node("summary", "Values of each trial, and drawing"),
            *_values(picked, system),
            *_drawings(found),
            id="values-of-trials",
        ),
        *_told(picked, _note_form(picked, noted) if seen.place == OWN else None),
    ]


def _figure_changes(found: Comparison, system: str) -> Node:
    """The change of each figure with its interval first, then the value before and after."""
    rows: list[list[Node]] = []
    for one in found.figures:
        unit = unit_of(one.figure.quantity, system) if one.figure.quantity else RATIO
        change = show_difference(one.change, unit, reason=one.why)
        values = (show_estimate_in(estimate, unit) for estimate in (one.before, one.after))
        before, after = (DASH if shown.value == DASH else f"{shown.value} {shown.unit}".strip() for shown in values)
        under = f"{change.under}, {one.words}" if one.words else change.under
        cell = node(
            "span",
            node("b", DASH if change.value == DASH else f"{change.value} {change.unit}".strip()),
            node("span", under, class_="small"),
            class_="figure-cell",
            data_is=one.words or "unknown",
        )
        rows.append([one.figure.label, cell, node("span", before, " → ", after, class_="from-to")])
    caption = f"Change from “{found.before.title}” to “{found.after.title}”"
    return table(caption, ("", "change, 95 % interval", "before → after"), rows, name="change")


def _values(picked: Sequence[Trial], system: str) -> list[Node]:
    heads = ("", *(Name(trial.title) for trial in picked))
    rows: list[list[Node]] = []
    said: list[str] = []
    for figure in FIGURES:
        estimates, words = comparable(picked, figure.name)
        pairs = zip(picked, estimates, strict=True)
        rows.append([figure.label, *(_cell(_shown(trial, figure, estimate, system)) for trial, estimate in pairs)])
        said += words
    return [
        table("Figures with 95 % intervals", heads, rows, name="beside", data_columns=str(len(picked))),
        *(node("p", f"{text[:1].upper()}{text[1:]}.", class_="small") for text in said),
    ]


def _part_changes(found: Comparison, system: str) -> Node:
    if not found.rows:
        words = f"{found.words[:1].upper()}{found.words[1:]}"
        return node("p", node("b", f"{found.after.title}: "), f"{words}.")
    sizes = {spoken(one.path): one for one in found.changed}
    rows: list[list[Node]] = []
    for label, old, new in found.rows:
        one = sizes.get(label)
        pair = (old, new) if one is None else (entry_words(one.path, end, system) for end in (one.before, one.after))
        rows.append([label, *pair])
    caption = Name(f"{found.after.title}: {_things(len(rows))} changed")
    return table(caption, ("part", "before", "after"), rows, name="changed")


def _drawings(comparisons: Sequence[Comparison]) -> Iterable[Node]:
    drawn: set[tuple[str, ...]] = set()
    for found in comparisons:
        if found.changed and found.paths not in drawn:
            drawn.add(found.paths)
            words = f"side view of {found.after.build_name}, the changed parts heavy: {', '.join(found.paths)}"
            yield node("figure", drawing(found.drawing(), words), class_="side-view")


def trials_state(seen: FolderView, wished: Sequence[str]) -> str:
    """State of the list of trials, for its heading."""
    if not seen.ready:
        return "reading the folder"
    if not seen.trials:
        return "no trial yet"
    problems = sum(bool(trial.problems) for trial in seen.trials)
    chosen = len([trial for trial in seen.trials if str(trial.path) in wished])
    said = [
        str(len(seen.trials)),
        f"{chosen} selected" if chosen else "",
        f"{problems} with problems" if problems else "",
    ]
    return ", ".join(filter(None, said))


def compared_state(seen: FolderView, wished: Sequence[str]) -> str:
    """The compared trials, for the heading."""
    picked = chosen_of(seen, wished)
    return " → ".join(trial.title for trial in picked) if len(picked) > 1 else ""


def recordings_state(seen: FolderView) -> str:
    """State of the recordings, for the heading."""
    if not seen.ready:
        return ""
    wrong = len([entry for entry in seen.entries if entry.state in {"newer", "unreadable"} or entry.problem])
    said = [str(len(seen.entries)), f"{wrong} damaged or unreadable" if wrong else ""]
    return ", ".join(filter(None, said))


def _things(number: int) -> str:
    return "1 entry" if number == 1 else f"{number} entries"


def _told(picked: Sequence[Trial], note_form: Node | None) -> Iterable[Node | None]:
    """Photos and notes of the trials, and the form of a new note; a problem is never in a part that can be closed."""
    for trial in picked:
        yield _photos(trial)
        for problem in dict.fromkeys(trial.problems):
            yield node("p", node("b", f"{trial.title}: "), problem, class_="wrong")
    said = [(trial, list(dict.fromkeys([*(f"“{note}”" for note in trial.notes), *trial.words]))) for trial in picked]
    count = sum(len(items) for _, items in said)
    if count or note_form is not None:
        lists = [
            part
            for trial, items in said
            if items
            for part in (node("h3", Name(trial.title)), node("ul", *(node("li", text) for text in items)))
        ]
        yield node("details", node("summary", f"Notes ({count})"), *lists, note_form, id="notes-of-trials")


def _photos(trial: Trial) -> Node | None:
    """Small copies of photos that link to larger ones; a text for a photo that was removed since."""
    if not trial.photos:
        return None
    shown = []
    for photo in trial.photos:
        name = trial.photo_name(photo)
        address = f"/photo?recording={quote(str(trial.path), safe='')}&name={quote(name, safe='')}"
        picture = node("img", src=address, alt=f"photo {name}", loading="lazy", data_gone=True)
        words = node("figcaption", name, node("span", ": missing or unreadable", class_="gone"))
        link = node("a", picture, href=f"{address}&size=large", target="_blank")
        shown.append(node("figure", link, words))
    title = node("h3", f"{_count(len(shown), 'photo')} of {trial.title}")
    return node("div", title, node("div", *shown, class_="row-of-photos"), class_="photos")


def _note_form(picked: Sequence[Trial], noted: str) -> Node:
    trial = picked[-1]
    return node(
        "div",
        node(
            "div",
            node("label", f"a note on {trial.title}", for_=f"note-{trial.name}"),
            node("input", id=f"note-{trial.name}", name="note", type="text", inputmode="text", maxlength="400"),
            class_="entry",
        ),
        button("Save note", f"notebook:note:{trial.path}", look=""),
        node("p", noted) if noted else None,
        class_="note-form",
        data_form=True,
    )


# --- all recordings ---------------------------------------------------------------------------------------------------


def search_box() -> list[Node | None]:
    """The search field; it stays unchanged while the results change."""
    return [
        node(
            "div",
            node("label", "search in title, build, source, notes", for_="notebook-words"),
            node("input", id="notebook-words", type="search", data_wish=WORDS, autocomplete="off", spellcheck="false"),
            class_="entry",
        ),
    ]


def recordings(seen: FolderView, words: str, kind: str, system: str) -> list[Node | None]:
    """Results of the search, the newest first; damaged and too new recordings are included and marked."""
    found = find(seen.entries, words, kind)
    kinds = [button(text, "", also=f"{KIND}:{value}", aria_pressed=str(value == kind).lower()) for value, text in KINDS]
    rows = [_entry_row(seen, entry, system) for entry in found[:LISTED]]
    more = len(found) - LISTED
    heads = ("recording", "kind", "length", "source", "state", "")
    return [
        node("div", *kinds, class_="choice", role="group", aria_label="which kind of recordings"),
        node("p", f"{_count(len(found), 'recording')} found" if found else "nothing found", role="status"),
        table("Recordings, the newest first", heads, rows, name="recordings") if rows else None,
        node("p", f"and {more} more: use the search to find them") if more > 0 else None,
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
    state = STATES.get(entry.state, "")
    said = ": ".join(filter(None, (state, entry.problem)))
    source = str(entry.metadata.get("air_source", "")) or entry.source
    link: Node = ""
    if entry.kind in {"run", "sweep"} and entry.state in {"closed", "open"}:
        href = _report(seen, entry.kind, entry.path, system)
        link = node("a", "report", href=href, target="_blank", aria_label=f"report of {entry.title}")
    return [
        node("span", node("b", entry.title), node("span", about, class_="small"), class_="figure-cell"),
        f"{entry.kind}{' (simulated)' if is_simulated(entry) else ''}".strip(),
        "" if entry.seconds is None else running_time(entry.seconds),
        source,
        node("span", said, class_="trouble") if entry.state in {"newer", "unreadable"} or entry.problem else said,
        link,
    ]
