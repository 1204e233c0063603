"""Words of a page are in its ``labels.py``: a literal that a reader sees is refused in every other module of a page."""

import ast
import re
from pathlib import Path

import pytest

import frothline.web.pages

PAGES = Path(frothline.web.pages.__file__).parent
WORDS = "labels.py"

# Literals that no reader sees, by module, each with its reason.
NOT_SHOWN = {
    "run/chart.py": {"alarm over": "kind of a mark in a recording", "false alarm": "kind of a mark in a recording"},
    "notebook/what_helped.py": {"{} from ": "how a sentence of the calculation begins; such a sentence is not shown"},
    "source/other_sweeps.py": {"operating point": "how a sentence of the calculation begins; it is not shown"},
}

# Calls with words for a reader: positions of those arguments; -1 is each from the second on.
TEXTS = {
    "node": (-1,),
    "nodes": (-1,),
    "button": (0,),
    "table": (0, 1),
    "drawer": (0,),
    "caption": (0,),
    "group": (0, 1),
    "entry": (2,),
    "InputError": (0,),
    "Name": (0,),
}
# The same of the functions of ``components`` whose first argument is a key.
KEY_FIRST = {"figure": (1,), "result": (1,), "picture": (1,), "part": (1,), "page": (1,), "table": (1, 2)}
# Keyword arguments and keys of attributes with words for a reader.
NAMED = {
    *("alt", "aria_label", "aria-label", "caption", "children", "example", "hint", "label", "note", "placeholder"),
    *("remedy", "title", "where"),
}
# Keyword arguments and keys with names in code.
CODE = {"class_", "className", "look", "id", "key", "name", "data_form", "data_do", "style", "role", "rel", "viewBox"}

TWO_WORDS = re.compile(r"[^\W\d_]{2,}[,;:.!?)”]* +(?:\{\}|[(“]?[^\W_])|\{\}[,;:.!?)”]* +[^\W\d_]{3,}")
CAPITAL = re.compile(r"[A-Z][a-z]{2,}[.:!?]*")
ANY_WORD = re.compile(r"[^\W\d_]{3,}")
MARKUP = re.compile(r"<\w|=\"|^[/?&#]|\w+=\{\}")


def text_of(item):
    """The literal of a constant or an f-string, with its values as {}; None for anything else."""
    if isinstance(item, ast.Constant):
        return item.value if isinstance(item.value, str) else None
    if isinstance(item, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in item.values)
    return None


def shown(item, names):
    """The literals among which the value of an expression is; a name is followed to what its function assigns."""
    if text_of(item) is not None:
        yield item
    elif isinstance(item, ast.IfExp):
        yield from [*shown(item.body, names), *shown(item.orelse, names)]
    elif isinstance(item, ast.BoolOp):
        yield from (one for value in item.values for one in shown(value, names))
    elif isinstance(item, ast.BinOp):
        yield from [*shown(item.left, names), *shown(item.right, names)]
    elif isinstance(item, ast.List | ast.Tuple):
        yield from (one for value in item.elts for one in shown(value, names))
    elif isinstance(item, ast.Starred):
        yield from shown(item.value, names)
    elif isinstance(item, ast.Name):
        yield from (one for value in names.get(item.id, ()) for one in shown(value, {}))


def called(call):
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def arguments(call):
    """The arguments of a call that are words for a reader."""
    module = getattr(call.func.value, "id", "") if isinstance(call.func, ast.Attribute) else ""
    places = (0,) if module == "html" else TEXTS.get(called(call), ())
    if called(call) in KEY_FIRST:
        places = KEY_FIRST[called(call)] if module == "components" else places if called(call) == "table" else ()
    for number, value in enumerate(call.args):
        if number in places or (-1 in places and number):
            yield value
    if called(call) == "append" and "rows" in getattr(call.func.value, "id", ""):
        yield from call.args
    yield from (keyword.value for keyword in call.keywords if keyword.arg in NAMED)


def literals_shown(source):
    """Line and text of each literal of a module that a reader sees."""
    tree = ast.parse(source)
    code, found = set(), {}
    functions = [item for item in ast.walk(tree) if isinstance(item, ast.FunctionDef | ast.AsyncFunctionDef)]
    for item in ast.walk(tree):
        if isinstance(item, ast.Expr) and text_of(item.value) is not None:
            code.add(item.value)  # a docstring
        if isinstance(item, ast.JoinedStr):
            code.update(item.values)
        if isinstance(item, ast.keyword) and item.arg in CODE:
            code.update(ast.walk(item.value))
        if isinstance(item, ast.Dict):
            code.update(key for key in item.keys if key is not None)
            code.update(v for k, v in zip(item.keys, item.values, strict=True) if k is not None and text_of(k) in CODE)
        if isinstance(item, ast.Compare):
            code.update(one for part in (item.left, *item.comparators) for one in ast.walk(part))
        if isinstance(item, ast.Subscript):
            code.update(ast.walk(item.slice))

    def refuse(item, rule):
        text = text_of(item)
        if item not in code and not MARKUP.search(text) and rule(text):
            found[item.lineno, item.col_offset] = text

    for item in ast.walk(tree):
        if text_of(item) is not None:
            refuse(item, lambda text: TWO_WORDS.search(text) or CAPITAL.fullmatch(text.strip()))
    for scope in (*functions, tree):
        names = {}
        for item in scope.body if scope is tree else ast.walk(scope):
            if isinstance(item, ast.Assign | ast.AnnAssign) and item.value is not None:
                for target in item.targets if isinstance(item, ast.Assign) else [item.target]:
                    names.setdefault(getattr(target, "id", ""), []).append(item.value)
        for item in ast.walk(scope):
            for value in arguments(item) if isinstance(item, ast.Call) else ():
                for one in shown(value, names):
                    refuse(one, ANY_WORD.search)
    return [(line, text) for (line, _), text in sorted(found.items())]


def modules():
    return [path for path in sorted(PAGES.rglob("*.py")) if path.name != WORDS]


def test_the_words_of_each_page_are_in_its_labels():
    found = []
    for path in modules():
        name = path.relative_to(PAGES).as_posix()
        left_out = NOT_SHOWN.get(name, {})
        literals = literals_shown(path.read_text("utf-8"))
        found += [f"{name}:{line}: {text!r}" for line, text in literals if text not in left_out]
        assert set(left_out) <= {text for _, text in literals}, f"{name}: an exception without its literal"
    assert not found, "\n".join(found)


def test_every_page_has_its_labels():
    pages = {path.parent.name for path in modules() if path.name == "page.py"}
    assert len(pages) > 5
    assert {name for name in pages if not (PAGES / name / WORDS).exists()} == set()


@pytest.mark.parametrize(
    "line",
    [
        'node("p", "calculating")',
        'node("p", words or "calculating")',
        'node("h3", f"{count} photos")',
        'button("Save", "sheet:save")',
        'x = "Cancel"',
        'x = f"Saved as {name}"',
        'x = f"{count} left"',
        'html.P("loading")',
        'node("a", aria_label="report")',
        'html.Div(**{"aria-label": "the line"})',
        'def f():\n    heads = ("trial", "source")\n    table(labels.CAPTION, heads, ())',
        'rows.append(["stability", cell])',
        'raise InputError(labels.X, remedy="Reload")',
    ],
)
def test_a_literal_that_a_reader_sees_is_found(line):
    assert literals_shown(line)


@pytest.mark.parametrize(
    "line",
    [
        '"""Blocks of the page."""',
        'node("div", class_="entries two-wide")',
        'html.Div(className="side-view small-view")',
        'x = {"air rate": 1}',
        'found = kind == "false alarm"',
        'node("p", labels.CALCULATING, class_="small")',
        'x = f\'<path class="ink thin" d="M1046 {y}"/>\'',
        'x = f"{value} {unit}"',
        'button(labels.SAVE, "sheet:save")',
    ],
)
def test_a_literal_that_is_code_is_not(line):
    assert not literals_shown(line)
