"""What a browser gets before and with the first message: words at once, files small and kept, the right page and colours."""

import gzip
import hashlib
import json
import re
import urllib.request

import pytest
from dash import dcc, html
from reader_window import Look

from frothline.web import document, own_files
from frothline.web.feed import Feed
from frothline.web.pages import PAGES
from frothline.web.viewer import Viewer

CHART = "document.querySelector('#plane .js-plotly-plot .xtick')"  # a tick of an axis: the chart has been drawn


def fetch(url, **headers):
    with urllib.request.urlopen(urllib.request.Request(url, headers=headers), timeout=120) as answer:
        return answer.headers, answer.read()


def test_components_become_plain_html_and_stores_are_set_apart():
    stores = []
    page = html.Div(
        [html.Label("a < b", htmlFor="x"), html.Br(), dcc.Store(id="do-x"), html.Button("go", disabled=True)],
        className="row",
        **{"data-live": 'say "hm"', "tabIndex": 0},
    )
    made = document.markup(page, stores)
    assert [store.id for store in stores] == ["do-x"]
    assert '<label for="x">a &lt; b</label><br><button disabled>go</button></div>' in made
    assert 'data-live="say &quot;hm&quot;"' in made
    assert 'class="row"' in made
    assert 'tabindex="0"' in made


def test_every_page_has_its_question_and_its_headings_in_the_document_itself(address):
    _, body = fetch(address)
    text = body.decode()
    for page in PAGES:
        part = text[text.index(f'id="page-{page}"') :]
        assert re.search(r"<h1[^>]*>\w[^<]+</h1>", part)
    assert text.index('id="page-notebook"') < text.index("<template")  # before the page framework


def test_an_asset_has_an_address_of_its_content_and_is_kept_for_a_year(address):
    _, body = fetch(address)
    found = re.findall(r'"(/assets/[^"?]+)\?([0-9a-f]{12})"', body.decode())
    assert {path for path, _ in found} == {f"/assets/{name}" for name in own_files.TYPES}
    for path, version in found:
        headers, content = fetch(f"{address}{path[1:]}?{version}")
        assert hashlib.sha256(content).hexdigest().startswith(version)
        assert "max-age=31536000" in headers["Cache-Control"], path
    headers, _ = fetch(address + "assets/base.css")  # without its hash it may change
    assert "max-age" not in (headers["Cache-Control"] or "")
    headers, _ = fetch(address)
    assert "max-age" not in (headers["Cache-Control"] or "")


@pytest.mark.parametrize(
    ("name", "kind", "most"),
    [
        (own_files.PLOTLY, "text/javascript", 420_000),
        (own_files.STYLE, "text/css", 14_000),
        (own_files.SCRIPT, "text/javascript", 20_000),
    ],
)
def test_files_are_compressed_for_a_browser_that_can_read_it(address, name, kind, most):
    plain, whole = fetch(address + f"assets/{name}")
    headers, packed = fetch(address + f"assets/{name}", **{"Accept-Encoding": "gzip"})
    assert plain["Content-Encoding"] is None
    assert headers["Content-Encoding"] == "gzip"
    assert plain.get_content_type() == headers.get_content_type() == kind
    assert plain["Vary"] == headers["Vary"] == "Accept-Encoding"
    assert gzip.decompress(packed) == whole
    assert len(packed) < most


def test_one_style_sheet_and_one_script_hold_all_that_are_written_but_the_beginning_in_the_document(address):
    assert sorted((own_files.BEGIN, *own_files.SCRIPTS)) == sorted(path.name for path in own_files.ASSETS.glob("*.js"))
    begin = own_files.ASSETS / own_files.BEGIN
    assert begin.read_text("utf-8") in fetch(address)[1].decode().partition("<body")[0]
    for name, ending in ((own_files.STYLE, "css"), (own_files.SCRIPT, "js")):
        joined, whole = own_files.content(name).decode(), 0
        for path in set(own_files.ASSETS.glob(f"*.{ending}")) - {begin}:
            assert path.read_text("utf-8") in joined
            whole += path.stat().st_size
        assert whole <= len(joined.encode()) < whole + 40  # and nothing else
    assert own_files.content(own_files.STYLE).startswith((own_files.ASSETS / "base.css").read_bytes())
    script = own_files.content(own_files.SCRIPT).decode()
    assert script.index("window.frothlineForms = ") < script.index("\n  connect();")


@pytest.mark.browser
def test_the_first_message_has_words_and_figures_and_charts_come_when_their_library_is_there(look):
    """Two charts of the source page take the server 70 ms, for which the figures waited."""
    window, sockets, texts = look(fresh=True), [], []

    def came(text):
        texts.append(text)

    def opened(socket):
        sockets.append(socket)
        socket.on("framereceived", came)

    window.page.on("websocket", opened)
    window.open()
    window.charted("plane")
    messages = [json.loads(text) for text in texts]
    assert messages[0]["figures"] == {}
    assert re.search("[0-9]", messages[0]["texts"]["now-line_pressure"])
    assert {"plane", "traces"} <= set(next(one["figures"] for one in messages if one["figures"]))
    assert len(sockets) == 1  # the one that the head of the document opens


@pytest.mark.browser
def test_the_first_message_is_made_for_this_page_while_its_scripts_are_still_on_their_way(look):
    window = look(fresh=True, width=390, height=844)
    window.page.add_init_script("localStorage.setItem('frothline-system', 'inch-pound')")
    held = []

    def hold(route):
        held.append(route)

    window.context.route(re.compile(r"frothline\.js"), hold)
    window.page.goto(window.address + "generator", wait_until="commit")
    window.page.wait_for_function("window.frothlineSocket?.early.length")
    message = json.loads(window.page.evaluate("frothlineSocket.early[0].data"))
    assert message["number"] == 1
    assert "inH₂O" in message["texts"]["meet-pressure-unit"]
    assert message["blocks"]["side-view"]  # of the generator page
    columns, name = window.page.evaluate("[frothline.viewer.columns, frothline.viewer.page]")
    assert (columns, name) == (98, "generator")  # 390 pixels in fours
    while not held:
        window.page.wait_for_timeout(20)
    held.pop().continue_()
    window.drawn(2)
    window.wait_text("meet-pressure-unit", "inH₂O")


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_socket_that_failed_before_the_scripts_ran_is_opened_again(look):
    window = look(fresh=True)
    window.page.add_init_script(
        """const Real = WebSocket; let count = 0;
        window.WebSocket = new Proxy(Real, { construct(kind, [address]) {
          count += 1;
          return new Real(count === 1 ? address.replace("/live", "/nowhere") : address);
        } });"""
    )
    held = []

    def hold(route):
        held.append(route)

    window.context.route(re.compile(r"frothline\.js"), hold)
    window.page.goto(window.address, wait_until="commit")
    window.page.wait_for_function("window.frothlineSocket?.first.readyState === WebSocket.CLOSED")
    held.pop().continue_()
    window.drawn(2)
    window.complaints.clear()  # the browser says that the first one failed


def test_the_chart_library_is_the_published_one_with_its_licence():
    # shasum of the package's archive on the npm registry: plotly.js-basic-dist-min 4.1.1; the file's own hash was taken
    # from that archive.
    content = own_files.content(own_files.PLOTLY)
    assert b"plotly.js (basic - minified) v4.1.1" in content[:200]
    assert hashlib.sha256(content).hexdigest() == "99784e3abfb07b142a15e521a439e6d9addceadb3f79553fd24c72774f0649ba"
    assert "MIT License" in (own_files.ASSETS / "vendor" / "plotly-basic.LICENSE.txt").read_text("utf-8")


def test_every_chart_is_of_a_kind_that_the_small_chart_library_draws(bench):
    for opening in (0.0, 0.2, 0.4, 0.6, 0.8):
        bench._take(opening)
    feed, drawn = Feed(bench), set()
    for page in PAGES:
        for key, picture in feed.update(Viewer(page=page), 1)["figures"].items():
            drawn.add(key)
            assert {trace["type"] for trace in picture["figure"]["data"]} <= {"scatter", "bar", "pie"}
    assert {"plane", "traces", "meeting"} <= drawn


def test_a_page_that_can_draw_no_chart_yet_is_sent_none(bench):
    for opening in (0.0, 0.2, 0.4, 0.6, 0.8):
        bench._take(opening)
    feed = Feed(bench)
    for page in PAGES:
        without, whole = (feed.update(Viewer(page=page, charts=charts), 1) for charts in (False, True))
        assert without["figures"] == {}
        assert without["texts"].keys() == whole["texts"].keys()
        assert without["blocks"].keys() == whole["blocks"].keys()
    assert Viewer.of({"charts": False}, PAGES).charts is False
    assert Viewer.of({}, PAGES).charts is True


@pytest.mark.browser
@pytest.mark.exhaustive
def test_a_first_load_is_under_one_and_a_half_megabytes_and_a_second_takes_the_files_from_the_browsers_store(look):
    window = look(fresh=True)
    debugger, sizes = window.context.new_cdp_session(window.page), []
    debugger.on("Network.loadingFinished", lambda event: sizes.append(event["encodedDataLength"]))
    debugger.send("Network.enable")
    window.open()
    window.page.wait_for_function(CHART)
    window.page.wait_for_selector("#requests", state="attached")
    assert 100_000 < sum(sizes) < 1_500_000
    debugger.detach()
    window.page.reload()
    window.page.wait_for_function(CHART)
    sent = "performance.getEntriesByType('resource').filter((e) => /assets/.test(e.name)).map((e) => e.transferSize)"
    assert sum(window.page.evaluate(sent)) == 0


@pytest.mark.browser
@pytest.mark.exhaustive
def test_before_the_first_message_a_page_shows_its_own_words_and_no_figure(look):
    window = look(fresh=True)
    window.page.route_web_socket(re.compile("/live$"), lambda socket: None)  # connects, and never says anything
    for page in PAGES:
        window.page.goto(window.address + ("" if page == "source" else page))
        window.page.wait_for_selector(f"#page-{page} h1")
        seen = window.page.locator(".page:visible")
        assert seen.evaluate_all("pages => pages.map((one) => one.id)") == [f"page-{page}"]
        assert not re.search(
            r"\d\.\d|kPa", seen.locator("[data-live]").evaluate_all("e => e.map((x) => x.textContent).join()")
        )
        assert window.page.evaluate("[...document.querySelectorAll('.page button')].every((b) => b.textContent)")
        for number in seen.locator(".figure .number").all():
            assert number.text_content() == "–"
        for under in seen.locator(".figure .under").all():
            assert under.text_content() == "connecting"


@pytest.mark.browser
def test_the_dark_scheme_is_there_before_any_script_has_run(chromium, address):
    window = Look(chromium, address, color_scheme="dark")
    try:
        window.context.route(re.compile(r"\.js"), lambda route: route.abort())
        window.page.goto(address)
        assert window.page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(20, 25, 28)"
        assert window.page.locator("meta[name=color-scheme]").get_attribute("content") == "light dark"
    finally:
        window.close()


@pytest.mark.browser
def test_what_is_pressed_before_the_page_framework_is_there_is_done_once_it_is(look, bench):
    window = look(fresh=True)
    held = []

    def hold(route):
        held.append(route)

    window.context.route(re.compile(r"dash_renderer"), hold)
    window.page.goto(window.address, wait_until="commit")
    window.drawn(1)
    window.page.get_by_role("textbox", name="Note").fill("hose kinked")
    window.page.locator("#source-record").click()
    window.page.locator("#source-mark").click()
    assert not {"start_recording", "mark"} & set(bench.calls)
    while not held:
        window.drawn(1)
    held.pop().continue_()
    window.wait_text("record-button", "Stop recording")
    window.page.wait_for_function("document.getElementById('said').textContent.startsWith('Note')")
    assert [call for call in bench.calls if call != "budgets"] == ["start_recording", "mark"]
    assert bench.snapshot().marks[-1].text == "hose kinked"
