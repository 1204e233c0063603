"""The results page: measures speed and faults, and writes them to ``tests/performance/results/README.md``.

    python tests/performance/results_page.py                measures everything, for as long as the page says
    python tests/performance/results_page.py decoding fit   measures these again and keeps the others
    python tests/performance/results_page.py --page         writes the page again from what is stored

A measurement is a module ``measure_<name>.py`` in this folder with a function ``measure(seed) -> Part``. It runs in a
process of its own. What it returns is stored in ``results/parts/<name>.json``; the page is written from these files.
Times depend on the machine, ratios depend on it much less: a claim is a ratio, with both sides timed in one run.
"""

import argparse
import dataclasses
import json
import os
import platform
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

HERE = Path(__file__).parent
RESULTS = HERE / "results"
PARTS = RESULTS / "parts"
SEED = 20261
NAMES = tuple(sorted(path.stem.removeprefix("measure_") for path in HERE.glob("measure_*.py")))


@dataclass
class Part:
    """One measurement of the results page."""

    title: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    before: str = ""
    """What is measured and how, in sentences."""
    after: str = ""
    """What fell short of its goal and why, and the one next step."""
    order: int = 50
    """Its place on the page: the smallest comes first."""
    measured: dict[str, str] = field(default_factory=dict)
    """Machine, date, seed and duration; filled in by the command."""

    def markdown(self) -> str:
        """Return the part as a section of the page."""
        line = "| " + " | ".join(self.columns) + " |"
        rule = "|" + "---|" * len(self.columns)
        table = "\n".join([line, rule, *("| " + " | ".join(row) + " |" for row in self.rows)])
        told = ", ".join(f"{what} {value}" for what, value in self.measured.items())
        return "\n\n".join(text for text in (f"## {self.title}", self.before, table, self.after, f"*{told}*") if text)


def machine() -> str:
    """Name the processor, its cores and the Python version."""
    name = platform.machine()
    if Path("/proc/cpuinfo").exists():
        models = [line for line in Path("/proc/cpuinfo").read_text().splitlines() if line.startswith("model name")]
        name = models[0].split(":", 1)[1].strip() if models else name
    return f"{name}, {os.cpu_count()} cores, Python {platform.python_version()}"


def measure_one(name: str, seed: int) -> None:
    """Measure one part in this process and store it."""
    sys.path[:0] = [str(HERE), str(HERE.parent / "support")]
    start = time.monotonic()
    part = __import__(f"measure_{name}").measure(seed)
    part.measured = {
        "machine": machine(),
        "date": time.strftime("%Y-%m-%d", time.gmtime()),
        "seed": str(seed),
        "took": f"{time.monotonic() - start:.0f} s",
    }
    PARTS.mkdir(parents=True, exist_ok=True)
    (PARTS / f"{name}.json").write_text(json.dumps(dataclasses.asdict(part), indent=1, ensure_ascii=False) + "\n")


def page() -> str:
    """Return the whole page, from the stored parts."""
    stored = [Part(**json.loads(path.read_text())) for path in sorted(PARTS.glob("*.json"))]
    head = (
        "# Results: faults, limits and speed\n\n"
        "Written by `python tests/performance/results_page.py`; do not edit. Each part names its machine, date and seed, "
        "because parts can be measured apart from each other. Ratios are the claims: both sides are timed in one run. "
        "Times alone describe the machine named below the table."
    )
    missing = [name for name in NAMES if not (PARTS / f"{name}.json").exists()]
    told = f"\n\nNot measured yet: {', '.join(missing)}." if missing else ""
    ordered = sorted(stored, key=lambda part: (part.order, part.title))
    return "\n\n".join([head + told, *(part.markdown() for part in ordered)]) + "\n"


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure what is asked for and write the page."""
    parser = argparse.ArgumentParser(description="Measures speed and faults and writes the results page.")
    parser.add_argument("names", nargs="*", metavar="name", help=f"measure only these: {', '.join(NAMES)}")
    parser.add_argument("--seed", type=int, default=SEED, help="seed of everything that is drawn")
    parser.add_argument("--page", action="store_true", help="measure nothing, write the page from the stored parts")
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if unknown := sorted(set(options.names) - set(NAMES)):
        parser.error(f"no measurement is called {', '.join(unknown)}; there are {', '.join(NAMES)}")
    if options.here:
        measure_one(options.names[0], options.seed)
        return 0
    failed = []
    for name in () if options.page else options.names or NAMES:
        print(f"measuring {name}", flush=True)
        command = [sys.executable, __file__, "--here", "--seed", str(options.seed), name]
        if subprocess.run(command, check=False).returncode:
            failed.append(name)
    (RESULTS / "README.md").write_text(page())
    if failed:
        print(f"not measured, the page keeps what was stored before: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
