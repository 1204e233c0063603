"""``completion``: the script for the completion of a shell, made by the package shtab from the parser itself."""

from __future__ import annotations

from argparse import Namespace

import shtab

from frothline.cli import parser
from frothline.cli.output import Say

DONE = 0


def run(options: Namespace, say: Say) -> int:
    script = shtab.complete(parser(), shell=options.shell)
    say.result({"shell": options.shell, "script": script}, script)
    return DONE
