"""The deepest the stack can grow: the longest chain of calls from main, and on top of it the deepest interrupt.

Stack use of each function, with its return address, is what avr-gcc -fstack-usage says; the calls are read from the
disassembly, so that they are those of the image and not of the source. Interrupts do not nest.
"""

import re
import subprocess
from functools import cache
from pathlib import Path

_LIBRARY_FRAME = 4  # assembly routines without a line in the list: return address and up to two registers


def _frames(text):
    """Function name without clone suffixes -> bytes, the largest where clones differ."""
    frames = {}
    for line in text.splitlines():
        where, size, kind = line.split("\t")
        assert kind == "static", f"{where} has no bound"
        name = where.rsplit(":", 1)[1].split(".")[0]
        frames[name] = max(frames.get(name, 0), int(size))
    return frames


def _calls(elf):
    """Function -> functions it calls or jumps to; "icall" where it calls through a pointer."""
    text = subprocess.run(["avr-objdump", "-d", elf], check=True, capture_output=True, text=True).stdout
    calls, current = {}, None
    for line in text.splitlines():
        if head := re.match(r"[0-9a-f]+ <([^>]+)>:", line):
            current = head[1].split(".")[0]
            calls.setdefault(current, set())
        elif current and re.search(r"\t(e?icall|e?ijmp)\b", line):
            calls[current].add("icall")
        elif current and (target := re.search(r"\t(?:r?call|r?jmp)\t.*<([^>+]+)>", line)):
            name = target[1].split(".")[0]
            if name not in {current, ""}:
                calls[current].add(name)
    return calls


def worst_stack(build: Path, through_pointers: str):
    """(bytes of the deepest chain from main, its functions, bytes of the deepest interrupt, its functions).

    ``through_pointers``: pattern of the functions that are called through a pointer.
    """
    frames = _frames((build / "frothline.su").read_text())
    calls = _calls(build / "frothline.elf")
    pointed = {name for name in calls if re.search(through_pointers, name)}

    @cache
    def deepest(name, above=()):
        assert name not in above, f"{name} calls itself"
        own = frames.get(name, _LIBRARY_FRAME)
        below = set()
        for called in calls.get(name, ()):
            below |= pointed if called == "icall" and name in {"main", "loop_turn"} else {called} - {"icall"}
        chains = [deepest(called, (*above, name)) for called in below if called in calls]
        size, chain = max(chains, default=(0, ()))
        return own + size, (name, *chain)

    main = deepest("main")
    interrupt = max(deepest(name) for name in frames if name.startswith("__vector"))
    return main[0], main[1], interrupt[0], interrupt[1]
