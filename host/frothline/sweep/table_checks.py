"""What a typed table of points contradicts: flows that do not go with their orifices, pressures that are absolute."""

from __future__ import annotations

from collections.abc import Mapping
from statistics import fmean, median

from frothline.errors import InputError
from frothline.sweep.point_table import PointTable, Row

AGREES = (0.8, 1.25)  # of a table's flow over that of its orifice
IMPOSSIBLE = (0.5, 2.0)  # beyond: the columns are not what their heads say
APART = 1.5  # of a line's ratio over the median: thick and rounded edges give 1.3 at most; judgement
MOST_APART = 1 / 3  # of the lines: more are not slips of single lines; judgement
OPEN_OUTLET = (0.97, 1.1)  # lowest absolute pressure of a blower over the room's
ATMOSPHERES = (80e3, 110e3)  # Pa, the same for a room that was not measured, up to 1900 m
SWAPPED = "Check for swapped columns, and the unit of each column"


def compare_flows(ratios: Mapping[int, float], where: str) -> list[str]:
    """Notes on the flows of a table over those of its orifices.

    ``ratios`` : by line. Raises InputError where the columns cannot be right: a larger hole at a higher pressure passes
    more air, so that the ratios of all lines agree within what the edges of plates differ.
    """
    if not ratios:
        return []
    middle = median(ratios.values())
    if not IMPOSSIBLE[0] <= middle <= IMPOSSIBLE[1]:
        raise InputError(
            f"the flow is {middle:.3g} times what the orifices pass at these pressures", where=where, remedy=SWAPPED
        )
    apart = {line: one for line, one in ratios.items() if not 1 / APART <= one / middle <= APART}
    listed = "; ".join(f"line {line}: {one:.2g} times" for line, one in list(apart.items())[:12])
    if len(apart) > MOST_APART * len(ratios):
        raise InputError(
            f"the flows do not go with the holes: a larger hole at a higher pressure passes more air, but of what the "
            f"orifices pass the table has {listed}",
            where=where,
            remedy=f"{SWAPPED}; leave the column of the holes out if the flow was not measured through them",
        )
    words = f"the flows are {middle:.2f} times those of the orifices by the formula of sharp-edged plates"
    if not AGREES[0] <= middle <= AGREES[1]:
        words += ": check the units and the orifices"
    return [words, f"the flow and the hole do not agree in {listed}: check these lines"] if apart else [words]


def refuse_absolute(table: PointTable, where: str) -> None:
    """Refuse pressures that are read from vacuum, not from the room.

    A blower's lowest absolute pressure is near that of the room, with its largest flow, and its highest is below twice
    that. Raises InputError. A column named “gauge pressure” is taken as it is.
    """
    if "pressure" not in table.keys or table.said_gauge or len(table.rows) < 2:
        return
    rows = sorted(table.rows, key=lambda row: row.values["pressure"])
    low, high = rows[0].values["pressure"], rows[-1].values["pressure"]
    opening = [_opening(row) for row in rows]
    rooms = [row.values["room_pressure"] for row in rows if "room_pressure" in row.values]
    least, most = (share * fmean(rooms) for share in OPEN_OUTLET) if rooms else ATMOSPHERES
    if least <= low <= most and high < 2 * low and opening[0] == max(opening) and opening[-1] <= opening[0] / 2:
        raise InputError(
            f"the pressures look absolute: the flow is largest at {low / 1e3:.4g} kPa, near the pressure of the room",
            where=where,
            remedy="Gauge pressures are needed: subtract the pressure of the room from each, or name the column "
            "“gauge pressure” if it is above the room's",
        )


def _opening(row: Row) -> float:
    """What grows with the opening of a line: its flow, or the area of its hole."""
    return row.values["flow"] if "flow" in row.values else row.values["hole"] ** 2
