"""A trial: a run with its build and its samples, condensed to figures.

Nothing is entered twice: the run is the recording, the build is its sheet, the samples are in the TOML file. An unknown
figure is None, and ``why`` has its reason; an error in one of the three does not affect the other two.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from html import escape
from pathlib import Path
from typing import Any

from frothline.bubble_size.foam_photos import FoamPhotos
from frothline.bubble_size.photo_notes import PhotoNotes
from frothline.errors import FrothlineError, InputError
from frothline.estimate import Estimate
from frothline.foam.prior import FoamPrior
from frothline.foam.properties import Observation, observations_of
from frothline.foam.sample import FoamSample, evaluate
from frothline.foam.sample_check import question_of
from frothline.formatting import interval_text, value_text
from frothline.generator.build import Build
from frothline.generator.drawing import draw
from frothline.generator.foam_prior import caught_prior
from frothline.generator.sheet import parse_sheet
from frothline.label_case import label_case
from frothline.quantities import shorten
from frothline.readings.applied_calibration import AUTO
from frothline.recording.summary import Entry, in_words
from frothline.sentence_units import in_units_html
from frothline.sweep.generator_file import BUILDS
from frothline.toml_text import TomlUnreadable, read_text
from frothline.trials import photos
from frothline.trials.cup_notes import read_cup
from frothline.trials.figures import BY_NAME, FIGURES, shown_figures, unit_of
from frothline.trials.inside_folder import refuse_outside
from frothline.trials.measurements import Filling, Measured, Used, measure
from frothline.trials.sample_corrections import CorrectedSample, corrected_samples
from frothline.trials.trial_foam import drained_of, drawn_of, foam_of, solution_of, water_of
from frothline.units import SYSTEMS, chosen_system

_LONGEST_NAME = 200  # longest sheet name, characters; a file name has at most 255 bytes


@dataclass(frozen=True, repr=False)
class Trial:
    """A run, condensed. Figures as in FIGURES, each an Estimate in SI or None with its reason in ``why``.

    ``build`` is None if its sheet cannot be read; ``build_file`` is the expected file. ``used`` is the stretch of the
    recording behind pressure, air and solution. ``simulated`` means no real generator or foam. ``problems`` are
    sentences on unreadable data.
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
    alarms: tuple[str, ...] = ()  # of the run, each with its time; those marked as false say it
    photos: tuple[str, ...] = ()
    simulated: bool = False
    refused: tuple[tuple[float, float, str], ...] = field(default=(), repr=False)
    drainage_depth: float | None = None  # m of foam behind ``drainage``; None if not written
    drainage_container: float = math.nan  # m3
    start_up: Estimate | None = None  # s without foam after the air came on
    cups: tuple[Estimate, ...] = ()  # shares of the foam's air that survived mixing, by weighed cups
    cast_density: Estimate | None = None
    survival: Estimate | None = None
    dry_density: Estimate | None = None
    settlement: Estimate | None = None
    strength_7: Estimate | None = None
    strength_28: Estimate | None = None
    pours: tuple[str, ...] = ()  # names of the pours with this trial's foam
    jars: tuple[Estimate, ...] = ()  # shares of the foam's air that survived in jars stirred by hand
    bubble_diameter: Estimate | None = None
    bubble_growth: Estimate | None = None
    bubbles: FoamPhotos | None = None  # of the photos with a scale
    photo_notes: Mapping[str, PhotoNotes] = field(default_factory=dict, repr=False)  # by name of the photo, if readable

    def figure(self, name: str) -> Estimate | None:
        """A figure by its name; KeyError where there is none of that name."""
        return getattr(self, BY_NAME[name].name)  # type: ignore[no-any-return]

    def photo_name(self, photo: str) -> str:
        """Name of a photo: its path from the recording's folder."""
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
            "pours": list(self.pours),
            "jars": [one.as_dict() for one in self.jars],
            "bubbles": None if self.bubbles is None else self.bubbles.as_dict(),
        }
        for one in FIGURES:
            estimate = self.figure(one.name)
            data[one.name] = None if estimate is None else estimate.as_dict()
        return data | {
            "why": dict(self.why),
            "words": list(self.words),
            "problems": list(self.problems),
            "notes": list(self.notes),
            "alarms": list(self.alarms),
            "photos": [self.photo_name(photo) for photo in self.photos],
        }

    def __repr__(self) -> str:
        density = self.why.get("density", "not weighed") if self.density is None else self.density.to("kg/m³")
        return f"<Trial {self.name}: {self.build_name} on {self.air_source or 'an unnamed source'}, density {density}>"

    def _repr_html_(self) -> str:
        system = chosen_system()
        units = SYSTEMS[system]
        rows = ""
        for one in shown_figures([self]):
            estimate, unit = self.figure(one.name), unit_of(one, units)
            under = interval_text(estimate, unit) or self.why.get(one.name, "")
            rows += f"<tr><td>{escape(label_case(one.label))}</td><td>{escape(value_text(estimate, unit))}</td>"
            rows += f"<td>{escape(under)}</td></tr>"
        made = " (simulated)" if self.simulated else ""
        head = f"{self.title}: {self.build_name} on {self.air_source or 'an unnamed source'}{made}"
        drawing = draw(self.build, system=system) if self.build is not None else ""
        notes = "".join(f"<li>{escape(one)}</li>" for one in (*self.words, *self.problems))
        text = in_units_html(f"<table>{rows}</table><ul>{notes}</ul>", system, names_of(self))
        return f"<h4>{escape(head)}</h4>{text}{drawing}"


def names_of(trial: Trial) -> list[str]:
    """Names of a trial that persons gave; they are unchanged in every system of units."""
    return [name for name in (trial.title, trial.name, trial.build_name, trial.air_source) if name]


def load_trial(entry: Entry, calibration: Any = AUTO, spool: Any = None, measured: Measured | None = None) -> Trial:
    """Load a trial from a recording's catalogue entry.

    ``measured`` is the result of ``measurements.measure`` for the same run, if already known. Never raises for the
    content of the files: unreadable data are in ``problems``.
    """
    path, metadata = Path(entry.path), entry.metadata
    problems = [entry.problem] if entry.problem else []
    noted = samples_noted(entry)
    problems += [words for one in noted for words in one.problems]
    unread = bool(problems) and not metadata  # the TOML file, which may name a build
    build, build_name, build_file = (None, "", None) if unread else _build(metadata, path.parent, problems)
    if measured is None:
        try:
            measured = measure(path, filling_of(entry), calibration, spool)
        except (FrothlineError, OSError) as error:
            problems.append(str(error))
            measured = Measured("", why={})
    why = dict(measured.why or {})
    words = [*measured.words, *(f"{one.words}." for one in noted if one.words)]
    samples = _samples(noted, measured, caught_prior(build), problems)
    figures = foam_of(samples, words, why, withdrawn=sum(not one.counts for one in noted))
    figures["drainage"], drained = drained_of(samples, words)
    figures["solution_use"] = solution_of(measured, samples, words, why)
    figures["water_temperature"] = water_of(metadata, build, problems, why)
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
        **figures,  # type: ignore[arg-type]
        why=why,
        words=tuple(dict.fromkeys(words)),
        problems=tuple(problems),
        notes=(*([str(metadata["note"])] if metadata.get("note") else []), *entry.notes),
        alarms=measured.alarms,
        photos=shown_photos,
        simulated=is_simulated(entry),
        refused=measured.refused,
        drainage_depth=None if drained is None else drained.depth,
        drainage_container=math.nan if drained is None else drained.container,
        start_up=measured.start_up,
        cups=_cups(entry, problems),
        pours=(),  # known to the folder: see ``trials.pours``
    )


def _photos(entry: Entry, words: list[str]) -> tuple[str, ...]:
    """Photos named like the recording or listed in ``photos``, and the reasons for those that cannot be shown."""
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
    """Whether the rig was simulated, by the TOML file or by the port."""
    return bool(entry.metadata.get("simulated")) or entry.source.startswith(("modelled://", "emulated://"))


def filling_of(entry: Entry) -> Filling | None:
    """Filling time of the first timed sample, if written."""
    for one in samples_noted(entry):
        noted = one.noted if one.counts else None
        if noted is not None and noted.at is not None and noted.weighing.fill_time is not None:
            return Filling(noted.at, noted.weighing.fill_time)
    return None


def samples_noted(entry: Entry) -> list[CorrectedSample]:
    """The samples written next to a recording, as corrected; withdrawn ones too."""
    return corrected_samples(entry.metadata, Path(entry.path).with_suffix(".toml").name)


def _cups(entry: Entry, problems: list[str]) -> tuple[Estimate, ...]:
    """Shares of the foam's air that survived mixing, by the ``[[cup]]`` tables next to the recording."""
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
    """The build, its name, and its file. The sheet may also be in the metadata, as text or as a table."""
    inline = metadata.get("build_sheet")
    named = str(metadata.get("build", "") or "")[:_LONGEST_NAME]
    if isinstance(inline, str) and "\n" in inline:
        sheet = parse_sheet(inline, named or "build_sheet")
        if sheet.build is None:
            problems += [str(one) for one in sheet.problems if one.fatal]
        return sheet.build, (sheet.build.name if sheet.build else named), None
    wanted = str(inline or metadata.get("build_file") or named)[:_LONGEST_NAME]
    if not wanted:
        problems.append("no build sheet is named: write build = “builds/….toml” in the recording's TOML file")
        return None, "", None
    for place in (folder / wanted, folder / BUILDS / wanted, folder / BUILDS / f"{wanted}.toml"):
        if place.suffix == ".toml" and _is_there(place):
            try:
                refuse_outside(folder, place, wanted)
                text = read_text(place)
            except (OSError, TomlUnreadable) as error:
                problems.append(f"{place}: the build sheet cannot be read: {in_words(error)}")
                return None, named, place
            except InputError as error:
                problems.append(str(error))
                return None, named, None
            sheet = parse_sheet(text, str(place))
            if sheet.build is None:
                problems += [str(one) for one in sheet.problems if one.fatal]
                return None, named, place
            return sheet.build, sheet.build.name, place
    problems.append(f"no build sheet “{shorten(wanted)}” in {folder} or its folder builds")
    return None, named, None


def _is_there(path: Path) -> bool:
    """Whether the name exists, also as a broken link."""
    try:
        path.lstat()
    except (OSError, ValueError):
        return False
    return True


def _samples(
    noted: list[CorrectedSample], measured: Measured, prior: FoamPrior, problems: list[str]
) -> list[FoamSample]:
    """Samples that agree with the run or were confirmed; the questions on the others are in ``problems``."""
    found: list[FoamSample] = []
    drawn = drawn_of(measured)
    earlier: list[Observation] = []
    for one in noted:
        if one.noted is None or not one.counts:
            continue
        weighing = one.noted.weighing
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
                f"sample {one.number} is not used: {question} Correct it in the recording's TOML file, or write "
                "confirmed = true there"
            )
            continue
        earlier += observations_of(sample, indicated)
        found.append(sample)
    return found
