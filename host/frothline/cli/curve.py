"""``curve``: an air source's curve from recorded sweeps."""

from __future__ import annotations

from argparse import Namespace
from math import isfinite
from typing import Any

from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.curve.blower import BlowerCurve
from frothline.curve.fan_laws import Conditions, standard_temperature
from frothline.curve.positive_displacement import FORM as PUMP
from frothline.curve.positive_displacement import NO_FAN, PUMP_ELSEWHERE
from frothline.errors import FitError, InputError
from frothline.formatting import full_text
from frothline.sweep.recorded_source import load_sweeps
from frothline.sweep.source_curve import SourceCurve
from frothline.sweep.source_file import holds_points
from frothline.units import SYSTEMS

FITTED, APART = 0, 1
_SHOWN = (
    "form",
    "why",
    "coefficients",
    "covariance",
    "shut_off",
    "free_delivery",
    "air_power",
    "air_power_flow",
    "range",
    "pressure_range",
    "advice",
    "notes",
    "chi_square",
    "degrees_of_freedom",
    "standard",
)
_FIGURES = (
    ("Shut-off pressure", "shut_off", "pressure"),
    ("Free delivery", "free_delivery", "flow"),
    ("Peak air power", "air_power", "power"),
    ("  At a flow of", "air_power_flow", "flow"),
)


def run(options: Namespace, say: Say) -> int:
    options.recording = [*options.recording, *options.points]
    if not options.recording:
        raise InputError("no recording is given", where="recording", remedy="Give a recording, or --points FILE")
    say.progress("reading and fitting")
    sensors = sensors_of(options, *options.recording, say=say)
    found = load_sweeps(options.recording, holes=options.holes, motor=options.motor, **sensors)
    for at, one in found.findings:
        say.note(f"{one.severity}: {options.recording[at]}: {one.what}. {one.remedy}")
    for one in found.together:
        say.note(f"{one.severity}: {one.what}. {one.remedy}")
    for stretch in found.off:
        say.note(f"{options.recording[stretch.source]}: {stretch.words()}")
    curve = BlowerCurve(motor=options.motor)
    fit = found.fit(curve)
    system = SYSTEMS[options.units]
    lines = [f"note: {one}" for one in (*fit.notes, *fit.advice)]  # notes that limit the figures come before them
    lines += ["as measured", *_figures(fit, system)]
    lines += [f"from {len(fit.points)} steady points; flows are mass flows (standard air, 1.2 kg/m³)"]
    lines += _in_standard_air(fit.standard, system)
    data: dict[str, Any] = {name: getattr(fit, name) for name in _SHOWN}
    if (wanted := _conditions(options)) is not None:
        if fit.form == PUMP:
            lines.append(f"in air of {wanted.density:.3f} kg/m³: not known, {NO_FAN}. {PUMP_ELSEWHERE}")
            data["elsewhere"] = {"density": wanted.density, "why": NO_FAN}
        else:
            there = found.elsewhere(wanted, options.volts[0] if options.volts else None)
            lines += [
                f"in air of {wanted.density:.3f} kg/m³{_site_words(options, system)}{_at_volts(options)}",
                *_figures(there, system),
            ]
            data["elsewhere"] = {"density": wanted.density, **{name: getattr(there, name) for _, name, _ in _FIGURES}}
    if options.now:
        loaded = SourceCurve(fit, found, **sensors).with_loaded_filter(options.now).loaded
        assert loaded is not None
        lines += [
            f"now, by {', '.join(one.stem for one in options.now)}: {loaded.words}",
            *_figures(loaded.fit, system),
        ]
        data["now"] = {
            "drop": loaded.drop,
            "flow": loaded.flow,
            "significant": loaded.significant,
            "words": loaded.words,
        }
        data["now"] |= {name: getattr(loaded.fit, name) for _, name, _ in _FIGURES}
    code = FITTED
    if len(options.recording) > 1 and not options.holes:
        code, words, data["pooling"] = _pooled(found, curve)
        lines.append(words)
    lines += [f"form: {fit.form}; {fit.why}"]
    if options.list_points:
        lines += _listed(found, system)
    findings = [{"recording": options.recording[at], **one.as_dict()} for at, one in found.findings]
    findings += [{"recording": None, **one.as_dict()} for one in found.together]
    refused = (*found.refused, *fit.refused)
    say.result(
        {**data, "points": found.points, "refused": refused, "findings": findings, "source_off": found.off}
        | {
            "recordings": options.recording,
            "entered_by_hand": [str(one) for one in options.recording if holds_points(one)],
        },
        "\n".join(lines),
    )
    return code


def _figures(fit: Any, system: Any) -> list[str]:
    return [f"  {title:<18} {full_text(getattr(fit, name), system[quantity])}" for title, name, quantity in _FIGURES]


def _in_standard_air(standard: Any, system: Any) -> list[str]:
    if standard.why_not:
        return [f"in standard air: not known, {standard.why_not}"]
    words = f"in standard air, 1.2 kg/m³ (it was measured in {standard.found_in:.3f})"
    return [words, *_figures(standard, system), *(f"  {one}" for one in standard.words)]


def _conditions(options: Namespace) -> Any:
    """The requested conditions; None without any."""
    if options.altitude is None and options.temperature is None and options.volts is None:
        return None
    if options.volts and min(options.volts) <= 0:
        raise InputError(
            "voltages must be greater than 0", where="--volts", remedy="Give two voltages, such as 230 220"
        )
    volts = options.volts[1] if options.volts else 1.0
    if options.altitude is None and options.temperature is None:
        return Conditions(voltage=volts, motor=options.motor)
    return Conditions.at_altitude(options.altitude or 0.0, options.temperature, volts, options.motor)


def _site_words(options: Namespace, system: Any) -> str:
    """Altitude and temperature of the wanted air, with the one that was not given."""
    if options.altitude is None and options.temperature is None:
        return ""
    place = options.typed["altitude"] if options.altitude is not None else "sea level"
    unit = system["temperature"]
    if options.temperature is not None:
        return f" ({place}, {unit.from_si(options.temperature):.3g} {unit.symbol})"
    there = unit.from_si(standard_temperature(options.altitude))
    return f" ({place}, {there:.1f} {unit.symbol} as in the standard atmosphere; --temperature for another)"


def _at_volts(options: Namespace) -> str:
    return f", at {options.volts[1]:g} V instead of {options.volts[0]:g} V" if options.volts else ""


def _pooled(found: Any, curve: Any) -> tuple[int, str, Any]:
    """Exit code, text, and the test itself."""
    try:
        answer = found.pooled(curve)
    except FitError as error:
        return FITTED, f"the recordings cannot be compared: {error.what}", None
    shown = {name: getattr(answer, name) for name in ("same", "statistic", "p_value", "degrees_of_freedom", "shifts")}
    return FITTED if answer.same else APART, answer.words, shown


def _listed(found: Any, system: Any) -> list[str]:
    p, q = system["pressure"], system["flow"]
    lines = [f"{'start s':>9} {'end s':>9} {p.symbol:>14} {q.symbol:>14}"]
    lines += [
        f"{_second(one.start):>9} {_second(one.end):>9} {p.from_si(one.pressure):14.4g} {q.from_si(one.flow):14.4g}"
        for one in found.points
    ]
    lines += [f"refused {one.start:.1f} to {one.end:.1f} s: {one.reason}" for one in found.refused]
    return lines


def _second(time: float) -> str:
    """A time of a recording; a dash for a point that was entered by hand."""
    return f"{time:.1f}" if isfinite(time) else "–"
