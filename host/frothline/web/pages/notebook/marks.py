"""The view in which two marks of a ruler are set on a photo, over the whole page. ``marks.js`` operates it."""

from __future__ import annotations

from dash import html
from dash.development.base_component import Component

from frothline.bubble_size.photo_notes import POINTS, SHORTEST
from frothline.web.pages.notebook import labels

PLACE = "marks"


def marks_view() -> Component:
    """The view, closed: photo with both marks and their line, magnified surroundings, and buttons for every step."""
    marks = [html.Div(str(n), className="marks-mark", **{"data-of": name}) for n, name in enumerate(POINTS, 1)]
    done = html.Button(labels.MARKS_DONE, type="button", className="main marks-done")
    steps = [html.P(words, **{"data-at": step}) for step, words in labels.MARKS_STEPS.items()]
    return html.Div(
        [
            html.Div(
                [
                    html.H2(labels.SET_MARKS, id="marks-title"),
                    *steps,
                    html.P(labels.MARKS_NEAR, className="marks-near"),
                    html.P(labels.MARKS_GONE, className="marks-gone"),
                ],
                className="marks-words",
            ),
            html.Div(
                html.Div(
                    [
                        html.Img(alt=labels.MARKS_PHOTO, draggable="false"),
                        html.Div(className="marks-line"),
                        *marks,
                    ],
                    className="marks-photo",
                ),
                className="marks-stage",
                role="application",
                tabIndex=0,
                **{"aria-label": labels.MARKS_STAGE, "data-focus": "yes"},
            ),
            html.Div([_lens(), _moves(), _choice(), done], className="marks-side"),
            html.P("", className="unseen", role="status"),
        ],
        id=PLACE,
        className="whole-page marks",
        role="dialog",
        **{"aria-modal": "true", "aria-labelledby": "marks-title", "data-shortest": f"{SHORTEST:g}"},
    )


def _lens() -> Component:
    return html.Canvas(className="marks-lens", role="img", **{"aria-label": labels.MARKS_LENS})


def _moves() -> Component:
    buttons = [
        html.Button(
            arrow,
            type="button",
            className=f"quiet marks-{name}",
            **{"data-move": f"{x} {y}", "aria-label": f"{labels.MOVE_MARK}: {name}"},
        )
        for name, (x, y, arrow) in labels.MARK_MOVES.items()
    ]
    return html.Div(buttons, className="marks-moves", role="group", **{"aria-label": labels.MOVE_MARK})


def _choice() -> Component:
    buttons = [
        html.Button(
            [labels.PHOTO_NOTES[one], " ", html.Span(labels.NOT_SET)],
            type="button",
            **{"data-pick": one, "aria-pressed": "false"},
        )
        for one in POINTS
    ]
    return html.Div(buttons, className="choice", role="group", **{"aria-label": labels.WHICH_MARK})
