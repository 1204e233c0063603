"""Ten hours at 500 Hz: the first and the next overview of it, parts of it at the prompt and on the page; a table in SI."""

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
from frothline.bench.library import FolderView
from frothline.recording.summary import summarise
from frothline.web.pages.notebook import look
from frothline.web.viewer import Viewer

HOURS = 10.0
POINTS = 1000
PAGE = 0.05  # s between two messages to a page
TABLE = 1000.0  # s of a recording that is read as a table
PARTS = {"All of it": (0.0, HOURS * 3600), "One hour": (7200.0, 10800.0), "One minute": (18_000.0, 18_060.0),
         "One second": (30_000.0, 30_001.0)}  # fmt: skip


def passed(work):
    start, used = time.perf_counter(), time.process_time()
    found = work()
    return time.perf_counter() - start, time.process_time() - used, found


def opened(path):
    """The times of a program that opens the recording, its largest memory in bytes, and the times of the page."""
    command = [sys.executable, __file__, str(path)]
    found = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
    return found["times"], found["memory"], found["page"]


def zoomed(path, columns=320):
    """The time from a choice of each part on the page to its chart, as the server makes it for a page of 1,280 pixels."""
    seen = FolderView("own", Path(path).parent, 1, ready=True, entries=(summarise([Path(path)]),))
    looks, viewer = look.RecordingLooks(), Viewer(page="notebook", columns=columns)

    def shown(part):
        while (answer := looks.ask(seen, seen.entries[0], look.Part(path, *part), viewer)).working:
            time.sleep(PAGE)
        if answer.trouble:
            raise AssertionError(answer.trouble)
        return len(json.dumps(answer.value[2]))

    shown((0.0, 100.0))  # loads the chart library
    return {name: [passed(lambda part=part: shown(part))[k] for k in (0, 2)] for name, part in PARTS.items()}


def main(path):
    times = {name: passed(lambda part=part: fl.overview(path, begin=part[0], end=part[1], points=POINTS))[:2]
             for name, part in PARTS.items()}  # fmt: skip
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(json.dumps({"times": times, "memory": memory, "page": zoomed(path)}))


def measure(seed):
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "long.froth"
        size = long_recording.write(path, HOURS * 3600, seed)
        first, memory_first, _ = opened(path)
        stored = sum(file.stat().st_size for file in path.parent.rglob("*.npz"))
        later, memory, page = opened(path)
        short = Path(name) / "short.froth"
        long_recording.write(short, TABLE, seed)
        fl.read(short)
        _, table, frame = passed(lambda: fl.read(short))
    (wall, used), whole = first["All of it"], HOURS * 3600 * long_recording.RATE
    rows = [["First overview of all of it (cold)", f"{wall:.1f} s", f"{memory_first / 1e9:.2f} GB", "0.5 GB"]]
    for what, (shown, _) in later.items():
        rows.append([f"{what}, values stored (warm)", f"{shown:.2f} s", f"{memory / 1e9:.2f} GB", "2 s"])
    for what, (shown, sent) in page.items():
        rows.append([f"{what} on the page, from choice to chart", f"{shown:.2f} s", f"{sent / 1e3:.0f} kB sent", "1 s"])
    each = table / len(frame) * 1e6
    rows.append(["Table in SI, a million messages", f"{each:.2f} s of processor time", "", ""])
    return Part(
        title="A recording of ten hours at 500 Hz",
        columns=["What", "Time", "Memory of the process, or size of a chart", "Goal"],
        rows=rows,
        before=(
            f"{size / 1e6:.0f} MB, {whole / 1e6:.0f} million line messages. `frothline.overview` gives the lowest and the "
            f"highest value of every series in {POINTS} stretches. Cold: nothing is stored, all of the recording is read "
            f"twice, a part of some megabytes at a time, and converted once ({used / whole * 1e6:.2f} µs of processor time a "
            f"message), and {stored / 1e6:.0f} MB are stored next to it. Warm: another process reads what was stored; the "
            "first of its lines includes the loading of the program's libraries. A minute and a second are read from the "
            "recording itself. On the page: “Look at it” in the list of recordings of the notebook page, on a page of 1,280 "
            "pixels; the time is that of the server, from the choice of a part to the finished chart, without the network "
            f"and the drawing, and includes at most {1e3 * PAGE:.0f} ms until the page asks again."
        ),
        after=(
            "The memory of the first overview does not grow with the recording except by what is stored. The conversion "
            "calculates no uncertainties, which the overview does not show: half of the time is conversion, a third is "
            "decoding, twice (a profile of half an hour)."
        ),
        order=20,
    )


if __name__ == "__main__":
    main(sys.argv[1])
