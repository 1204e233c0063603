"""Makes one paper of the whole guide: every page, picture and table in one HTML file that a browser prints.

    python hardware/guide/paper.py guide.html      then print it from a browser (A4 or Letter)

Pictures are inside the file; links between pages become links within it.
"""

from __future__ import annotations

import argparse
import base64
import csv
import re
import sys
from html import escape
from pathlib import Path

from markdown_it import MarkdownIt

HERE = Path(__file__).parent
HARDWARE = HERE.parent
GUIDE = (
    "README",
    "1-spool",
    "2-wiring",
    "3-flash",
    "4-first-light",
    "5-leaks",
    "6-calibrate",
    "7-first-sweep",
    "8-when-odd",
)
PAGES = (
    *(HERE / f"{name}.md" for name in GUIDE),
    HARDWARE / "parts/README.md",
    HARDWARE / "wiring/README.md",
    HARDWARE / "wiring/wiring.md",
    HARDWARE / "spool/README.md",
    HARDWARE / "spool/rotor.md",
    HARDWARE / "spool/no-printer.md",
    HARDWARE / "spool/four-sources.md",
    HARDWARE / "bores/README.md",
)
TABLES = {"parts/README.md": HARDWARE / "parts/parts.csv", "spool/README.md": HARDWARE / "spool/plates.csv"}
MARKDOWN = MarkdownIt("commonmark").enable("table")
TYPES = {".svg": "image/svg+xml", ".png": "image/png"}
LOOK = """
@page { margin: 16mm }
body { font: 11pt/1.4 system-ui, sans-serif; color: #111; max-width: 190mm; margin: 0 auto; padding: 0 4mm }
section { break-before: page }
section:first-of-type { break-before: auto }
h1 { font-size: 18pt } h2 { font-size: 13pt; break-after: avoid }
table { border-collapse: collapse; width: 100%; font-size: 9pt } tr, img, pre, blockquote { break-inside: avoid }
td, th { border: 1px solid #999; padding: 2pt 4pt; text-align: left; vertical-align: top; overflow-wrap: break-word }
img { max-width: 100%; max-height: 230mm; display: block; margin: 4pt auto }
pre { background: #f2f2f2; padding: 4pt; white-space: pre-wrap; overflow-wrap: anywhere } code { overflow-wrap: anywhere }
blockquote { border: 2px solid #a63a2a; margin: 0; padding: 2pt 8pt }
"""


def anchor(page: Path) -> str:
    """Name of a page within the paper."""
    return page.relative_to(HARDWARE).with_suffix("").as_posix().replace("/", "-").lower()


def _section(page: Path) -> str:
    body = MARKDOWN.render(page.read_text("utf-8"))
    body = re.sub(r'src="([^"]+)"', lambda found: f'src="{_inside(page, found[1])}"', body)
    body = re.sub(r'href="([^"]+)"', lambda found: f'href="{_target(page, found[1])}"', body)
    table = TABLES.get(page.relative_to(HARDWARE).as_posix())
    return f'<section id="{anchor(page)}">\n{body}\n{_table(table) if table else ""}</section>'


def _inside(page: Path, source: str) -> str:
    picture = (page.parent / source).resolve()
    return f"data:{TYPES[picture.suffix]};base64,{base64.b64encode(picture.read_bytes()).decode()}"


def _target(page: Path, target: str) -> str:
    """A link to a page of the paper leads within it; any other names its place in the repository."""
    if "://" in target:
        return target
    there = (page.parent / target.partition("#")[0]).resolve()
    if there in {one.resolve() for one in PAGES}:
        return f"#{anchor(there)}"
    if there in {one.resolve() for one in TABLES.values()}:
        return f"#{anchor(next(HARDWARE / name for name, file in TABLES.items() if file.resolve() == there))}"
    return target


def _table(file: Path) -> str:
    with file.open(encoding="utf-8") as opened:
        rows = [row for row in csv.reader(opened) if row and not row[0].startswith("#")]
    head, *rest = rows
    alike = {index for index in range(len(head)) if len({row[index] for row in rest}) == 1}
    shown = [[cell for index, cell in enumerate(row) if index not in alike] for row in rows]
    titles, *lines = ["".join(f"<td>{escape(cell.replace('_', ' '))}</td>" for cell in row) for row in shown]
    body = "\n".join(f"<tr>{line}</tr>" for line in lines)
    common = "; ".join(f"{head[index].replace('_', ' ')}: {rest[0][index]}" for index in sorted(alike))
    note = f"<p>In all lines: {escape(common)}.</p>" if common else ""
    return f"<h2>{escape(file.name)}</h2>\n{note}<table><tr>{titles.replace('td>', 'th>')}</tr>\n{body}</table>\n"


def paper() -> str:
    """The whole guide as one HTML file."""
    body = "\n".join(_section(page) for page in PAGES)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>Frothline: building the rig</title>'
        f"<style>{LOOK}</style></head><body>\n{body}\n</body></html>\n"
    )


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="The whole guide in one file that a browser prints.")
    parser.add_argument("target", type=Path, help="file to write, guide.html")
    target = parser.parse_args(arguments).target
    target.write_text(paper(), "utf-8")
    print(f"{target}: open it in a browser and print it")
    return 0


if __name__ == "__main__":
    sys.exit(main())
