"""Pieces that several pages are built of. A live word is an element that carries the key of its text."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from frothline.errors import FrothlineError
from frothline.web.side_view import ALL

SAID = "said"  # id of the line in which the answer to a button stands


def page(key: str, question: str, *children: Component, note: str = "") -> Component:
    """A page: one question, then what answers it; ``note`` is what a reader must know of its figures."""
    head = [html.H1(question, id=f"{key}-question"), *([html.P(note)] if note else [])]
    return html.Section(
        [html.Div(head, className="question"), *children],
        id=f"page-{key}",
        className="page",
        **{"aria-labelledby": f"{key}-question"},
    )


def live(key: str, *, tag: Callable[..., Component] = html.Span, **more: Any) -> Component:
    """An element whose text is kept up to date under ``key``."""
    return tag(**{"data-live": key}, **more)


def figure(key: str, title: str) -> Component:
    """A large figure, its unit, and under it its interval or why it is not known."""
    return html.Div(
        [
            html.H2(title),
            html.P([live(key, className="number"), " ", live(f"{key}-unit", className="unit")], className="value"),
            live(f"{key}-under", tag=html.P, className="under"),
        ],
        className="figure",
    )


def result(key: str, title: str) -> Component:
    """A fitted figure in a list: title, value, interval."""
    return html.Div(
        [
            html.Dt(title),
            html.Dd(
                [
                    html.Span([live(key, className="number"), " ", live(f"{key}-unit", className="unit")]),
                    live(f"{key}-under", className="under"),
                ]
            ),
        ],
        **{"data-state": key},
    )


def table(key: str, caption: str, heads: Sequence[str]) -> Component:
    """A table whose rows are kept up to date under ``key``; without ``heads`` the first cell of a row is its head."""
    head = [html.Thead(html.Tr([html.Th(text, scope="col") for text in heads]))] if heads else []
    return html.Div(
        html.Table([html.Caption(caption), *head, html.Tbody(**{"data-table": key})], className="rows"),
        className="sideways",
        tabIndex=0,
        role="region",
        **{"aria-label": caption},
    )


def picture(key: str, about: str) -> Component:
    """A picture, drawn and kept up to date by the page's script; ``about`` says it in words to who cannot see it."""
    graph = dcc.Graph(
        id=key,
        figure={"data": [], "layout": {"paper_bgcolor": "rgba(0,0,0,0)", "plot_bgcolor": "rgba(0,0,0,0)"}},
        config={"displayModeBar": False, "responsive": True, "doubleClick": "reset", "scrollZoom": False},
        className="graph",
    )
    back = html.Button("Show all", type="button", className="quiet back", **{"data-show-all": key})
    return html.Figure([graph, back, html.Figcaption(about, className="unseen")], className=f"picture {key}")


def block(key: str, **more: Any) -> Component:
    """A place whose whole content is made by the server under ``key``, see ``web.elements``."""
    return html.Div(**{"data-block": key}, **more)


def caption(words: str) -> tuple[Component, Component]:
    """Of a side view, for those who do not see it: what it is, and which of its parts is marked, said as it comes."""
    return (
        html.Figcaption(words, className="unseen"),
        live(ALL, tag=html.P, className="unseen", role="status"),
    )


def to_come(*items: str) -> Component:
    """What will be on a page that is not filled yet."""
    return html.Div(
        [html.P("This page is not filled yet. It will show:"), html.Ul([html.Li(item) for item in items])],
        className="to-come",
    )


@dataclass(frozen=True)
class Asked:
    """What a button of a block asks: ``values`` are the texts of the form it is in."""

    verb: str
    argument: str
    values: Mapping[str, str]

    @classmethod
    def of(cls, data: Any) -> Asked:
        """Whatever came from the page; a text that is missing is empty."""
        said = data if isinstance(data, Mapping) else {}
        values = said.get("values")
        texts = {str(k): str(v) for k, v in values.items()} if isinstance(values, Mapping) else {}
        return cls(str(said.get("verb", "")), str(said.get("argument", "")), texts)


def asks(family: str) -> Component:
    """Where the questions of a family of buttons arrive; is once on its page."""
    return dcc.Store(id=f"do-{family}")


def on_asked(app: Dash, family: str, do: Callable[[Asked], Awaitable[str]]) -> None:
    """Run ``do`` for every button of the family, and say what came of it, errors included."""

    @app.callback(Output(SAID, "data", allow_duplicate=True), Input(f"do-{family}", "data"), prevent_initial_call=True)  # type: ignore[untyped-decorator]
    async def asked(data: Any) -> dict[str, Any]:
        count = data.get("count") if isinstance(data, Mapping) else None
        try:
            return {"text": await do(Asked.of(data)), "trouble": False, "count": f"{family} {count}"}
        except FrothlineError as error:
            return {"text": str(error), "trouble": True, "count": f"{family} {count}"}


def on_click(app: Dash, button: str, do: Callable[[], Awaitable[str]]) -> None:
    """Run ``do`` when the button is pressed, and say what came of it, errors included."""

    @app.callback(Output(SAID, "data", allow_duplicate=True), Input(button, "n_clicks"), prevent_initial_call=True)  # type: ignore[untyped-decorator]
    async def pressed(clicks: int | None) -> dict[str, Any]:
        try:
            return {"text": await do(), "trouble": False, "count": clicks}
        except FrothlineError as error:
            return {"text": str(error), "trouble": True, "count": clicks}
