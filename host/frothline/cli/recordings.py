"""``recordings``: search and filter the recordings of a folder."""

from __future__ import annotations

from argparse import Namespace

from frothline.bench.folders import default_folder
from frothline.cli.output import Say
from frothline.formatting import local_time
from frothline.recording.catalogue import Catalogue

DONE, PROBLEMS = 0, 1


def run(options: Namespace, say: Say) -> int:

    catalogue = Catalogue(options.folder or default_folder())
    found = catalogue.find(
        options.words,
        kind=options.kind,
        build=options.build,
        tag=options.tag,
        state=options.state,
        since=options.since,
        until=options.until,
    )
    lines = [f"{len(found)} of {len(catalogue)} recordings in {catalogue.folder}"]
    for one in found:
        began = (local_time(one.began) if one.began else "time not known").ljust(21)
        seconds = "     ?" if one.seconds is None else f"{one.seconds:6.0f}"
        said = ": ".join(one for one in (one.state if one.state != "closed" else "", one.problem) if one)
        state = f"  [{said}]" if said else ""
        lines.append(f"{began}  {seconds} s  {one.kind or '–':6}  {one.title}  ({one.path}){state}")
    say.result([vars(one) for one in found], "\n".join(lines))
    return PROBLEMS if any(one.state in ("newer", "unreadable") or one.problem for one in found) else DONE
