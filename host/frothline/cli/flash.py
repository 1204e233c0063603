"""``flash``: write the firmware to a board."""

from __future__ import annotations

import shlex
from argparse import Namespace

from frothline.cli.output import Say
from frothline.rig import flashing

DONE = 0
OLD_BOOTLOADER = (
    "this board has an old bootloader, which hangs after a watchdog reset, so the firmware leaves its watchdog off: if "
    "the board ever stops, press its reset button. A newer bootloader, written by a programmer, brings it back"
)


def run(options: Namespace, say: Say) -> int:

    plan = flashing.plan(options.port, image=options.image, chip=options.chip, baud=options.baud)
    data = {"port": plan.port, "why": plan.why, "image": plan.image.path, "bytes": plan.image.size}
    if options.dry_run:
        lines = [f"port {plan.port}: {plan.why}", f"image {plan.image.path}: {plan.image.size} bytes, complete", ""]
        lines += ["would run (the second only if the first finds no bootloader):" if len(plan.commands) > 1 else ""]
        lines += [f"  {shlex.join(command)}" for command in plan.commands]
        say.result({**data, "written": False, "commands": plan.commands}, "\n".join(lines))
        return DONE
    say.note(f"writing {plan.image.size} bytes to {plan.port} ({plan.why}); do not unplug the cable")
    old = flashing.write(plan)
    if old:
        say.note(OLD_BOOTLOADER)
    say.note("written and verified; reading the board's identity")
    answer = flashing.ask_who(plan.port)
    said = {"label": answer.label, "firmware": answer.firmware}
    text = f"{plan.port}: rig {answer.label or 'without a label'}, firmware {answer.firmware}. Next: frothline check"
    say.result({**data, "written": True, "old_bootloader": old, **said}, text)
    return DONE
