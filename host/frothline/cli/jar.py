"""``jar``: survival of the foam in a jar of slurry."""

from __future__ import annotations

from argparse import Namespace

from frothline.bench.jar_record import correct_jar, record_jar, settle_jar
from frothline.bench.trial_entry import with_trial
from frothline.cli.entry_texts import entry_texts, one_action
from frothline.cli.notebook import notebook_of
from frothline.cli.output import Say
from frothline.errors import InputError
from frothline.formatting import full_text
from frothline.label_case import label_case
from frothline.pours.jar import EXAMPLE, jar_rows
from frothline.rounding import counted
from frothline.trials.jars import Jar
from frothline.trials.notebook import Notebook
from frothline.units import SYSTEMS

DONE, PROBLEMS = 0, 1


def run(options: Namespace, say: Say) -> int:
    one_action(options, ("new", "settled", "correct", "file"))
    if options.new is None and options.entry:
        raise InputError("--entry is of a new jar", where="jar", remedy="Name it with --new, or use --correct")
    if options.example:
        say.result({"example": EXAMPLE}, EXAMPLE.rstrip())
        return DONE
    if options.new is not None or options.settled is not None or options.correct is not None:
        said = _written(options, notebook_of(options, say))
        say.result({"said": said}, said)
        return DONE
    if options.file is not None:
        from frothline.api_foam import jar  # noqa: PLC0415  the same function as in Python

        one = jar(options.file)
        say.result(one.as_dict(), "\n".join(_lines(one, options.units)))
        return PROBLEMS if one.problems else DONE
    book = notebook_of(options, say).pours
    lines = [counted(len(book.jars), "jar"), *(text for one in book.jars for text in _lines(one, options.units))]
    if not book.jars:
        lines.append("A jar is a TOML file in the folder jars: `frothline jar --new NAME` writes one.")
    say.result({"jars": [one.as_dict() for one in book.jars]}, "\n".join(lines))
    return PROBLEMS if any(one.problems for one in book.jars) else DONE


def _written(options: Namespace, notebook: Notebook) -> str:
    """Write a new jar, the settled height of one, or a correction."""
    folder = notebook.folder
    if options.correct is not None:
        jar, *given = options.correct
        if not given:
            raise InputError("the entry is missing", where="--correct", remedy=f"Write --correct {jar} cement='310 g'")
        return correct_jar(folder, jar, with_trial(entry_texts(given), notebook), options.units)
    if options.settled is not None:
        jar, height, after = options.settled
        return settle_jar(folder, jar, height, after, options.units)
    texts = with_trial(entry_texts(options.entry or ()), notebook)
    return record_jar(folder, {**texts, "name": options.new}, options.units)


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
