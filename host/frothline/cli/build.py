"""``build``: a build sheet checked and drawn."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from frothline.bench.own_build import own_build
from frothline.cli.output import Say
from frothline.errors import InputError
from frothline.generator.build import differences
from frothline.generator.drawing import draw
from frothline.generator.drawing_words import describe
from frothline.generator.entry_words import entry_words, spoken
from frothline.generator.sheet import parse_sheet, read_sheet, sheet_text, starting_sheet, write_new_sheet

FINE, OBJECTIONS = 0, 1


def run(options: Namespace, say: Say) -> int:

    if options.new:
        return _new(options.sheet, say)
    if options.as_mine is not None:
        return _as_mine(options.sheet, options.as_mine, say)
    sheet = parse_sheet(sheet_text(options.sheet), str(options.sheet))
    problems = [{**vars(one)} for one in sheet.problems]
    if sheet.build is None:
        fatal = [one for one in sheet.problems if one.fatal]
        rest = "".join(f"\n{one}" for one in fatal[1:])
        raise InputError(fatal[0].what, where=fatal[0].where, remedy=fatal[0].remedy + rest)
    lines = [describe(sheet.build, options.units), *(f"check: {one}" for one in sheet.problems)]
    data: dict[str, Any] = {"build": sheet.build, "problems": problems, "words": describe(sheet.build)}
    changed: list[str] = []
    if options.against is not None:
        found = differences(read_sheet(options.against), sheet.build)
        changed = [one.path for one in found]
        rows = [(spoken(d.path), entry_words(d.path, d.before), entry_words(d.path, d.after)) for d in found]
        data["differences"] = [
            {"path": d.path, "about": d.about, "before": row[1], "after": row[2]}
            for d, row in zip(found, rows, strict=True)
        ]
        shown = [
            (spoken(d.path), *(entry_words(d.path, one, options.units) for one in (d.before, d.after))) for d in found
        ]
        lines += [f"{a}: {b} to {c}" for a, b, c in shown] or ["no difference"]
    if options.svg is not None:
        options.svg.write_text(draw(sheet.build, changed=changed, system=options.units), encoding="utf-8")
        data["svg"] = options.svg
        lines.append(f"drawing written to {options.svg}")
    say.result(data, "\n".join(lines))
    return OBJECTIONS if sheet.problems else FINE


def _new(path: Path, say: Say) -> int:

    path = write_new_sheet(starting_sheet(), path)
    say.result(
        {"path": path}, f"{path}: edit the entries to match your generator, then check the sheet with this command"
    )
    return FINE


def _as_mine(received: Path, to: Path, say: Say) -> int:
    found = own_build(received, _sheet_path(to))
    data = {
        "path": found.path,
        "left_out": list(found.left_out),
        "problems": [{**vars(one)} for one in found.to_correct],
    }
    say.result(data, "\n".join([f"{found.path} written", *found.words]))
    return OBJECTIONS if found.to_correct else FINE


def _sheet_path(path: Path) -> Path:
    return path if path.suffix else path.with_suffix(".toml")  # the pages look for sheets of that name
