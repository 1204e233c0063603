"""The pages that people read: every command is named in them, every link leads somewhere, and the set-up is as short as
it is promised to be."""

import ast
import os
import re
import subprocess
from pathlib import Path
from urllib.parse import unquote

import pytest

from frothline import cli

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
PAGES = (README, ROOT / "DEVELOPERS.md", *sorted((ROOT / "hardware" / "guide").glob("*.md")))
# Markdown by CommonMark 0.31, section 4.5: a fence opens at three back-ticks or tildes and closes at as many.
FENCE = re.compile(r"^(`{3,}|~{3,})[^\n]*\n.*?^\1[ \t]*$", re.MULTILINE | re.DOTALL)
SH = re.compile(r"^```sh[ \t]*\n(.*?)^```[ \t]*$", re.MULTILINE | re.DOTALL)
# [words](target "title") and ![words](target), sections 6.3 and 6.4
LINK = re.compile(r"!?\[[^\]]*\]\(\s*<?([^)\s>]+)>?(?:\s+\"[^\"]*\")?\s*\)")


def in_a_clone():
    """Names of all files that a clone has. Without git, as in an unpacked archive, of all that lies in its folders."""
    try:
        said = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        folders = ("firmware", "hardware", "recordings", "tests", "host")
        found = (path for one in folders for path in (ROOT / one).rglob("*") if path.is_file())
        return {path.relative_to(ROOT).as_posix() for path in (*ROOT.glob("*.md"), ROOT / "LICENSE", *found)}
    return {name for name in said.stdout.decode().split("\0") if name}


FILES = in_a_clone()
FOLDERS = {folder.as_posix() for name in FILES for folder in Path(name).parents}


def commands():
    """Name and line of help, as ``frothline --help`` lists them."""
    (listed,) = [action for action in cli.parser()._actions if action.dest == "command"]
    return {choice.dest: choice.help for choice in listed._choices_actions}


def links(text):
    """Targets outside code, without those of other hosts."""
    prose = re.sub(r"`[^`\n]*`", "", FENCE.sub("", text))
    return [one for one in LINK.findall(prose) if not re.match(r"[a-z][a-z0-9+.-]*:", one, re.IGNORECASE)]


def anchors(text):
    """Of the headings, as repository hosts make them: small letters, signs left out, blanks to hyphens."""
    headings = re.findall(r"^#{1,6}[ \t]+(.+?)[ \t#]*$", FENCE.sub("", text), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", one.lower()).replace(" ", "-") for one in headings}


@pytest.mark.parametrize("name", [one.name for one in cli.COMMANDS])
def test_every_command_has_a_line_of_help_and_is_named_where_people_read(name):
    assert commands()[name]
    named = re.compile(rf"`{re.escape(name)}[` ]|\bfrothline {re.escape(name)}(?![\w.-])")
    assert any(named.search(page.read_text("utf-8")) for page in PAGES), f"no page names `frothline {name}`"


@pytest.mark.parametrize("name", sorted(name for name in FILES if name.endswith(".md")))
def test_every_link_of_a_page_leads_somewhere(name):
    page = ROOT / name
    for target in links(page.read_text("utf-8")):
        path, _, heading = target.partition("#")
        there = page if not path else (page.parent / unquote(path)).resolve()
        assert there.is_relative_to(ROOT), f"{name}: {target} leads out of the project"
        assert there.relative_to(ROOT).as_posix() in FILES | FOLDERS, f"{name}: {target} is not in a clone"
        if heading and there.suffix == ".md":
            assert heading in anchors(there.read_text("utf-8")), f"{name}: {target} has no such heading"


def test_a_link_that_leads_nowhere_would_be_seen():
    text = "see [here](gone.md#place) and `[not](a-link)`\n\n```sh\n[nor](this)\n```\n![picture](a%20b.png) [far](https://a.b)"
    assert links(text) == ["gone.md#place", "a%20b.png"]
    assert anchors("## Build it, test it\n") == {"build-it-test-it"}


def test_setting_up_takes_two_commands_and_both_can_be_run():
    text = README.read_text("utf-8")
    (section,) = re.findall(r"^## Try it, test it\n(.*?)(?=^## )", text, re.MULTILINE | re.DOTALL)
    blocks = [[line for line in one.splitlines() if line.strip()] for one in SH.findall(section)]
    assert len(blocks) == 2
    for block in blocks:
        (line,) = block
        words = line.partition("#")[0].split()
        assert words[0] == "sh"
        program = ROOT / words[1]
        assert program.is_file(), f"{words[1]} is not there"
        assert os.access(program, os.X_OK) or os.name == "nt", f"{words[1]} may not be executed"
        assert program.read_text("utf-8").startswith("#!/bin/sh\n")


# --- the contributors' map against the code ----------------------------------------------------------------------------

MAP = (ROOT / "DEVELOPERS.md").read_text("utf-8")
PACKAGE = ROOT / "host" / "frothline"


def section(heading):
    (text,) = re.findall(rf"^## {re.escape(heading)}\n(.*?)(?=^## |\Z)", MAP, re.MULTILINE | re.DOTALL)
    return text


def rows(text):
    """Cells of the rows of a Markdown table, without its head."""
    lines = [line for line in text.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def test_every_file_that_the_map_names_is_there():
    names = set(re.findall(r"`((?:[\w.-]+/)*[\w-]+\.(?:py|md|toml|js|css|h))`", MAP))
    assert len(names) > 60
    missing = []
    for name in names:
        inside = {f"host/frothline/{name}", name}
        near = {one for one in FILES if one.endswith(f"/{name}")} if "/" not in name else set()
        if not (inside & FILES or near):
            missing.append(name)
    assert missing == []


def test_the_map_has_the_floors_that_the_structure_test_holds():
    import test_structure

    there = {int(floor): set(re.findall(r"`(\w+)`", names)) for floor, names in rows(section("Floors"))}
    held = {}
    for name, floor in test_structure.FLOORS.items():
        held.setdefault(floor, set()).add(name)
    assert there == held


def test_every_package_has_a_row_of_what_to_read_first():
    named = {one for cells in rows(section("What is where")) for one in cells[0].split(", ")}
    packages = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert packages <= named


def test_every_thread_with_a_name_is_in_the_map():
    source = "".join((PACKAGE / name).read_text("utf-8") for name in sorted(p for p in PACKAGE.rglob("*.py")))
    in_code = set(re.findall(r'name="(frothline-[\w-]+)"', source))
    assert in_code == set(re.findall(r"`(frothline-[\w-]+)`", section("Threads, and who owns what")))


def test_the_fields_of_a_message_are_those_of_the_map():
    tree = ast.parse((PACKAGE / "web" / "feed.py").read_text("utf-8"))
    (made,) = [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.AnnAssign) and ast.unparse(node.target) == "message"
    ]
    in_code = [key.value for key in made.keys]
    in_map = [cells[0].strip("`") for cells in rows(section("The message from server to page"))]
    assert sorted(in_map) == sorted(in_code)


def test_the_glossary_is_short_and_its_words_are_used():
    words = [cells[0] for cells in rows(section("House words"))]
    assert len(words) <= 15
    source = "\n".join(path.read_text("utf-8") for path in PACKAGE.rglob("*.py"))
    assert [word for word in words if not re.search(rf"\b{word}", source)] == []
