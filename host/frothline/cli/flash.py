"""``flash``: the firmware onto a board, by one command."""

from __future__ import annotations

import shlex
from argparse import ArgumentParser, Namespace
from pathlib import Path

from frothline.cli.numbers import whole
from frothline.cli.output import Say
from frothline.rig import flashing

ABOUT = (
    "Writes the firmware that belongs to this package to a board with an ATmega328P, through its bootloader, with"
    "\navrdude (Debian: apt-get install avrdude). It overwrites the program on the board; its settings stay."
    "\nFirst take off the board what must not move or heat while its pins float, and let USB alone power it."
)


DONE = 0


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--port", metavar="DEVICE", help="the board's port (/dev/ttyUSB0, COM5); without it the USB board is found"
    )
    sub.add_argument("--dry-run", action="store_true", help="find port and image, print the command, write nothing")
    sub.add_argument("--image", type=Path, metavar="FILE", help="another image (Intel HEX) than the one shipped here")
    sub.add_argument("--chip", choices=("atmega328p", "atmega328pb"), default="atmega328p", help="(atmega328p)")
    sub.add_argument(
        "--baud", type=whole(300, 4_000_000), metavar="BD", help="speed of the bootloader (115200, then 57600 is tried)"
    )


def run(options: Namespace, say: Say) -> int:

    plan = flashing.plan(options.port, image=options.image, chip=options.chip, baud=options.baud)
    data = {"port": plan.port, "why": plan.why, "image": plan.image.path, "bytes": plan.image.size}
    if options.dry_run:
        lines = [f"port {plan.port}: {plan.why}", f"image {plan.image.path}: {plan.image.size} bytes, whole", ""]
        lines += ["would run (the second only if the first finds no bootloader):" if len(plan.commands) > 1 else ""]
        lines += [f"  {shlex.join(command)}" for command in plan.commands]
        say.result({**data, "written": False, "commands": plan.commands}, "\n".join(lines))
        return DONE
    say.note(f"writing {plan.image.size} bytes to {plan.port} ({plan.why}); leave the cable alone")
    flashing.write(plan)
    say.note("written and read back; asking the board who it is")
    answer = flashing.ask_who(plan.port)
    said = {"label": answer.label, "firmware": answer.firmware}
    text = f"{plan.port}: rig {answer.label or 'without a label'}, firmware {answer.firmware}. Next: frothline check"
    say.result({**data, "written": True, **said}, text)
    return DONE
