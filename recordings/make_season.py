"""Makes the demonstration season: ``python recordings/make_season.py`` writes ``recordings/season`` anew.

Everything in it is simulated. Nobody built these generators and nobody weighed this foam: the physical model of
``frothline.simulation`` made the streams, and the rules below stand in for what that model does not know. The same
script writes the same season, byte for byte.

Rules of this scenario alone, with no measurement behind them: the share of air that is caught grows a little with the
length of the packing, the strength of the solution and the number of holes; foam drains more slowly the longer the
packing and the stronger the solution; no two fillings of a packing and no two batches of solution are quite alike.
"""

from __future__ import annotations

import shutil
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from math import exp, log, pi
from pathlib import Path
from random import Random
from typing import Any

import tomlkit

from frothline.foam.sample import Weighing
from frothline.generator.build import MATERIALS, Build
from frothline.generator.sheet import edit_sheet, parse_sheet, starting_sheet
from frothline.recording.disk import SystemClock
from frothline.recording.writer import RecordingWriter
from frothline.simulation import generator as model
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.trials.notebook import open_notebook
from frothline.trials.sample_sidecar import sample_entry
from frothline.wire import decode_all
from make_notes import write_notes
from make_pours import write_pours

HERE = Path(__file__).parent
SEASON = HERE / "season"
CHANCE = 11  # of the season: the specimens of rig, sources and generator, and the weather
RATE = 20  # Hz: enough for steady points, and the folder stays small
SWEEP_SECONDS = 88.0
RUN_SECONDS = 42.0
LABEL = "modelled rig"  # of the board, all season long; it stands in every recording
AIR = 1.2  # kg/m3: what foam weighs less on a scale that stands in air, as the empty vessel did
STILL = 2.0  # s before the air is switched on
SIMULATED = "simulated, made by recordings/make_season.py"

SOURCES = {"shop motor": "vacuum-small", "garden blower": "hump"}

_FIRST = {
    "notes": "Part of a made-up season: nobody built it.",
    "tube.bore": "1 1/4 in sch 40",
    "packing.mass": "350 g",
    "tube.under_liquid": 40,
}
BUILDS: dict[str, dict[str, Any]] = {
    "first-tube": {"name": "first tube"},
    "more-holes-long-packing": {
        "name": "more holes, long packing",
        "tube.rows": 6,
        "tube.under_liquid": 60,
        "packing.length": "400 mm",
        "packing.mass": "560 g",
    },
    "long-packing": {"name": "long packing", "packing.length": "400 mm", "packing.mass": "560 g"},
    "narrow-outlet": {"name": "narrow outlet", "outlet.bore": "32x3"},
    "strong": {"name": "strong solution", "solution.dilution": "1+20"},
    "strong-long-narrow": {
        "name": "strong, long, narrow",
        "solution.dilution": "1+20",
        "packing.length": "400 mm",
        "packing.mass": "560 g",
        "outlet.bore": "32x3",
    },
}


@dataclass(frozen=True)
class Day:
    """One recording of the season."""

    when: str  # ISO, UTC
    name: str
    title: str
    source: str
    build: str = ""
    batch: str = ""
    note: str = ""


DAYS = (
    Day("2025-03-29T09:10", "03-29-sweep-shop-motor", "Sweep of the shop motor", "shop motor"),
    Day("2025-03-29T10:00", "03-29-sweep-garden-blower", "Sweep of the garden blower", "garden blower"),
    Day("2025-04-05T09:30", "04-05-first-tube", "First foam", "shop motor", "first-tube", "A", "runny, but it is foam"),
    Day(
        "2025-04-05T11:20",
        "04-05-more-holes-long-packing",
        "More holes and a longer packing",
        "shop motor",
        "more-holes-long-packing",
        "A",
        "changed two things at once",
    ),
    Day("2025-04-12T09:15", "04-12-first-tube", "First tube again", "shop motor", "first-tube", "B"),
    Day("2025-04-12T10:40", "04-12-long-packing", "Long packing alone", "shop motor", "long-packing", "B"),
    Day("2025-04-12T13:05", "04-12-narrow-outlet", "Narrow outlet", "shop motor", "narrow-outlet", "B"),
    Day("2025-04-26T09:20", "04-26-strong", "Stronger solution", "shop motor", "strong", "C"),
    Day("2025-04-26T10:30", "04-26-first-tube-blower", "First tube on the blower", "garden blower", "first-tube", "D"),
    Day("2025-05-03T09:00", "05-03-first-tube", "The reference once more", "shop motor", "first-tube", "D"),
    Day(
        "2025-05-03T11:00",
        "05-03-strong-long-narrow",
        "Strong, long and narrow",
        "shop motor",
        "strong-long-narrow",
        "C",
        "stands like shaving foam",
    ),
    Day("2025-05-10T09:40", "05-10-long-packing-blower", "Long packing, blower", "garden blower", "long-packing", "D"),
)

PLAN = """\
# What may still be tried: the parts at hand, and what the foam is wanted for.
# `frothline plan recordings/season/plan.toml` reads it together with the trials beside it.
reference = "builds/first-tube.toml"
batches = 2                      # solution batches that the first runs are spread over

[factors]                        # entry of the build sheet = what lies in the drawer
"tube.rows" = [4, 6, 8]
"packing.length" = ["250 mm", "325 mm", "400 mm"]
"outlet.bore" = ["32x3", "40x3"]
"solution.dilution" = ["1+20", "1+30", "1+40"]

[along]                          # what goes along with it, in proportion
"packing.mass" = "packing.length"
"tube.under_liquid" = "tube.rows"

[[wish]]
response = "density"
low = "60 kg/m3"
high = "80 kg/m3"

[[wish]]
response = "drainage"
low = "10 min"
"""


class SetClock(SystemClock):
    """Stands where the script puts it."""

    def __init__(self, unix: float) -> None:
        self.unix = unix
        self.running = 0.0

    def unix_ns(self) -> int:
        return round((self.unix + self.running) * 1e9)

    def monotonic_ns(self) -> int:
        return round((1000.0 + self.running) * 1e9)


def chance(purpose: str) -> Random:
    """Random numbers of one purpose."""
    return Random(f"{CHANCE}/{purpose}")  # noqa: S311  # a simulation, not a secret


def season(folder: Path = SEASON, days: tuple[Day, ...] = DAYS) -> None:
    """Writes the season, or some of its days, into ``folder``, which is emptied first."""
    if folder.exists():
        shutil.rmtree(folder)
    (folder / "builds").mkdir(parents=True)
    builds = dict(_sheets(folder / "builds"))
    for day in days:
        print(f"{day.name} …", file=sys.stderr)
        _record(folder, day, builds.get(day.build))
    (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
    write_notes(folder, SIMULATED)
    if len(days) == len(DAYS):
        pours(folder)


def pours(folder: Path = SEASON) -> None:
    """Writes the pours of a season whose recordings are there: their foam is that of the trials."""
    trials = {one.name: one for one in open_notebook(folder).trials}

    def foam(trial: str) -> float:
        density = trials[trial].density
        assert density is not None
        return density.value

    write_pours(folder / "pours", foam, chance, SIMULATED)
    for cache in folder.glob(".frothline-*"):
        cache.unlink()


def _sheets(folder: Path) -> Any:
    """Each build's sheet, written to the folder and read back."""
    start = starting_sheet()
    for key, changes in BUILDS.items():
        text = edit_sheet(start, _FIRST | changes)
        sheet = parse_sheet(text, f"{key}.toml")
        fatal = [str(problem) for problem in sheet.problems if problem.fatal]
        if sheet.build is None:
            raise SystemExit("\n".join(fatal))
        (folder / f"{key}.toml").write_text(text, encoding="utf-8")
        yield key, sheet.build


def _rig(day: Day, build: Build | None) -> ModelledRig:
    url = f"modelled://{'run' if build else 'sweep'}?seed={CHANCE}&rate={RATE}&source={SOURCES[day.source]}"
    rig = ModelledRig(read_url(url))
    rig.board.label = LABEL
    weather = chance(f"weather {day.when[:10]}")
    warm = 8.0 + 9.0 * (datetime.fromisoformat(day.when).timetuple().tm_yday - 88) / 42 + weather.gauss(0.0, 1.0)
    rig.control(
        "ambient",
        (weather.uniform(99200.0, 102000.0), 273.15 + warm + weather.uniform(2, 4), weather.uniform(0.4, 0.7)),
    )
    if build is not None:
        made = model.SimulatedGenerator(_specimen(build, day), chance("generator"))
        rig.world.generator = made
    return rig


def _specimen(build: Build, day: Day) -> model.SimulatedBuild:
    """The sheet's build as the physical model takes it, with what the scenario's rules add."""
    run, batch = chance(f"run {day.name}"), chance(f"batch {day.batch}")
    packing = build.packing
    solid = (packing.mass or 0.0) / (MATERIALS[packing.material] * pi / 4 * build.body.bore**2 * packing.length)
    lively = exp(batch.gauss(0.0, 0.03))
    caught = 0.27 * (packing.length / 0.25) ** 0.25 * (build.solution.dilution.fraction * 31) ** 0.15
    caught *= (build.tube.holes / 40) ** 0.05 * lively * exp(run.gauss(0.0, 0.02))
    return model.SimulatedBuild(
        name=build.name,
        about=build.notes,
        holes=build.tube.holes,
        hole=build.tube.hole,
        head=build.tube.depth,
        body=build.body.bore,
        packing=packing.length,
        fibre=(packing.wire or 70e-6) * exp(run.gauss(0.0, 0.03)),
        solid=solid,
        outlet=build.outlet.bore,
        capture=caught,
        draw=0.30 * exp(run.gauss(0.0, 0.01)),
        reservoir=build.reservoir.volume * 1e3,
    )


def _drainage_time(build: Build, density: float, day: Day) -> float:
    """Seconds until 25 % have drained: a rule of this scenario."""
    run = chance(f"drainage {day.name}")
    slow = (build.packing.length / 0.25) ** 0.6 * (build.solution.dilution.fraction * 31) ** 0.5
    return 400.0 * slow * (build.tube.holes / 40) ** 0.1 * (70.0 / density) ** 0.5 * exp(run.gauss(0.0, 0.03))


def _record(folder: Path, day: Day, build: Build | None) -> None:
    rig = _rig(day, build)
    random = chance(f"bench {day.name}")
    began = datetime.fromisoformat(day.when).replace(tzinfo=UTC).timestamp()
    clock = SetClock(began)
    rig.control("motor", value=False)
    rig.run(random.uniform(3.0, 12.0))
    writer = RecordingWriter(
        folder, day.name, source=rig_url(rig), identity=random.randbytes(16), clock=clock, background=False
    )
    rig.board.start()
    seconds, told, left = (RUN_SECONDS, False, 0.0) if build else (SWEEP_SECONDS, False, 0.0)
    step, since, foam = 0.5, 0.0, []
    while since < seconds:
        if not told and since >= STILL:
            rig.control("motor", value=True)
            told = True
        data = rig.run(step)
        since += step
        clock.running = since
        writer.write(data)
        ticks = decode_all(data).tables["line"]["tick"]
        if len(ticks) and (since == step or since - left >= 10.0 or since >= seconds):
            left = since
            reason = "opened" if since == step else "closed" if since >= seconds else "periodic"
            writer.anchor(int(ticks[-1]), reason, unix_ns=clock.unix_ns(), monotonic_ns=clock.monotonic_ns())
        if told and since == STILL + step:
            writer.note("step", "air on", int(ticks[-1]))
        foam.append((since, rig.truth()))
    metadata: dict[str, Any] = {
        "title": day.title,
        "kind": "run" if build else "sweep",
        "air_source": day.source,
        "tags": ["simulated"],
        "simulated": SIMULATED,
    }
    samples: list[dict[str, Any]] = []
    if build is not None:
        samples = _samples(build, day, foam, random)
        metadata |= {
            "build": f"builds/{day.build}.toml",
            "solution_batch": day.batch,
            "water_temperature": f"{rig.world.ambient_temperature - 276.15:.1f} °C",
        }
        for one in samples:
            clock.running += 0.01
            writer.note("sample", f"{one['container']} of foam, full at {one['at']}", int(ticks[-1]))
    if day.note:
        metadata["note"] = day.note
    writer.close("stopped")
    document = tomlkit.document()
    document.add(tomlkit.comment(f"{SIMULATED}. Nobody built this and nobody weighed it."))
    for key, value in metadata.items():
        document.add(key, value)
    if samples:
        tables = tomlkit.aot()
        for one in samples:
            table = tomlkit.table()
            for key, value in one.items():
                table.add(key, value)
            tables.append(table)
        document.add("sample", tables)
    (folder / f"{day.name}.toml").write_text(tomlkit.dumps(document), encoding="utf-8")


def rig_url(rig: ModelledRig) -> str:
    """The port that a person would have named for this rig."""
    o = rig.options
    return f"modelled://{o.scenario}?seed={o.seed}&rate={o.rate}&source={o.source}"


def _samples(build: Build, day: Day, foam: list[tuple[float, dict[str, Any]]], random: Random) -> list[dict[str, Any]]:
    """A mortar tub against the clock, then two jugs, one of them left to drain; read as kitchen gear is."""
    start = 18.0
    rate = next(t["foam_rate"] for s, t in foam if s >= start)
    density = next(t["foam_density"] for s, t in foam if s >= start + 4)
    fill = 0.060 / rate
    tub = Weighing(
        container_volume=0.060,
        empty=2.315,
        full=_rounded(2.315 + 0.060 * (density * exp(random.gauss(0.0, 0.008)) - AIR), 0.005),
        fill_time=round(fill + random.gauss(0.0, 0.2), 1),
        u_mass=2.9e-3,
        note="65 L mortar tub, filled to the 60 L mark",
    )
    found = [sample_entry(tub, at=start + fill) | {"scale_division": "5 g"}]
    for number in (1, 2):
        solution = 0.002 * density * exp(random.gauss(0.0, 0.012))
        drained: tuple[tuple[float, float], ...] = ()
        if number == 1:
            rate_of = log(4 / 3) / _drainage_time(build, density, day)
            readings = []
            for minute in range(1, 26):
                amount = solution / 1000.0 * (1 - exp(-rate_of * 60 * minute))
                readings.append((60.0 * minute, _rounded(amount + random.gauss(0.0, 0.6e-6), 1e-6)))
                if amount > 0.27 * solution / 1000.0 and minute >= 6:
                    break
            drained = tuple(readings)
        jug = Weighing(
            container_volume=0.002,
            empty=0.1842,
            full=_rounded(0.1842 + solution - 0.002 * AIR, 0.001),
            drained=drained,
            depth=0.190,
            note=f"measuring jug {number}",
        )
        found.append(sample_entry(jug, at=start + fill + 2.0 * number))
    return found


def _rounded(value: float, step: float) -> float:
    return round(value / step) * step


if __name__ == "__main__":
    season(Path(sys.argv[1]) if len(sys.argv) > 1 else SEASON)
