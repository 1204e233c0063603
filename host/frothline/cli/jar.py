"""``jar``: survival of the foam in a jar of slurry."""

from __future__ import annotations

from argparse import Namespace

from frothline.cli.notebook import notebook_of
from frothline.cli.output import Say
from frothline.formatting import full_text
from frothline.label_case import label_case
from frothline.pours.jar import EXAMPLE, jar_rows
from frothline.rounding import counted
from frothline.trials.jars import Jar
from frothline.units import SYSTEMS

DONE, PROBLEMS = 0, 1


def run(options: Namespace, say: Say) -> int:
    if options.example:
        say.result({"example": EXAMPLE}, EXAMPLE.rstrip())
        return DONE
    if options.file is not None:
        from frothline.api_foam import jar  # noqa: PLC0415  the same function as in Python

        one = jar(options.file)
        say.result(one.as_dict(), "\n".join(_lines(one, options.units)))
        return PROBLEMS if one.problems else DONE
    book = notebook_of(options, say).pours
    lines = [counted(len(book.jars), "jar"), *(text for one in book.jars for text in _lines(one, options.units))]
    if not book.jars:
        lines.append("A jar is a TOML file in the folder jars: `frothline jar --example` prints one.")
    say.result({"jars": [one.as_dict() for one in book.jars]}, "\n".join(lines))
    return PROBLEMS if any(one.problems for one in book.jars) else DONE


def _lines(jar: Jar, units: str) -> list[str]:
    system = SYSTEMS[units]
    return [
        jar.record.title,
        *(
            f"  {label_case(label):32} {full_text(estimate, system[kind], reason=why)}"
            for label, estimate, kind, why in jar_rows(jar.outcome)
        ),
        *(f"  problem: {one}" for one in jar.problems),
    ]
