"""Options of ``completion``."""

from __future__ import annotations

from argparse import ArgumentParser

SHELLS = ("bash", "zsh")
ABOUT = (
    "Prints a script that lets a shell complete commands and options. For bash:\n"
    "frothline completion bash > ~/.local/share/bash-completion/completions/frothline"
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument("shell", choices=SHELLS, help="the shell")
