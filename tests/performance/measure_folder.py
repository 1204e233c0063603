"""A folder with a thousand recordings: its list when nothing is stored, and when the summaries are stored."""

import tempfile
import time
from pathlib import Path

import long_recording
from line_stream import stream
from results_page import Part

from frothline.recording.catalogue import CACHE, Catalogue

COUNT = 1000
SECONDS = 20.0
RATE = 100
REPEATS = 3


def fill(folder, seed):
    """Write the recordings, each with a TOML file; returns their size in bytes."""
    content = b"".join(stream(SECONDS, RATE, seed))
    for k in range(COUNT):
        path = folder / f"2026-{k // 84 + 1:02d}-run-{k:04d}.froth"
        path.write_bytes(long_recording.head(RATE, k.to_bytes(16, "big")) + content)
        path.with_suffix(".toml").write_text(f'kind = "run"\ntitle = "run {k}"\ntags = ["made", "{k % 7}"]\n')
    return sum(path.stat().st_size for path in folder.iterdir())


def passed(work):
    start = time.perf_counter()
    found = work()
    return time.perf_counter() - start, found


def measure(seed):
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        size = fill(folder, seed)
        cold, catalogue = passed(lambda: Catalogue(folder))
        assert len(catalogue) == COUNT
        warm = min(passed(lambda: Catalogue(folder))[0] for _ in range(REPEATS))
        again = min(passed(catalogue.refresh)[0] for _ in range(REPEATS))
        search = min(passed(lambda: catalogue.find("run 77"))[0] for _ in range(REPEATS))
        assert len(catalogue.find("run 77")) >= 10
        stored = (folder / CACHE).stat().st_size
    rows = [
        ["Nothing stored", f"{cold:.2f} s", ""],
        ["Summaries stored, program started again", f"{warm:.2f} s", "1 s"],
        ["The list read again in a running program", f"{again:.2f} s", ""],
        ["Search for two words", f"{search * 1000:.0f} ms", ""],
    ]
    return Part(
        title=f"A folder of {COUNT} recordings",
        columns=["What", "Time", "Goal"],
        rows=rows,
        before=(
            f"{COUNT} recordings of {SECONDS:.0f} s with {RATE} line messages a second and a TOML file each, "
            f"{size / 1e6:.0f} MB. The files are in the memory of the operating system. The stored summaries "
            f"take {stored / 1e6:.1f} MB; they are checked by size and time of each file."
        ),
        order=25,
    )
