"""Blocks of the notebook page: trials, and changes between them.

Effects and the next trial are in ``what_helped``, all recordings in ``recordings``. All data come from the last reading
of the folder; nothing here reads a file.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from urllib.parse import quote

from frothline.bench.library import OWN, SEASON, FolderView, Library
from frothline.bubble_size.photo_bubbles import PhotoBubbles
from frothline.estimate import Estimate
from frothline.formatting import (
    DASH,
    Shown,
    interval_text,
    local_day,
    show_difference,
    show_estimate_in,
    value_text,
)
from frothline.generator.entry_words import entry_words, spoken
from frothline.label_case import Name
from frothline.trials.bubbles import bubbles_of_photo
from frothline.trials.common_depth import comparable
from frothline.trials.compare import Comparison, compare
from frothline.trials.figures import FIGURES, TrialFigure, change_unit_of, shown_figures, unit_of
from frothline.trials.trial import Trial, is_simulated
from frothline.units import SYSTEMS
from frothline.web.elements import Node, button, drawing, node, table
from frothline.web.pages.notebook import labels
from frothline.web.pages.notebook.photo_forms import photo_form

CHOSEN, PLACE = "trials", "place"  # names of viewer settings
MOST = 4  # trials side by side
SHORT_LIST = ("density", "drainage", "output", "line_pressure")  # figures in the list of trials
PLACES = {OWN: labels.OWN_RECORDINGS, SEASON: labels.EXAMPLE_DATA}


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
        choice = node("div", *buttons, class_="choice", role="group", aria_label=labels.WHICH_RECORDINGS)
    made_up = any(is_simulated(entry) for entry in seen.entries)
    words = f"{count_of(len(seen.entries), 'recording')}, {count_of(len(seen.trials), 'trial')}" if seen.ready else ""
    return [
        node("div", choice, node("p", node("span", str(seen.folder), class_="path"), f" {words}"), class_="place"),
        node("p", labels.SIMULATED, class_="simulated") if made_up else None,
        node("p", seen.problem, class_="wrong") if seen.problem else None,
        None if seen.ready else node("p", labels.READING_FOLDER),
    ]


def count_of(number: int, word: str) -> str:
    return labels.none_yet(word) if not number else f"{number} {word}{'s' if number > 1 else ''}"


# --- trials -----------------------------------------------------------------------------------------------------------


def chosen_of(seen: FolderView, wished: Sequence[str]) -> list[Trial]:
    """Trials to compare: the chosen ones in order of time, else the last two."""
    picked = [trial for trial in seen.trials if str(trial.path) in wished][-MOST:]
    return picked or list(seen.trials[-2:])


def trials(seen: FolderView, wished: Sequence[str], system: str) -> list[Node | None]:
    """All trials with their main figures, the newest first, to choose from."""
    if not seen.trials:
        return [node("p", labels.NO_TRIAL_YET) if seen.ready else None]
    rows = [_trial_row(trial, str(trial.path) in wished, system) for trial in reversed(seen.trials)]
    heads = (labels.TRIAL, *(_label(name) for name in SHORT_LIST), "")
    series = node("a", labels.REPORT_OF_ALL, href=report_address(seen, "series", "", system), target="_blank")
    return [
        table(labels.select_trials(MOST), heads, rows, name="trials"),
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
    link = node(
        "a",
        labels.REPORT,
        href=_report_of(trial, system),
        target="_blank",
        aria_label=labels.report_of(trial.title),
    )
    return [name, *(by_name[wanted] for wanted in SHORT_LIST), link]


def _label(name: str) -> str:
    return next(figure.label for figure in FIGURES if figure.name == name)


def _day(trial: Trial) -> str:
    return "" if trial.started is None else local_day(trial.started)


def _batch(trial: Trial) -> str:
    return labels.batch(trial.solution_batch) if trial.solution_batch else ""


def figure_shown(trial: Trial, figure: TrialFigure, system: str) -> Shown:
    """A figure of a trial in the reader's units, or a dash with the reason."""
    return _shown(trial, figure, trial.figure(figure.name), system)


def _shown(trial: Trial, figure: TrialFigure, estimate: Estimate | None, system: str) -> Shown:
    reason = trial.why.get(figure.name, labels.NOT_KNOWN)
    if estimate is None and trial.figure(figure.name) is not None:
        reason = labels.NO_DEPTH
    return show_estimate_in(estimate, unit_of(figure, SYSTEMS[system]), reason=reason)


def _cell(shown: Shown) -> Node:
    value = DASH if shown.value == DASH else f"{shown.value} {shown.unit}".strip()
    return node("span", node("b", value), node("span", shown.under, class_="small"), class_="figure-cell")


def report_address(seen: FolderView, kind: str, path: str, system: str) -> str:
    return f"/report?place={seen.place}&kind={kind}&path={quote(path)}&system={system}"


def _report_of(trial: Trial, system: str) -> str:
    return f"/report?place=&kind=run&path={quote(str(trial.path))}&system={system}"


# --- side by side -----------------------------------------------------------------------------------------------------


def side_by_side(seen: FolderView, wished: Sequence[str], system: str, noted: str = "") -> list[Node | None]:
    """The change of each figure, the parts that changed, then values, drawings and notes of the chosen trials."""
    picked = chosen_of(seen, wished)
    if not picked:
        return [node("p", labels.NO_TRIAL)] if seen.ready else []
    found = [compare(picked[0], trial, seen.trials) for trial in picked[1:]]
    if not found:
        return [
            node("p", labels.SELECT_SECOND),
            *_values(picked, system),
            *_told(picked, system, _note_form(picked, noted) if seen.place == OWN else None),
        ]
    return [
        *(part for one in found for part in (_figure_changes(one, system), *_scatter_notes(one))),
        *(_part_changes(one, system) for one in found),
        node(
            "details",
            node("summary", labels.VALUES_AND_DRAWING),
            *_values(picked, system),
            *_drawings(found),
            id="values-of-trials",
        ),
        *_told(picked, system, _note_form(picked, noted) if seen.place == OWN else None),
    ]


def _figure_changes(found: Comparison, system: str) -> Node:
    """The change of each figure with its interval first, then the value before and after."""
    rows: list[list[Node]] = []
    for one in found.figures:
        unit = unit_of(one.figure, SYSTEMS[system])
        change = show_difference(one.change, change_unit_of(one.figure, SYSTEMS[system]), reason=one.why)
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
    caption = labels.change_between(found.before.title, found.after.title)
    return table(caption, labels.CHANGE_HEADS, rows, name="change")


def _scatter_notes(found: Comparison) -> list[Node]:
    """Whether the intervals include the scatter between runs."""
    return [node("p", f"{text[:1].upper()}{text[1:]}.", class_="small") for text in found.scatter_words]


def _values(picked: Sequence[Trial], system: str) -> list[Node]:
    heads = ("", *(Name(trial.title) for trial in picked))
    rows: list[list[Node]] = []
    said: list[str] = []
    for figure in shown_figures(picked):
        estimates, words = comparable(picked, figure.name)
        pairs = zip(picked, estimates, strict=True)
        rows.append([figure.label, *(_cell(_shown(trial, figure, estimate, system)) for trial, estimate in pairs)])
        said += words
    return [
        table(labels.VALUES_TABLE, heads, rows, name="beside", data_columns=str(len(picked))),
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
    caption = Name(labels.entries_changed(found.after.title, len(rows)))
    return table(caption, labels.PARTS_HEADS, rows, name="changed")


def _drawings(comparisons: Sequence[Comparison]) -> Iterable[Node]:
    drawn: set[tuple[str, ...]] = set()
    for found in comparisons:
        if found.changed and found.paths not in drawn:
            drawn.add(found.paths)
            words = labels.changed_view(found.after.build_name, ", ".join(found.paths))
            yield node("figure", drawing(found.drawing(), words), class_="side-view")


def trials_state(seen: FolderView, wished: Sequence[str]) -> str:
    """State of the list of trials, for its heading."""
    if not seen.ready:
        return labels.READING_FOLDER
    if not seen.trials:
        return labels.none_yet(labels.TRIAL)
    problems = sum(bool(trial.problems) for trial in seen.trials)
    chosen = len([trial for trial in seen.trials if str(trial.path) in wished])
    said = [
        str(len(seen.trials)),
        labels.selected(chosen) if chosen else "",
        labels.with_problems(problems) if problems else "",
    ]
    return ", ".join(filter(None, said))


def compared_state(seen: FolderView, wished: Sequence[str]) -> str:
    """The compared trials, for the heading."""
    picked = chosen_of(seen, wished)
    return " → ".join(trial.title for trial in picked) if len(picked) > 1 else ""


def _told(picked: Sequence[Trial], system: str, note_form: Node | None) -> Iterable[Node | None]:
    """Photos and notes of the trials, and the form of a new note; a problem is never in a part that can be closed."""
    for trial in picked:
        yield _photos(trial, system, own=note_form is not None)
        for problem in dict.fromkeys(trial.problems):
            yield node("p", node("b", f"{trial.title}: "), problem, class_="wrong")
    said = [
        (trial, list(dict.fromkeys([*(f"“{note}”" for note in trial.notes), *trial.alarms, *trial.words])))
        for trial in picked
    ]
    count = sum(len(items) for _, items in said)
    if count or note_form is not None:
        lists = [
            part
            for trial, items in said
            if items
            for part in (node("h3", Name(trial.title)), node("ul", *(node("li", text) for text in items)))
        ]
        yield node(
            "details",
            node("summary", labels.notes(count, alarms=any(trial.alarms for trial in picked))),
            *lists,
            note_form,
            id="notes-of-trials",
        )


def _photos(trial: Trial, system: str, *, own: bool = False) -> Node | None:
    """Small copies of photos that link to larger ones; a text for a photo that was removed since.

    own : whether notes can be written next to the photos
    """
    if not trial.photos:
        return None
    shown = []
    for photo in trial.photos:
        name = trial.photo_name(photo)
        address = f"/photo?recording={quote(str(trial.path), safe='')}&name={quote(name, safe='')}"
        picture = node("img", src=address, alt=labels.photo(name), loading="lazy", data_gone=True)
        words = node("figcaption", name, node("span", labels.PHOTO_GONE, class_="gone"))
        large = f"{address}&size=large"
        link = node("a", picture, href=large, target="_blank")
        bubbles = bubbles_of_photo(trial, photo)
        form = photo_form(trial, name, system, measured=bubbles is not None, address=large) if own else None
        shown.append(node("figure", link, words, form))
        if bubbles is not None:
            shown.append(_outlines(bubbles, f"{address}&size=outlines", system))
    title = node("h3", labels.photos_of(count_of(len(trial.photos), "photo"), trial.title))
    return node("div", title, node("div", *shown, class_="row-of-photos"), class_="photos")


def _outlines(bubbles: PhotoBubbles, address: str, system: str) -> Node:
    """The window of the target with the outlines of its bubbles, their diameter, and what may be wrong."""
    unit = SYSTEMS[system]["length"]
    picture = node("img", src=address, alt=labels.outlines(bubbles.path.name), loading="lazy", data_gone=True)
    words = [
        node("b", labels.bubble_diameter(value_text(bubbles.diameter, unit))),
        node("span", f" {interval_text(bubbles.diameter, unit)}"),
        node("span", labels.PHOTO_GONE, class_="gone"),
        *(node("span", said, class_="small") for said in bubbles.warnings),
    ]
    return node("figure", node("a", picture, href=address, target="_blank"), node("figcaption", *words))


def _note_form(picked: Sequence[Trial], noted: str) -> Node:
    trial = picked[-1]
    return node(
        "div",
        node(
            "div",
            node("label", labels.note_on(trial.title), for_=f"note-{trial.name}"),
            node("input", id=f"note-{trial.name}", name="note", type="text", inputmode="text", maxlength="400"),
            class_="entry",
        ),
        button(labels.SAVE_NOTE, f"notebook:note:{trial.path}", look=""),
        node("p", noted) if noted else None,
        class_="note-form",
        data_form=True,
    )
