"""A trial: a run with its build and its samples, condensed to what matters, and two builds side by side.

Nothing is entered twice: the run is the recording, the build its sheet, the samples what was written beside it. What
is not known is None and ``why`` says why; nothing that is wrong with one of the three costs the other two.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from html import escape
from pathlib import Path
from typing import Any

from frothline.errors import FrothlineError, InputError
from frothline.estimate import Estimate
from frothline.foam.prior import CaughtPrior
from frothline.foam.properties import Observation, observations_of
from frothline.foam.sample import FoamSample, combine, evaluate
from frothline.foam.sample_check import question_of
from frothline.formatting import interval_text, value_text
from frothline.generator.build import Build
from frothline.generator.drawing import draw
from frothline.generator.foam_prior import caught_prior
from frothline.generator.sheet import parse_sheet
from frothline.quantities import read_temperature, shorten
from frothline.readings.applied_calibration import AUTO
from frothline.recording import Entry
from frothline.recording.summary import in_words
from frothline.toml_text import TomlUnreadable, read_text
from frothline.trials import photos
from frothline.trials.cup_notes import read_cup
from frothline.trials.figures import BY_NAME, FIGURES, unit_of
from frothline.trials.measurements import Filling, Measured, Used, measure
from frothline.trials.sample_sidecar import Noted, read_sample

U_WATER = 0.5  # K: a kitchen thermometer; common practice, no source


_LONGEST_NAME = 200  # characters of a sheet's name that are looked for; a file's name has 255 bytes at most


APART = 3.0  # standard uncertainties between two ways to one figure from which it is said


@dataclass(frozen=True, repr=False)
class Trial:
    """A run, condensed. Figures as in FIGURES, each an Estimate in SI or None with its reason in ``why``.

    ``build`` is None where its sheet cannot be read; ``build_file`` where it was looked for. ``used`` is the stretch of
    the recording behind pressure, air and solution. ``simulated`` says that no generator and no foam was there.
    ``problems`` are sentences on what could not be read.
    """

    name: str
    title: str
    path: Path
    started: datetime | None
    sha256: str
    identity: str
    software: str
    firmware: str
    air_source: str
    solution_batch: str
    build: Build | None
    build_name: str
    build_file: Path | None
    samples: tuple[FoamSample, ...]
    used: Used | None
    line_pressure: Estimate | None
    air_rate: Estimate | None
    standard_flow: Estimate | None
    density: Estimate | None
    expansion: Estimate | None
    output: Estimate | None
    drainage: Estimate | None
    solution_use: Estimate | None
    capture: Estimate | None
    water_temperature: Estimate | None
    why: Mapping[str, str]
    words: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    photos: tuple[str, ...] = ()
    simulated: bool = False
    refused: tuple[tuple[float, float, str], ...] = field(default=(), repr=False)
    drainage_depth: float | None = None  # m of foam behind ``drainage``; None where it was not written down
    drainage_container: float = math.nan  # m3
    start_up: Estimate | None = None  # s without foam after the air came on
    cups: tuple[Estimate, ...] = ()  # shares of the foam's air that survived mixing, by weighed cups

    def figure(self, name: str) -> Estimate | None:
        """A figure by its name; KeyError where there is none of that name."""
        return getattr(self, BY_NAME[name].name)  # type: ignore[no-any-return]

    def photo_name(self, photo: str) -> str:
        """How a photo is called: its path from the recording's folder."""
        return Path(photo).relative_to(self.path.parent).as_posix()

    def as_dict(self) -> dict[str, Any]:
        """For ``--json``: plain values, SI."""
        data: dict[str, Any] = {
            "name": self.name,
            "title": self.title,
            "path": str(self.path),
            "started": None if self.started is None else self.started.isoformat(),
            "sha256": self.sha256,
            "identity": self.identity,
            "software": self.software,
            "firmware": self.firmware,
            "simulated": self.simulated,
            "air_source": self.air_source,
            "solution_batch": self.solution_batch,
            "build": self.build_name,
            "used": None if self.used is None else dict(vars(self.used)),
            "samples": len(self.samples),
            "start_up": None if self.start_up is None else self.start_up.as_dict(),
            "cups": [one.as_dict() for one in self.cups],
        }
        for one in FIGURES:
            estimate = self.figure(one.name)
            data[one.name] = None if estimate is None else estimate.as_dict()
        return data | {
            "why": dict(self.why),
            "words": list(self.words),
            "problems": list(self.problems),
            "notes": list(self.notes),
            "photos": [self.photo_name(photo) for photo in self.photos],
        }

    def __repr__(self) -> str:
        density = self.why.get("density", "not weighed") if self.density is None else self.density.to("kg/m³")
        return f"<Trial {self.name}: {self.build_name} on {self.air_source or 'an unnamed source'}, density {density}>"

    def _repr_html_(self) -> str:
        rows = "".join(
            f"<tr><td>{escape(one.label)}</td><td>{escape(value_text(self.figure(one.name), unit_of(one)))}</td>"
            f"<td>{escape(interval_text(self.figure(one.name), unit_of(one)) or self.why.get(one.name, ''))}</td></tr>"
            for one in FIGURES
        )
        made = " (simulated)" if self.simulated else ""
        head = f"{self.title}: {self.build_name} on {self.air_source or 'an unnamed source'}{made}"
        drawing = draw(self.build) if self.build is not None else ""
        notes = "".join(f"<li>{escape(one)}</li>" for one in (*self.words, *self.problems))
        return f"<h4>{escape(head)}</h4><table>{rows}</table><ul>{notes}</ul>{drawing}"


def load_trial(entry: Entry, calibration: Any = AUTO, spool: Any = None, measured: Measured | None = None) -> Trial:
    """A trial from a recording's catalogue entry.

    ``measured`` is what ``trial_run.measure`` said of the same run, where it is known already. Never raises for what is
    in the files: what cannot be read stands in ``problems``.
    """
    path, metadata = Path(entry.path), entry.metadata
    problems = [entry.problem] if entry.problem else []
    noted = _noted(entry, problems)
    build, build_name, build_file = _build(metadata, path.parent, problems)
    if measured is None:
        try:
            measured = measure(path, filling_of(entry), calibration, spool)
        except (FrothlineError, OSError) as error:
            problems.append(str(error))
            measured = Measured("", why={})
    why = dict(measured.why or {})
    words = list(measured.words)
    samples = _samples(noted, measured, caught_prior(build), problems)
    figures = _foam(samples, words, why)
    figures["drainage"], drained = _drained(samples, words)
    figures["solution_use"] = _solution(measured, samples, words, why)
    figures["water_temperature"] = _water(metadata, build, problems, why)
    title = str(metadata.get("title") or entry.name)
    shown_photos = _photos(entry, words)
    return Trial(
        name=entry.name,
        title=title,
        path=path,
        started=entry.began,
        sha256=measured.sha256,
        identity=entry.identity,
        software=entry.software,
        firmware=entry.firmware,
        air_source=str(metadata.get("air_source", "")),
        solution_batch=str(metadata.get("solution_batch", "")),
        build=build,
        build_name=build_name,
        build_file=build_file,
        samples=tuple(samples),
        used=measured.used,
        line_pressure=measured.line_pressure,
        air_rate=measured.air_rate,
        standard_flow=measured.standard_flow,
        **figures,
        why=why,
        words=tuple(dict.fromkeys(words)),
        problems=tuple(problems),
        notes=(*([str(metadata["note"])] if metadata.get("note") else []), *entry.notes),
        photos=shown_photos,
        simulated=is_simulated(entry),
        refused=measured.refused,
        drainage_depth=None if drained is None else drained.depth,
        drainage_container=math.nan if drained is None else drained.container,
        start_up=measured.start_up,
        cups=_cups(entry, problems),
    )


def _photos(entry: Entry, words: list[str]) -> tuple[str, ...]:
    """Those that can be shown: named like the recording, or by ``photos`` beside it. Of the others, why they cannot."""
    folder = Path(entry.path).parent
    named = entry.metadata.get("photos", ())
    names = [named] if isinstance(named, str) else named if isinstance(named, list) else []
    shown: list[str] = []
    for name in dict.fromkeys([*(Path(photo).name for photo in entry.photos), *map(str, names)]):
        try:
            path = photos.inside(folder, name)
            wrong = photos.trouble(path)
        except InputError as error:
            wrong = error.what
        if wrong:
            words.append(wrong)
        elif str(path) not in shown:
            shown.append(str(path))
    return tuple(shown)


def is_simulated(entry: Entry) -> bool:
    """Whether no rig was there: said beside the recording, or by the port it came from."""
    return bool(entry.metadata.get("simulated")) or entry.source.startswith(("modelled://", "emulated://"))


def filling_of(entry: Entry) -> Filling | None:
    """When the first timed sample was filled, where it was noted."""
    for noted in _noted(entry, []):
        if noted.at is not None and noted.weighing.fill_time is not None:
            return Filling(noted.at, noted.weighing.fill_time)
    return None


def _noted(entry: Entry, problems: list[str]) -> list[Noted]:
    found = []
    beside = Path(entry.path).with_suffix(".toml").name
    for number, table in enumerate(entry.samples, 1):
        try:
            found.append(read_sample(table, f"{beside}: sample {number}"))
        except InputError as error:
            problems.append(str(error))
    return found


def _cups(entry: Entry, problems: list[str]) -> tuple[Estimate, ...]:
    """Shares of the foam's air that survived mixing, by the ``[[cup]]`` tables beside the recording."""
    tables = entry.metadata.get("cup", [])
    found = []
    beside = Path(entry.path).with_suffix(".toml").name
    for number, table in enumerate(tables if isinstance(tables, list) else [tables], 1):
        try:
            found.append(read_cup(table, f"{beside}: cup {number}"))
        except InputError as error:
            problems.append(str(error))
    return tuple(found)


def _build(metadata: Mapping[str, Any], folder: Path, problems: list[str]) -> tuple[Build | None, str, Path | None]:
    """The build, a name for it, and its file. A sheet may also stand in the metadata, as text or as a table."""
    inline = metadata.get("build_sheet")
    named = str(metadata.get("build", "") or "")[:_LONGEST_NAME]
    if isinstance(inline, str) and "\n" in inline:
        sheet = parse_sheet(inline, named or "build_sheet")
        if sheet.build is None:
            problems += [str(one) for one in sheet.problems if one.fatal]
        return sheet.build, (sheet.build.name if sheet.build else named), None
    wanted = str(inline or metadata.get("build_file") or named)[:_LONGEST_NAME]
    if not wanted:
        problems.append("no build sheet is named: write build = “builds/….toml” beside the recording")
        return None, "", None
    for place in (folder / wanted, folder / "builds" / wanted, folder / "builds" / f"{wanted}.toml"):
        if place.suffix == ".toml" and _is_there(place):
            try:
                text = read_text(place)
            except (OSError, TomlUnreadable) as error:
                problems.append(f"{place}: the build sheet cannot be read: {in_words(error)}")
                return None, named, place
            sheet = parse_sheet(text, str(place))
            if sheet.build is None:
                problems += [str(one) for one in sheet.problems if one.fatal]
                return None, named, place
            return sheet.build, sheet.build.name, place
    problems.append(f"there is no build sheet “{shorten(wanted)}” in {folder} or its folder builds")
    return None, named, None


def _is_there(path: Path) -> bool:
    """Whether there is something of that name, a link that leads nowhere too."""
    try:
        path.lstat()
    except (OSError, ValueError):
        return False
    return True


def _samples(noted: list[Noted], measured: Measured, prior: CaughtPrior, problems: list[str]) -> list[FoamSample]:
    """Those that agree with the run, or were confirmed; of the others the question stands in ``problems``."""
    found: list[FoamSample] = []
    drawn = _drawn(measured)
    earlier: list[Observation] = []
    for number, one in enumerate(noted, 1):
        weighing = one.weighing
        if math.isfinite(measured.ambient_density):
            weighing = replace(weighing, gas_density=measured.ambient_density)
        try:
            sample = evaluate(weighing, measured.air_rate)
        except FrothlineError as error:
            problems.append(str(error))
            continue
        air = measured.air_rate
        indicated, u_air = (None, 0.0) if air is None else (air.value, air.standard_uncertainty / air.value)
        question = question_of(weighing, sample, [*earlier, *drawn], indicated, u_air, prior)
        if question and not weighing.confirmed:
            problems.append(
                f"sample {number} is not used: {question} Correct it beside the recording, or write confirmed = true"
            )
            continue
        earlier += observations_of(sample, indicated)
        found.append(sample)
    return found


def _drawn(measured: Measured) -> list[Observation]:
    """Solution over air, by the scale, as an observation; none where one of them was not measured."""
    used, air = measured.solution_use, measured.air_rate
    if used is None or air is None or used.value <= 0.0 or air.value <= 0.0:
        return []
    u = math.hypot(used.standard_uncertainty / used.value, air.standard_uncertainty / air.value)
    return [Observation((1.0, -1.0), math.log(used.value / air.value), max(u, 0.01))]


def _foam(samples: list[FoamSample], words: list[str], why: dict[str, str]) -> dict[str, Estimate | None]:
    """Figures of the foam, over all samples that have them."""
    figures: dict[str, Estimate | None] = {}
    pick: dict[str, Callable[[FoamSample], Estimate | None]] = {
        "density": lambda s: s.density,
        "expansion": lambda s: s.expansion,
        "output": lambda s: s.output,
        "drainage": lambda s: s.drainage,
        "capture": lambda s: s.capture,
    }
    missing = {
        "density": "no sample was weighed",
        "expansion": "no sample was weighed",
        "output": "no sample was timed while it filled",
        "drainage": "no sample was left to drain",
        "capture": "it takes a timed sample and a measured air rate",
    }
    for name, of in pick.items():
        given = [estimate for sample in samples if (estimate := of(sample)) is not None]
        alike = [sample.shared.get(name, {}) for sample in samples if of(sample) is not None]
        known = [estimate for estimate in given if estimate.known]
        if not known:
            figures[name] = None
            why[name] = given[0].assumptions[0] if given and given[0].assumptions else missing[name]
        elif len(known) == 1:
            figures[name] = known[0]
        else:
            repeats = combine(given, alike)
            figures[name] = repeats.mean
            if name == "density":
                words.append(f"density: {repeats.words}")
    words += [remark for sample in samples for remark in sample.remarks]
    return figures


def _drained(samples: list[FoamSample], words: list[str]) -> tuple[Estimate | None, FoamSample | None]:
    """The drainage time over all samples of one depth, and one of them; that of the first where depths differ."""
    known = [one for one in samples if one.drainage is not None and one.drainage.known]
    if not known:
        return None, None
    alike = [one for one in known if one.depth == known[0].depth and one.container == known[0].container]
    if len(alike) < len(known):
        words.append("the samples drained at different depths of foam: the drainage time is that of the first depth")
    times = [one.drainage for one in alike if one.drainage is not None]
    if len(times) == 1:
        return times[0], known[0]
    return combine(times, [one.shared.get("drainage", {}) for one in alike]).mean, known[0]


def _solution(measured: Measured, samples: list[FoamSample], words: list[str], why: dict[str, str]) -> Estimate | None:
    """By the scale where there is one, else from what the samples held; a contradiction is said."""
    held = [sample.solution_rate for sample in samples if sample.solution_rate is not None]
    if measured.solution_use is None:
        if not held:
            left_out = why.get("solution_use", "no scale under the reservoir")
            why["solution_use"] = f"{left_out}, and no sample was timed"
            return None
        why.pop("solution_use", None)
        return held[0]
    if held:
        apart = measured.solution_use.value - held[0].value
        u = math.hypot(measured.solution_use.standard_uncertainty, held[0].standard_uncertainty)
        if abs(apart) > APART * u:
            more = "more" if apart > 0 else "less"
            words.append(
                f"the reservoir lost {abs(apart) / held[0].value:.0%} {more} solution than the sample held: solution "
                "that did not become foam, a scale that is off, or a sample that was not struck off level"
            )
    return measured.solution_use


def _water(
    metadata: Mapping[str, Any], build: Build | None, problems: list[str], why: dict[str, str]
) -> Estimate | None:
    raw = metadata.get("water_temperature")
    if raw is not None:
        try:
            return Estimate.normal(read_temperature(raw), U_WATER, "K")
        except ValueError as error:
            problems.append(str(error))
    if build is not None:
        said = ("as the build sheet says, not measured on the day",)
        return Estimate.normal(build.solution.temperature, 2.0, "K", assumptions=said)
    why["water_temperature"] = "nobody wrote it down"
    return None
