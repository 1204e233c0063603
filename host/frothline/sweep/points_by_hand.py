"""Steady points of an air source that were entered by hand: drilled plates with a U-tube, or a maker's table.

A plate's flow follows from its hole and the pressure before it (``physics.hole``). A maker's table has suction or
pressure with the flow, and often the orifice, as the published tests of vacuum cleaners print it (ASTM F558,
IEC 62885-2): its flow is a standard flow. Suction is converted to the pressure of the same machine as a blower, which
takes in denser air, by the fan laws.

Each point has a stated uncertainty: that of a column ``u …``, or a usual one, which ``HandPoints.notes`` names with its
reason.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import hypot, isfinite, nan, pi, sqrt
from pathlib import Path
from statistics import fmean
from typing import Any, NamedTuple

from frothline.curve.fan_laws import Conditions, corrected
from frothline.curve.source_entries import Motor
from frothline.curve.steady_points import CommonError, SteadyPoint
from frothline.errors import InputError, OutsideValidity
from frothline.generator.room_air import RoomAir
from frothline.physics.air import STANDARD_DENSITY, AirState
from frothline.physics.hole import SHARP_PLATE_UNCERTAINTY, sharp_plate_flow, small_plate_factor
from frothline.physics.water import liquid_head
from frothline.sensors.exhaust import assumed_line_temperature
from frothline.sensors.spool import Site, Spool
from frothline.sweep.point_table import HOW, PointTable, Row, parse_table, refuse_rows
from frothline.sweep.table_checks import compare_flows, refuse_absolute
from frothline.typed_table import read_table_text
from frothline.units import ZERO_CELSIUS

# Usual uncertainties where the table gives none, one standard deviation; judgement, no source.
U_LEVEL = 0.001 * sqrt(2 / 3)  # m: 1 mm at either leg of a U-tube, each a rectangle
U_WATER = 0.002  # relative: the water's density by its temperature, local gravity
U_HOLE = 0.0001 / sqrt(3)  # m: a drilled hole known to 0.1 mm, as a rectangle
U_GAUGE, U_GAUGE_SCALE = 0.005, 0.01  # relative, of a gauge's reading and of its scale
U_TABLE_FLOW, U_TABLE_FLOW_SCALE = 0.01, 0.03  # relative, of each flow of a table and of the maker's test rig
UNKNOWN_SHEET = 0.0015  # m, thickness assumed of a plate without one
OPEN_PIPE = 100.0  # hole diameters: an orifice on a box, whose inlet has no speed
ATMOSPHERE = 101325.0  # Pa, the 1976 standard atmosphere at sea level
ASSUMED = ("ambient_pressure", "ambient_temperature")  # of the spool's site, where the table has none
WATER_DENSITY = 998.2  # kg/m³ at 20 °C

PLATE, AIR, EXHAUST, U_TUBE, GAUGE, FLOW = (
    "discharge of the plates",
    "air of the room",
    "temperature of the exhaust",
    "U-tube",
    "scale of the pressure",
    "scale of the flow",
)


@dataclass(frozen=True)
class HandPoints:
    """Points entered by hand.

    notes : the origin, and the uncertainties that were assumed with their reasons
    air : air of the room, where the table has it
    """

    points: tuple[SteadyPoint, ...]
    notes: tuple[str, ...]
    air: RoomAir


class _PlateFlow(NamedTuple):
    """Standard flow through a plate, m³/s, d ln q/d ln p, and relative standard uncertainties of the flow.

    u_discharge, u_exhaust : by the discharge, and by the temperature of the air at the plate, common to all plates
    u_size : by the plate's own size
    """

    flow: float = 0.0
    share: float = 0.0
    u_discharge: float = 0.0
    u_exhaust: float = 0.0
    u_size: float = 0.0


@dataclass
class _Context:
    """What all lines of a table share."""

    table: PointTable
    spool: Spool
    number: int
    motor: Motor
    reasons: dict[str, None]  # in order, each once

    def has(self, key: str) -> bool:
        return key in self.table.keys


def read_points(path: str | Path, *, number: int = 0, spool: Any = None, motor: Motor = "series") -> HandPoints:
    """The points of a file. ``number`` : of the source among several. Raises InputError with all problems at once."""
    path = Path(path)
    text = read_table_text(path, "points")
    return points_of_text(text, path.name, where=str(path), number=number, spool=spool, motor=motor)


def points_of_text(
    text: str,
    name: str,
    *,
    where: str = "",
    number: int = 0,
    spool: Any = None,
    motor: Motor = "series",
) -> HandPoints:
    """The points of a typed table; ``name`` is used in the notes. Raises InputError with all problems at once."""
    table = parse_table(text, where or name)
    _check_columns(table, where or name)
    refuse_absolute(table, where or name)
    context = _Context(table, spool or Spool.default(), number, motor, {})
    table = _positive_suction(context, where or name)
    context.table = table
    _check_flows(context, where or name)
    points: list[SteadyPoint] = []
    problems: list[str] = []
    for row in table.rows:
        try:
            points.append(_point(row, context))
        except OutsideValidity as error:
            problems.append(f"line {row.line}: {error.what}" + (f" ({error.remedy})" if error.remedy else ""))
    refuse_rows(problems, where or name)
    said = [f"entered by hand: {len(points)} points of {name}", *context.reasons]
    if table.unused:
        said.append("columns not used: " + ", ".join(f"“{one}”" for one in table.unused))
    return HandPoints(tuple(points), tuple(said), _room_air(context, name))


def _check_columns(table: PointTable, where: str) -> None:
    keys = table.keys
    heads = [key for key in ("pressure", "u_tube", "suction") if key in keys]
    if len(heads) > 1:
        raise InputError(
            f"the table has {len(heads)} columns of pressure ({', '.join(heads)})".replace("u_tube", "U-tube"),
            where=where,
            remedy="Keep the one that was read",
        )
    if not heads:
        raise InputError("the column of the pressure is missing", where=where, remedy=HOW)
    if "flow" not in keys and "hole" not in keys:
        raise InputError("the column of the flow, or of the hole of each plate, is missing", where=where, remedy=HOW)


def _positive_suction(context: _Context, where: str) -> PointTable:
    """The table with the suction above zero; pressures below zero are asked back."""
    table = context.table
    key = next(one for one in ("suction", "pressure", "u_tube") if context.has(one))
    below = [row.line for row in table.rows if row.values.get(key, 0.0) < 0]
    if not below:
        return table
    if key == "suction" and all(row.values[key] <= 0 for row in table.rows):
        rows = tuple(replace(row, values={**row.values, key: -row.values[key]}) for row in table.rows)
        context.reasons["suction is written below zero; its size is used"] = None
        return replace(table, rows=rows)
    lines = ", ".join(map(str, below[:12]))
    if key != "suction" and len(below) == len(table.rows):
        raise InputError(
            "all pressures are below zero",
            where=where,
            remedy="Name the column “suction” if it was read at the inlet, or change the hoses of the U-tube",
        )
    raise InputError(f"the sign differs in line {lines}", where=where, remedy="Write all lines with one sign")


def _point(row: Row, context: _Context) -> SteadyPoint:
    """The point of a line. Raises OutsideValidity."""
    pressure, u_random, common_p = _pressure(row, context)
    room, u_room, known = _room(row, context)
    suction = "suction" in row.values
    common: list[CommonError] = []
    if "flow" in row.values:
        flow = row.values["flow"]
        u_flow = row.values.get("u_flow", U_TABLE_FLOW * flow)
        if "u_flow" not in row.values:
            reason = "each flow 1 %, the maker's test rig 3 % (usual)"
            context.reasons[f"standard uncertainty: {reason}"] = None
            common.append(CommonError(FLOW, 0.0, U_TABLE_FLOW_SCALE * flow))
        common += [CommonError(name, on_pressure, 0.0) for name, on_pressure in common_p]
        random = (u_random, u_flow, 0.0)
        context.reasons["flows are taken as standard air, 1.2 kg/m³"] = None
        density, u_density = (room.density, u_room * room.density) if known else (STANDARD_DENSITY, 0.0)
    else:
        made = _plate(row, pressure, room, context, suction=suction)
        flow = made.flow
        slope = made.share * flow / pressure if pressure > 0 else 0.0
        common.append(CommonError(PLATE, 0.0, made.u_discharge * flow))
        if made.u_exhaust:
            common.append(CommonError(EXHAUST, 0.0, made.u_exhaust * flow))
        common += [CommonError(name, on_pressure, slope * on_pressure) for name, on_pressure in common_p]
        if not known:
            common.append(CommonError(AIR, 0.0, u_room * flow / 2))
            context.reasons[_assumed_room(row, context.spool.site)] = None
        random = (u_random, hypot(slope * u_random, made.u_size * flow), slope * u_random**2)
        density, u_density = (room.density, u_room * room.density) if known else (nan, nan)
    point = SteadyPoint.from_parts(
        pressure,
        flow,
        random,
        common,
        mass_flow=flow * STANDARD_DENSITY,
        ambient_density=density,
        u_ambient_density=u_density,
        source=context.number,
    )
    return _as_blower(point, room, context) if suction else point


def _pressure(row: Row, context: _Context) -> tuple[float, float, list[tuple[str, float]]]:
    """Pressure or suction (Pa), its random standard uncertainty, and its common errors."""
    key = next(one for one in ("pressure", "u_tube", "suction") if one in row.values)
    value = row.values[key]
    column = key in row.lengths
    pressure = float(liquid_head(value, WATER_DENSITY)) if column else value
    own = row.values.get("u_pressure")
    if own is not None:
        return pressure, float(liquid_head(own, WATER_DENSITY)) if "u_pressure" in row.lengths else own, []
    if key == "u_tube":
        context.reasons[
            "standard uncertainty of a U-tube: 0.8 mm of water for two read levels, 0.2 % for its water"
        ] = None
        return pressure, float(liquid_head(U_LEVEL, WATER_DENSITY)), [(U_TUBE, U_WATER * pressure)]
    context.reasons["standard uncertainty of a pressure: 0.5 % of each reading, 1 % of the scale (usual)"] = None
    return pressure, max(U_GAUGE * pressure, 1.0), [(GAUGE, U_GAUGE_SCALE * pressure)]


def _room(row: Row, context: _Context) -> tuple[AirState, float, bool]:
    """Air of the room, the relative standard uncertainty of its density, and whether the table has it."""
    site = context.spool.site
    known = "room_temperature" in row.values and "room_pressure" in row.values
    temperature = row.values.get("room_temperature", site.ambient_temperature)
    # a table's flows are those of standard air, at the standard atmosphere
    pressure = row.values.get("room_pressure", ATMOSPHERE if "flow" in row.values else site.ambient_pressure)
    u_t = 1.0 if "room_temperature" in row.values else site.u_ambient_temperature
    u_p = 200.0 if "room_pressure" in row.values else site.u_ambient_pressure
    u = hypot(u_t / temperature, u_p / pressure)
    if not (230.0 < temperature < 330.0 and 5e4 < pressure < 1.2e5):
        raise OutsideValidity(
            f"room air of {temperature - ZERO_CELSIUS:.0f} °C and {pressure / 1e3:.0f} kPa", remedy="check the units"
        )
    return AirState.free_air(temperature, pressure, site.ambient_humidity), u, known


def _assumed_room(row: Row, site: Site) -> str:
    """The note on the part of the room's air that the table does not have."""
    parts = []
    if "room_pressure" not in row.values:
        parts.append(f"{site.ambient_pressure / 1e3:.1f} kPa ± {site.u_ambient_pressure / 1e3:.1f} kPa")
    if "room_temperature" not in row.values:
        parts.append(f"{site.ambient_temperature - ZERO_CELSIUS:.0f} °C ± {site.u_ambient_temperature:.0f} K")
    words = f"the air of the room is taken as {' and '.join(parts)} (standard uncertainty): add the columns "
    words += "room pressure and room temperature"
    return words + ("; pressure falls with height, and the flows with it" if "room_pressure" not in row.values else "")


def _plate(row: Row, pressure: float, room: AirState, context: _Context, *, suction: bool) -> _PlateFlow:
    """Flow through the plate. Raises OutsideValidity where the formula does not hold."""
    hole = row.values["hole"]
    if hole == 0.0:
        return _PlateFlow()
    if pressure <= 0.0:
        raise OutsideValidity("no flow follows from a plate without pressure", remedy="leave an open outlet out")
    pipe = row.values.get("pipe", OPEN_PIPE * hole if suction else context.spool.pipe.bore)
    inside, u_warm, after = (
        (room, 0.0, room.pressure - pressure) if suction else (*_line(row, pressure, room, context), room.pressure)
    )
    if after <= 0:
        raise OutsideValidity(f"a suction of {pressure / 1e3:.3g} kPa is more than a vacuum", remedy="check the unit")
    made = sharp_plate_flow(pipe, hole, pressure, after, inside.density)
    if not made.inside:
        raise OutsideValidity(
            f"{pressure / 1e3:.3g} kPa is too much for the formula of a plate",
            remedy=f"it holds up to {after / 3e3:.0f} kPa; use a larger hole, or enter the flow",
        )
    mass = float(made.mass_flow)
    reynolds = 4.0 * mass / (pi * hole * inside.viscosity)
    thickness = row.values.get("thickness")
    factor, u_factor = small_plate_factor(hole, 0.0 if thickness is None else thickness, reynolds)
    if thickness is None and 0.3 * hole < UNKNOWN_SHEET:
        u_factor = hypot(u_factor, 0.06)
        context.reasons["a hole below 5 mm in a sheet of unknown thickness: 6 % more uncertainty"] = None
    context.reasons["flow from the plates by the formula of sharp-edged plates: 2 %, common to all plates"] = None
    if "u_hole" not in row.values:
        context.reasons["standard uncertainty of a hole: 0.06 mm (drilled, usual)"] = None
    size = 2.0 * row.values.get("u_hole", U_HOLE) / hole
    # the share of a plate's own size is independent; its discharge is common
    discharge = hypot(SHARP_PLATE_UNCERTAINTY, u_factor)
    # the flow goes with the root of the density
    return _PlateFlow(factor * mass / STANDARD_DENSITY, 0.5, discharge, u_warm / inside.temperature / 2, size)


def _line(row: Row, pressure: float, room: AirState, context: _Context) -> tuple[AirState, float]:
    """Air at the plate, and the standard uncertainty of its temperature where that is estimated, K."""
    site = context.spool.site
    temperature, u = row.values.get("line_temperature"), 0.0
    if temperature is None:
        warmed, u_warmed = assumed_line_temperature(site, room.temperature, 0.0, pressure, room.pressure)
        temperature, u = float(warmed), float(u_warmed)
        context.reasons["temperature of the air at the plate: estimated from its pressure"] = None
    return room.in_line(temperature, pressure), u


def _as_blower(point: SteadyPoint, room: AirState, context: _Context) -> SteadyPoint:
    """The point of a machine measured by its suction, as a blower: it then takes in air of the room's density."""
    share = 1.0 - point.pressure / room.pressure
    if share <= 0:
        raise OutsideValidity(
            f"a suction of {point.pressure / 1e3:.3g} kPa is more than a vacuum", remedy="check the unit"
        )
    density = point.ambient_density if isfinite(point.ambient_density) else room.density
    thin = Conditions(density * share, motor=context.motor)
    (moved,) = corrected([point], thin, Conditions(density, motor=context.motor))
    context.reasons[
        "suction is converted to the pressure of the same machine as a blower by the fan laws: "
        "its intake air is then denser"
    ] = None
    return replace(
        moved, ambient_density=point.ambient_density, u_ambient_density=point.u_ambient_density, notes=point.notes
    )


def _check_flows(context: _Context, where: str) -> None:
    """Compare a table's flows with those of its orifices. Raises InputError where the columns cannot be right."""
    if not (context.has("flow") and context.has("hole")):
        return
    suction = context.has("suction")
    ratios: dict[int, float] = {}
    for row in context.table.rows:
        key = next(one for one in ("pressure", "u_tube", "suction") if one in row.values)
        hole, flow = row.values["hole"], row.values["flow"]
        value = row.values[key]
        pressure = float(liquid_head(value, WATER_DENSITY)) if key in row.lengths else value
        if hole <= 0 or flow <= 0 or pressure <= 0:
            continue
        try:
            bare = Row(row.line, {one: row.values[one] for one in row.values if one != "flow"}, row.lengths)
            expected = _plate(bare, pressure, _room(row, context)[0], _quiet(context), suction=suction).flow
        except OutsideValidity:
            continue
        ratios[row.line] = flow / expected
    for words in compare_flows(ratios, where):
        context.reasons[words] = None


def _quiet(context: _Context) -> _Context:
    return _Context(context.table, context.spool, context.number, context.motor, {})


def _room_air(context: _Context, name: str) -> RoomAir:
    """The air of the table; for plates without it, the air that their flows were calculated with."""
    found = {
        target: fmean(values)
        for key, target in (
            ("room_temperature", "ambient_temperature"),
            ("room_pressure", "ambient_pressure"),
            ("line_temperature", "line_temperature"),
        )
        if (values := [row.values[key] for row in context.table.rows if key in row.values])
    }
    assumed = {} if context.has("flow") else {one: getattr(context.spool.site, one) for one in ASSUMED}
    assumed = {one: value for one, value in assumed.items() if one not in found}
    return RoomAir(**found, **assumed, origin=f"in {name}" if found else "", assumed=tuple(assumed))
