"""Options of ``live``."""

from __future__ import annotations

from argparse import ArgumentParser

from frothline.cli.arguments.pages import add_page_options
from frothline.cli.options import add_port


def add_options(sub: ArgumentParser) -> None:
    add_port(sub)
    add_page_options(sub)
