"""Components shared by several pages. A live text is an element with the key of its text."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from dash import Dash, Input, Output, dcc, html
from dash.development.base_component import Component

from frothline.errors import FrothlineError, InputError
from frothline.formatting import DASH
from frothline.label_case import label_case
from frothline.units import SYSTEMS
from frothline.web.access import refuse_viewer
from frothline.web.side_view import ALL

SAID = "said"  # id of the line with the answer to a button
REQUESTS = "requests"  # id of the stores for requests; while it is missing, requests wait in the page
WAITING = "connecting"  # in place of an interval, before the first message
RELOAD = "Reload the page"  # remedy for a request that this version of the page does not make


def page(key: str, question: str, *children: Component, note: str = "") -> Component:
    """A page: its question and its content; ``note`` is a caution about its figures."""
    head = [html.H1(question, id=f"{key}-question"), *([html.P(note)] if note else [])]
    return html.Section(
        [html.Div(head, className="question"), *children],
        id=f"page-{key}",
        className="page",
        **{"aria-labelledby": f"{key}-question"},
    )


def live(key: str, *, tag: Callable[..., Component] = html.Span, **more: Any) -> Component:
    """An element whose text is updated under ``key``."""
    return tag(**{"data-live": key}, **more)


def figure(key: str, title: str) -> Component:
    """A large figure with its unit, and below it its interval or the reason why it is unknown."""
    return html.Div(
        [
            html.H2(label_case(title)),
            html.P([_unknown(key), " ", live(f"{key}-unit", className="unit")], className="value"),
            live(f"{key}-under", tag=html.P, className="under", children=WAITING),
        ],
        className="figure",
    )


def _unknown(key: str) -> Component:
    """A number before the first message."""
    return html.Span(DASH, className="number", **{"data-live": key, "data-unknown": ""})


def result(key: str, title: str) -> Component:
    """A fitted figure in a list: title, value, interval."""
    return html.Div(
        [
            html.Dt(label_case(title)),
            html.Dd(
                [
                    html.Span([_unknown(key), " ", live(f"{key}-unit", className="unit")]),
                    live(f"{key}-under", className="under", children=WAITING),
                ]
            ),
        ],
        **{"data-state": key},
    )


def table(key: str, caption: str, heads: Sequence[str]) -> Component:
    """A table whose rows are updated under ``key``; without ``heads`` the first cell of a row is its head."""
    head = [html.Thead(html.Tr([html.Th(label_case(text), scope="col") for text in heads]))] if heads else []
    return html.Div(
        html.Table([html.Caption(caption), *head, html.Tbody(**{"data-table": key})], className="rows"),
        className="sideways",
        tabIndex=0,
        role="region",
        **{"aria-label": caption},
    )


def picture(key: str, about: str) -> Component:
    """A chart, drawn and updated by the page's script; ``about`` is its text for screen readers."""
    graph = html.Div(html.Div("The chart is loading"), id=key, className="graph")
    back = html.Button("Show all", type="button", className="quiet back", **{"data-show-all": key})
    return html.Figure([graph, back, html.Figcaption(about, className="unseen")], className=f"picture {key}")


def block(key: str, **more: Any) -> Component:
    """An element whose content the server makes under ``key``, see ``web.elements``."""
    return html.Div(**{"data-block": key}, **more)


def drawer(
    title: str | Component,
    *children: Component,
    brief: str = "",
    open_wide: bool = False,
    key: str | None = None,
    **more: Any,
) -> Component:
    """A part of a page that is closed until somebody opens it.

    ``brief`` : key of a live text in its head, which says its state while it is closed
    ``open_wide`` : open from the start on a screen that is wider than a phone
    ``key`` : id, to which a link of the page may lead
    """
    state: dict[str, Any] = {"data-state": brief}
    named = html.B(title) if isinstance(title, str) else title
    about: dict[str, Any] = {"id": key} if key else {}
    if open_wide:
        about["data-open-wide"] = "yes"
    head = [named, *([live(brief, className="brief", **state)] if brief else [])]
    return html.Details([html.Summary(head), *children], className="drawer", **about, **more)


def part(key: str, title: str, *children: Component, shown: bool = False) -> Component:
    """A main part of a page as a drawer ``part-key`` with a heading. A wide page shows all parts at first.

    shown : a phone shows it at first too. The state is the text ``part-key``.
    """
    return drawer(
        html.H2(title), *children, brief=f"part-{key}", open_wide=True, key=f"part-{key}", open=True if shown else None
    )


def caption(words: str) -> tuple[Component, Component]:
    """Screen-reader text of a side view: its description, and the marked part as a live text."""
    return (
        html.Figcaption(words, className="unseen"),
        live(ALL, tag=html.P, className="unseen", role="status"),
    )


def to_come(*items: str) -> Component:
    """Placeholder of a page without content yet."""
    return html.Div(
        [html.P("This page will show:"), html.Ul([html.Li(item) for item in items])],
        className="to-come",
    )


@dataclass(frozen=True)
class Asked:
    """The request of a button in a block: ``values`` are the texts of its form, ``page`` the name of the open page,
    ``system`` the reader's units.
    """

    verb: str
    argument: str
    values: Mapping[str, str]
    page: str = ""
    system: str = "metric"

    @classmethod
    def of(cls, data: Any) -> Asked:
        """Parse a request from the page; a missing text is empty."""
        said = data if isinstance(data, Mapping) else {}
        values = said.get("values")
        texts = {str(k): str(v) for k, v in values.items()} if isinstance(values, Mapping) else {}
        system = said.get("system")
        return cls(
            verb=str(said.get("verb", "")),
            argument=str(said.get("argument", "")),
            values=texts,
            page=str(said.get("page", "")),
            system=system if system in SYSTEMS else "metric",
        )


def unknown(verb: str, *, where: str = "") -> InputError:
    """The error for a request that no button of the page makes."""
    return InputError(f"“{verb}” is unknown", where=where, remedy=RELOAD)


def asks(family: str) -> Component:
    """The store for requests of a family of buttons; exists once on its page."""
    return dcc.Store(id=f"do-{family}")


def on_asked(app: Dash, family: str, do: Callable[[Asked], Awaitable[str]]) -> None:
    """Run ``do`` for every button of the family, and show its result or error."""

    @app.callback(Output(SAID, "data", allow_duplicate=True), Input(f"do-{family}", "data"), prevent_initial_call=True)  # type: ignore[untyped-decorator]
    async def asked(data: Any) -> dict[str, Any]:
        count = data.get("count") if isinstance(data, Mapping) else None
        try:
            refuse_viewer()
            return {"text": await do(Asked.of(data)), "trouble": False, "count": f"{family} {count}"}
        except FrothlineError as error:
            return {"text": str(error), "trouble": True, "count": f"{family} {count}"}


def sorry(title: str, words: str) -> str:
    """A page in place of a report, card or photo that cannot be shown."""
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{escape(title)}</title>'
        f'<body style="font:17px system-ui,sans-serif;margin:2rem"><h1>{escape(title)}</h1>'
        f"<p>{escape(words)}</p></body></html>"
    )
