"""A jar of slurry and foam: what survives of the foam, before a bag of cement is risked.

``EXAMPLE`` is such a file. A jar is a small pour: its volume and mass give the density that a cup would give, and the
same function judges both. Masses without a unit are g, volumes mL, lengths mm. A wrong entry is reported with its
place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.survival import U_CUP
from frothline.pours.entries import DAY, LENGTH, as_written, read_age, reader_of, wrong_at
from frothline.pours.outcome import judge_pour
from frothline.pours.plan_entries import read_foam_figure
from frothline.pours.record import Masses, PourRecord
from frothline.quantities import within
from frothline.toml_text import TomlUnreadable, read_text, read_toml

EXAMPLE = """\
trial = "04-12-long-packing"   # the run that made the foam; or foam_density = "75 kg/m3"
title = "Soap A, first jar"

[masses]                       # put into the jar
cement = "300 g"
sand = "0 g"
water = "150 g"
foam = "22 g"                  # or foam_volume = "300 mL"; both give the density of the foam

[jar]
diameter = "92 mm"             # inside
height = "78 mm"               # of the mix after stirring; or volume = "518 mL"
settled = "75 mm"              # height later
after = "2 h"                  # of the settled height
"""
FOLDER = "jars"  # in the folder of the recordings
U_LENGTH = 0.5e-3  # m, of a ruler at a jar; judgement, no source
AFTER = (60.0, 30 * DAY)  # s, from stirring to the settled height; judgement, no source
U_MIXER = 0.04  # of a share: a jar stirred by hand is not the mixer; judgement, no source
MIXER = "in a jar stirred by hand; a mixer may differ"
BLEEDING = "settled height: liquid that rose to the top is counted as lost air"
MOST_APART = 0.1  # of the volume from that of diameter and height: a jar is not quite a cylinder; judgement, no source
CONTRADICTS = "volume and sizes of the jar contradict each other"
_SMALL = within(reader_of("mass"), 1e-5, 100.0)
_MASSES = {
    "cement": _SMALL,
    "water": _SMALL,
    "sand": within(reader_of("mass"), 0.0, 100.0),
    "foam": _SMALL,
    "foam_volume": within(reader_of("drained"), 1e-6, 0.1),
}
_JAR = {
    "diameter": within(reader_of("length"), *LENGTH),
    "height": within(reader_of("length"), *LENGTH),
    "settled": within(reader_of("length"), *LENGTH),
    "volume": within(reader_of("drained"), 1e-6, 0.1),
    "after": within(read_age, *AFTER),
}
_TOP = {"trial": str, "title": str, "note": str, "foam_density": partial(read_foam_figure, "foam-density")}
_READERS: Mapping[str, Mapping[str, Any]] = {"": _TOP, "masses": _MASSES, "jar": _JAR}


@dataclass(frozen=True)
class JarRecord:
    """A jar as it was written down, SI; NaN where it is not written.

    problems : wrong entries
    foam : its density as written, kg/m³
    written : each known entry as it is in the file, readable or not, by path like "masses.cement"
    """

    name: str
    title: str
    trial: str
    masses: Masses
    foam: Estimate | None
    diameter: float
    height: float
    volume: float
    settled: float
    after: float
    problems: tuple[str, ...]
    written: Mapping[str, str | float] = field(default_factory=dict)

    @property
    def foam_density(self) -> float:
        """Density of the foam as written, kg/m³; NaN where it is not."""
        return math.nan if self.foam is None else self.foam.value


@dataclass(frozen=True)
class JarOutcome:
    """What became of the foam in a jar, SI. An unknown figure is None, with its reason in ``why``.

    survival : share of the foam's air in the fresh mix;  later : the same at the settled height
    density : kg/m³, of the fresh mix;  settlement : sink over the first height;  after : s
    """

    survival: Estimate | None
    later: Estimate | None
    density: Estimate | None
    settlement: Estimate | None
    after: float
    why: Mapping[str, str]
    questions: tuple[str, ...]


def read_jar(path: Path) -> JarRecord:
    """Read a jar. Raises InputError if the file cannot be read at all; a wrong entry is in ``problems``."""
    try:
        return parse_jar(read_text(path), path.stem)
    except TomlUnreadable as error:
        where = str(path) if error.line is None else f"{path}, line {error.line}"
        raise InputError(f"the jar is not TOML: {error.what}", where=where, remedy="Fix this line") from error
    except OSError as error:
        words = error.strerror or error
        raise InputError(f"the jar cannot be read: {words}", where=str(path), remedy="Check the file") from error


def parse_jar(text: str, name: str) -> JarRecord:
    """Read the text of a jar. Raises TomlUnreadable if it is not TOML."""
    document = read_toml(text)
    problems: list[str] = []
    parts = {key: document.get(key, {}) for key in ("masses", "jar")}
    top = _table({key: one for key, one in document.items() if key not in parts}, _TOP, name, problems)
    masses = _table(parts["masses"], _MASSES, f"{name}: masses", problems)
    jar = _table(parts["jar"], _JAR, f"{name}: jar", problems)
    number = {key: jar.get(key, math.nan) for key in _JAR}
    return JarRecord(
        name,
        top.get("title") or name,
        top.get("trial", ""),
        Masses(**masses),
        top.get("foam_density"),
        **number,
        problems=tuple(problems),
        written=as_written(document, _READERS),
    )


def wrong_entry(path: str, text: str) -> str:
    """What is wrong with an entry, by its path like "masses.cement"; empty if it can be read."""
    return wrong_at(_READERS, path, text)


def _table(raw: Any, readers: Mapping[str, Any], where: str, problems: list[str]) -> dict[str, Any]:
    if not isinstance(raw, Mapping):
        problems.append(f"{where}: it is not a table")
        return {}
    found = {}
    for key, value in raw.items():
        if key not in readers:
            problems.append(f"{where}: “{key}” is not known here; known: {', '.join(readers)}")
            continue
        try:
            found[key] = readers[key](value)
        except ValueError as error:
            problems.append(f"{where}: {key}: {error}")
    return found


def judge_jar(jar: JarRecord, foam_density: Estimate | None = None) -> JarOutcome:
    """Judge a jar with the foam of its trial (``foam_density`` kg/m³), or with the density that is written."""
    foam_density = foam_density if jar.foam is None else jar.foam
    if foam_density is None and math.isfinite(jar.masses.foam) and math.isfinite(jar.masses.foam_volume):
        made = jar.masses.foam / jar.masses.foam_volume
        foam_density = Estimate.normal(made, 0.036 * made, "kg/m3", assumptions=("by mass and volume of the foam",))
    questions: list[str] = []
    why: dict[str, str] = {}
    volume, u_volume, missing = _volume(jar)
    if missing == CONTRADICTS:
        questions.append(f"{CONTRADICTS}: check diameter, height and volume in [jar]")
    fresh = _survival(jar, foam_density, volume, u_volume, questions, why, "survival", missing)
    settlement = later = None
    if not (math.isfinite(jar.height) and math.isfinite(jar.settled)):
        why["settlement"] = why["later"] = "height and settled height are not both written"
    elif jar.settled > jar.height + 2 * U_LENGTH:
        why["settlement"] = why["later"] = "the mix rose"
        questions.append(f"settled {jar.settled * 1e3:g} mm is above height {jar.height * 1e3:g} mm: check [jar]")
    else:
        sink = max(1 - jar.settled / jar.height, 0.0)
        u = math.hypot(U_LENGTH, U_LENGTH * jar.settled / jar.height) / jar.height
        settlement = Estimate.normal(sink, u, "1")
        share = jar.settled / jar.height
        later = _survival(jar, foam_density, volume * share, u_volume, questions, why, "later", missing)
        if later is not None:
            later = replace(later, assumptions=(*later.assumptions, BLEEDING))
    density = None
    total = _total(jar, foam_density)
    if math.isfinite(volume) and math.isfinite(total):
        density = Estimate.normal(total / volume, total / volume * u_volume, "kg/m3")
    else:
        why["density"] = missing or "the masses are not complete"
    said = tuple(dict.fromkeys(questions))
    return JarOutcome(fresh, later, density, settlement, jar.after, why, said)


def _volume(jar: JarRecord) -> tuple[float, float, str]:
    """Volume m³ of the fresh mix, its relative standard uncertainty, and what is missing for it."""
    by_sizes = math.pi / 4 * jar.diameter**2 * jar.height
    if math.isfinite(jar.volume):
        if math.isfinite(by_sizes) and abs(jar.volume / by_sizes - 1.0) > MOST_APART:
            return math.nan, math.nan, CONTRADICTS
        return jar.volume, 0.01, ""
    if math.isfinite(by_sizes):
        return by_sizes, math.hypot(2 * U_LENGTH / jar.diameter, U_LENGTH / jar.height), ""
    return math.nan, math.nan, "diameter and height (or volume) of the jar are not written"


def _of_a_jar(question: str) -> str:
    """A question about the cup of a pour, in the words of a jar, which has none."""
    for cup, mix in (("a cup of", "a mix of"), ("by this cup", "by this jar")):
        if question.startswith(cup):
            what = question.partition(": ")[0]
            return f"{mix}{what.removeprefix(cup)}: check the masses, and the sizes and units in [jar]"
    return question


def _total(jar: JarRecord, foam_density: Estimate | None) -> float:
    masses = jar.masses
    foam = masses.foam
    if not math.isfinite(foam) and foam_density is not None:
        foam = masses.foam_volume * foam_density.value
    return masses.slurry + foam


def _survival(
    jar: JarRecord,
    foam_density: Estimate | None,
    volume: float,
    u_volume: float,
    questions: list[str],
    why: dict[str, str],
    name: str,
    missing: str,
) -> Estimate | None:
    """The survival that ``judge_pour`` gives for a cup of this density, with the jar's own uncertainties."""
    total = _total(jar, foam_density)
    if missing or not math.isfinite(total):
        why[name] = missing or "cement, water and foam are not all written, or the density of the foam is not known"
        return None

    def at(density: float, asked: list[str]) -> Estimate | None:
        outcome = judge_pour(PourRecord(name=jar.name, path=None, masses=jar.masses, cup_density=density), foam_density)
        asked += [_of_a_jar(one) for one in outcome.questions]
        if outcome.survival is None:
            why[name] = outcome.why.get("survival", "not known")
        return outcome.survival

    density = total / volume
    found = at(density, questions)
    if found is None:
        return None
    ignored: list[str] = []
    other = at(density * (1 + u_volume), ignored) or at(density * (1 - u_volume), ignored)
    why.pop(name, None)
    by_volume = abs(found.value - other.value) if other is not None else u_volume
    more = max(by_volume / max(u_volume, 1e-9) * math.sqrt(max(u_volume**2 - U_CUP**2, 0.0)), 0.0)
    u = math.hypot(found.standard_uncertainty, more, U_MIXER)
    lower, upper = max(found.value - 1.96 * u, 0.0), min(found.value + 1.96 * u, 1.0)
    said = (MIXER, *(one for one in found.assumptions if "cup" not in one))
    return Estimate(found.value, u, min(lower, found.value), max(upper, found.value), "1", assumptions=said)


def jar_rows(outcome: JarOutcome) -> Sequence[tuple[str, Estimate | None, str, str]]:
    """Label, estimate, quantity and reason of each figure."""
    return (
        ("air surviving in the fresh mix", outcome.survival, "share", outcome.why.get("survival", "")),
        ("air surviving when settled", outcome.later, "share", outcome.why.get("later", "")),
        ("settlement", outcome.settlement, "share", outcome.why.get("settlement", "")),
        ("density of the mix", outcome.density, "density", outcome.why.get("density", "")),
    )
