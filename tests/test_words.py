"""Plain words where a user reads: messages, labels, help, reports, pages and the guides.

A phrase of the list below is old-fashioned, a figure of speech or longer than the field's own term. Each has the words to
use instead.
"""

import ast
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
HOST = ROOT / "host" / "frothline"
ASSETS = HOST / "web" / "assets"
PAGES = (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "hardware" / "guide").glob("*.md")))

# Regular expression of a phrase, without its word boundaries: what to write instead.
PHRASES = {
    r"anew": "again",
    r"reckon(s|ed|ing)?": "calculate",
    r"asks? for": "requires, needs, request",
    r"beside it": "next to it",
    r"told": "given, stated",
    r"stands?(?!-in)|stood": "is, does not turn, is steady",
    r"lies?|lay": "is, is at, is in",
    r"of one": "of the same, of a",
    r"nothing or something": "0 or more",
    r"more than nothing": "greater than 0",
    r"for ever": "permanently",
    r"mend(s|ed|ing)?": "fix, correct",
    r"kept": "saved, stored",
    r"wish(es|ed)?": "target",
    r"desk": "build, form",
    r"shelf": "library",
    r"places? taken": "points",
    r"meets? at": "operating point",
    r"(they|curves) do not meet|they meet": "no operating point",
    r"to spare": "pressure margin",
    r"heap": "-",
    r"whichever|whoever": "any",
    r"so that it may": "to",
    r"may hunt|to and fro": "may surge",
    r"opening the (wetted holes|packing's pores)": "capillary pressure",
    r"wants? looking at": "failed",
    r"needs? a look": "is invalid",
    r"is no (?!longer\b)(?<!there is no )": "is not a",
    r"may be nothing": "interval includes no change",
    r"nobody can say": "unknown",
    r"far surer|make it surer": "reduces the uncertainty",
    r"worked out|working it out": "calculated, calculating",
    r"looking on": "open viewers",
    r"goes on by itself": "resumes, reconnects",
    r"no patience": "is out of range",
    r"says yes": "confirms",
    r"of all chance": "random seed",
    r"heard it": "silence",
    r"on the word of": "source",
    r"liquid creeps back": "solution flows back",
    r"foam thins": "foam getting too dry",
    r"at the prompt": "on the command line",
    r"puts? (it )?right": "clears",
    r"went along with": "always changed together with",
    r"load the page again": "reload the page",
}
BANNED = re.compile(
    "|".join(rf"\b(?:{one})\b" if one[-1] != ")" else rf"\b(?:{one})" for one in PHRASES), re.IGNORECASE
)

# Literals that are no words for a reader, each with its reason.
DATA = {
    "[[wish]]": "name of a table in a plan file",
    "reference, batches, factors, along, alone, wish": "names of entries in a plan file",
    ": wish {}": "name of a table in a plan file, as the place of an error",
    "[data-wish]": "name of an attribute",
}
NOT_READ = {"wire/c_header.py": "writes C source for the firmware"}


def literals(tree):
    """Line and text of each string of a module except docstrings; an f-string with its values as {}."""
    skipped = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            skipped.add(id(node.value))
        if isinstance(node, ast.JoinedStr):
            skipped.update(id(part) for part in node.values if isinstance(part, ast.Constant))
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = (part.value if isinstance(part, ast.Constant) else "{}" for part in node.values)
            yield node.lineno, "".join(map(str, parts))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped:
            yield node.lineno, node.value


def is_key(text):
    """Whether a literal is a name in code: one lower-case word, as keys, classes, ids and options are."""
    return re.fullmatch(r"[a-z0-9_\-.:/?=&{}]+", text) is not None


def wrong_in(text):
    for data in DATA:
        text = text.replace(data, "")
    return [found.group() for found in BANNED.finditer(text)]


def modules():
    for path in sorted(HOST.rglob("*.py")):
        name = path.relative_to(HOST).as_posix()
        if name not in NOT_READ:
            yield path


class Shown(HTMLParser):
    """Line and text of what a document shows."""

    def __init__(self):
        super().__init__()
        self.found = []
        self._silent = ""

    def handle_starttag(self, tag, attrs):
        self._silent = tag if tag in ("script", "style") else ""
        self.found += [(self.getpos()[0], text) for name, text in attrs if name in ("aria-label", "title", "alt")]

    def handle_endtag(self, tag):
        self._silent = ""

    def handle_data(self, text):
        if not self._silent:
            self.found.append((self.getpos()[0], text))


def strings_of_script(text):
    """Line and text of the string literals of a script, comments left out."""
    for number, line in enumerate(text.splitlines(), 1):
        for found in re.finditer(r"//.*$|\"([^\"\n]*)\"|'([^'\n]*)'|`([^`\n]*)`", line):
            words = next((group for group in found.groups() if group), "")
            if not is_key(words):
                yield number, re.sub(r"\$\{[^}]*\}", "{}", words)


def report(path, found):
    name = path.relative_to(ROOT).as_posix()
    return [f"{name}:{line}: {phrase!r} in {text[:90]!r}" for line, text in found for phrase in wrong_in(text)]


def test_no_message_label_or_help_text_has_a_phrase_of_the_list():
    found = []
    for path in modules():
        strings = literals(ast.parse(path.read_text(encoding="utf-8")))
        found += report(path, [(line, text) for line, text in strings if not is_key(text)])
    assert not found, "\n".join(found)


def test_what_the_browser_adds_to_the_pages_has_none_either():
    found = []
    for path in sorted(ASSETS.glob("*.js")):
        found += report(path, strings_of_script(path.read_text(encoding="utf-8")))
    for path in sorted(ASSETS.glob("*.css")):
        content = re.finditer(r"content:\s*\"([^\"]*)\"", path.read_text(encoding="utf-8"))
        found += report(path, [(0, one.group(1)) for one in content])
    for path in sorted(ASSETS.glob("*.html")):
        shown = Shown()
        shown.feed(path.read_text(encoding="utf-8"))
        found += report(path, shown.found)
    assert not found, "\n".join(found)


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_no_guide_has_a_phrase_of_the_list(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    found = report(path, [(number, re.sub(r"`[^`]*`", "", line)) for number, line in enumerate(lines, 1)])
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    "text",
    [
        "the sheet lies in builds",
        "“x” is no date",
        "The place stands still",
        "2 of 10 want looking at",
        "calculated anew",
        "more Runs of one board",
        "a wish is needed",
        "MAY HUNT",
    ],
)
def test_the_list_finds_a_phrase_wherever_it_is_in_a_sentence(text):
    assert wrong_in(text)


@pytest.mark.parametrize(
    "text",
    [
        "he understands the standard",
        "there is no port",
        "it is no longer available",
        "the client relies on it",
        "an amendment",
        "reference, batches, factors, along, alone, wish",
    ],
)
def test_the_list_finds_whole_words_only(text):
    assert not wrong_in(text)


def test_docstrings_and_keys_are_left_out_and_values_in_a_sentence_are_not_read():
    tree = ast.parse('"""It stands."""\nx = "kept"\ny = f"the {kept} file lies in {folder}"\n')
    assert [(line, text) for line, text in literals(tree) if not is_key(text)] == [(3, "the {} file lies in {}")]
