"""Memory of open pages over an hour: the heap of two browser pages, their elements, and the server.

One page shows the air source, the other the run. FROTHLINE_VIEWER_MINUTES gives another time than 60 minutes.
"""

import os
import time
from pathlib import Path

import numpy as np
from measure_viewers import MINUTES, Opened, chromium, served
from results_page import Part

EVERY = 180.0  # s between two looks


def look(opened, pid, begun):
    """Minutes, then for each page heap in MB, elements and messages drawn, then the server's memory in MB."""
    pages = [(page.heap / 1e6, page.nodes, page.messages) for page in opened]
    server = int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
    return (time.monotonic() - begun) / 60, *pages, server


def trend(minutes, megabytes):
    """MB a minute by least squares, after the first ten minutes in which caches fill, with twice its standard error."""
    x, y = (np.asarray(values, float) for values in (minutes, megabytes))
    late = x > 10.0
    (slope, _), covariance = np.polyfit(x[late], y[late], 1, cov=True)
    return slope, 2 * covariance[0, 0] ** 0.5


def part(looks):
    minutes = [one[0] for one in looks]
    rows = []
    for name, place in (("source", 1), ("run", 2)):
        heap = [one[place][0] for one in looks]
        slope, error = trend(minutes, heap)
        ends = f"{heap[0]:.1f} MB at {minutes[0]:.0f} min, {heap[-1]:.1f} MB at {minutes[-1]:.0f} min"
        elements = [one[place][1] for one in looks]
        number = f"{min(elements)} to {max(elements)}"
        rows.append((f"page {name}", f"{looks[-1][place][2]:,}", ends, f"{slope:+.3f} ± {error:.3f} MB", number))
    server = [one[3] for one in looks]
    slope, error = trend(minutes, server)
    ends = f"{server[0]:.0f} MB at {minutes[0]:.0f} min, {server[-1]:.0f} MB at {minutes[-1]:.0f} min"
    rows.append(("server of both", "", ends, f"{slope:+.2f} ± {error:.2f} MB", ""))
    return Part(
        "Memory over an hour",
        ("of", "messages drawn", "memory", "change a minute after 10 min", "elements"),
        rows,
        before=(
            f"The demo's server and two pages in Chromium for {minutes[-1]:.0f} minutes, looked at every {EVERY / 60:g} min; "
            "the heap after the garbage was collected. The growth that half a minute shows (part Viewers) is what the "
            "browser keeps for a while: it swings, and does not add up."
        ),
        after=(
            f"The server grows while the ring buffers of its charts fill: {server[len(server) // 2] - server[0]:+.0f} MB in "
            f"the first half of the time, {server[-1] - server[len(server) // 2]:+.0f} MB in the second."
        ),
        order=43,
    )


def measure(seed):
    seconds = 60.0 * float(os.environ.get(MINUTES, "60"))
    with served(seed % 1000) as (address, pid), chromium() as browser:
        opened = [Opened(browser, address), Opened(browser, address)]
        opened[1].page.goto(address.rstrip("/") + "/run")
        begun, looks = time.monotonic(), []
        while (time.monotonic() - begun) < seconds:
            time.sleep(min(EVERY, seconds))
            looks.append(look(opened, pid, begun))
    return part(looks)
