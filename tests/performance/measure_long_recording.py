"""Ten hours at 500 Hz: the first and the next overview of it, and parts of it; and a table in SI."""

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import long_recording
from results_page import Part

import frothline as fl

HOURS = 10.0
POINTS = 1000
TABLE = 1000.0  # s of a recording that is read as a table
PARTS = {"All of it": (0.0, HOURS * 3600), "One hour": (7200.0, 10800.0), "One minute": (18_000.0, 18_060.0),
         "One second": (30_000.0, 30_001.0)}  # fmt: skip


def passed(work):
    start, used = time.perf_counter(), time.process_time()
    found = work()
    return time.perf_counter() - start, time.process_time() - used, found


def opened(path):
    """The times of a program that opens the recording, and its largest memory in bytes."""
    command = [sys.executable, __file__, str(path)]
    found = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    return found["times"], found["memory"]


def main(path):
    times = {name: passed(lambda part=part: fl.overview(path, begin=part[0], end=part[1], points=POINTS))[:2]
             for name, part in PARTS.items()}  # fmt: skip
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(json.dumps({"times": times, "memory": memory}))


def measure(seed):
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "long.froth"
        size = long_recording.write(path, HOURS * 3600, seed)
        first, memory_first = opened(path)
        stored = sum(file.stat().st_size for file in path.parent.rglob("*.npz"))
        later, memory = opened(path)
        short = Path(name) / "short.froth"
        long_recording.write(short, TABLE, seed)
        fl.read(short)
        _, table, frame = passed(lambda: fl.read(short))
    (wall, used), whole = first["All of it"], HOURS * 3600 * long_recording.RATE
    rows = [["First overview of all of it (cold)", f"{wall:.1f} s", f"{memory_first / 1e9:.1f} GB", ""]]
    for what, (shown, _) in later.items():
        rows.append([f"{what}, values stored (warm)", f"{shown:.2f} s", f"{memory / 1e9:.2f} GB", "2 s"])
    each = table / len(frame) * 1e6
    rows.append(["Table in SI, a million messages", f"{each:.2f} s of processor time", "", ""])
    return Part(
        title="A recording of ten hours at 500 Hz",
        columns=["What", "Time", "Memory of the process", "Goal"],
        rows=rows,
        before=(
            f"{size / 1e6:.0f} MB, {whole / 1e6:.0f} million line messages. `frothline.overview` gives the lowest and the "
            f"highest value of every series in {POINTS} stretches. Cold: nothing is stored, all of the recording is read "
            f"and converted once ({used / whole * 1e6:.2f} µs of processor time a message), and {stored / 1e6:.0f} MB are "
            "stored next to it. Warm: another process reads what was stored; the first of its lines includes the loading "
            "of the program's libraries. A minute and a second are read from the recording itself."
        ),
        after=(
            "The goal is met by the stored values, not by the first overview. The next step is to store the values while "
            "the recording is written, and to show the overview on a page."
        ),
        order=20,
    )


if __name__ == "__main__":
    main(sys.argv[1])
