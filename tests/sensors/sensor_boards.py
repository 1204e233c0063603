"""A board's tables as the decoders hand them out, built from what the pins see."""

import struct
from itertools import pairwise

import numpy as np

from frothline.wire import ENUMS, MESSAGES, Tables

TICK = 2_000_000
KIND, SENSOR = ENUMS["channel_kind"], ENUMS["sensor_kind"]
FITTED = {
    "pressure": "mpx5050",
    "rotor": "pulse_rotor",
    "temperature": "ntc_10k_3950",
    "supply": "bandgap_1v1",
    "ambient": "bme280",
    "scale": "hx711_a128",
}
# Trimming of the worked example of the BMP280 data sheet, section 3.12, and a humidity set of a usual chip.
LOW = struct.pack("<HhhHhhhhhhhh", 27504, 26435, -1000, 36477, -10685, 3024, 2855, 140, -7, 15500, -14600, 6000)
LOW += bytes([0, 75])
H2, H3, H4, H5, H6 = 362, 0, 333, 0, 30
HIGH = struct.pack("<hB", H2, H3) + bytes([H4 >> 4, (H4 & 15) | (H5 & 15) << 4, H5 >> 4, H6]) + bytes(9)
EXAMPLE_BURST = bytes.fromhex("655AC07EED00") + (25000).to_bytes(2, "big")


def table(name, n):
    return np.zeros(n, MESSAGES[name].dtype)


def description(fitted=None, label=b"bench 1", boot=1, absent=(), tick=0):
    fitted = FITTED if fitted is None else fitted
    row = table("description", 1)
    row["protocol"], row["tick_hz"], row["rate"], row["label"] = 1, TICK, 100, label
    row["rotor_timeout_ticks"], row["boot_count"], row["tick"] = TICK, boot, tick
    row["enabled"] = sum(1 << KIND[kind] for kind in fitted)
    row["present"] = sum(1 << KIND[kind] for kind in fitted if kind not in absent)
    channels = table("channel", len(fitted))
    for entry, (kind, sensor) in zip(channels, fitted.items(), strict=True):
        entry["kind"], entry["sensor"], entry["name"] = KIND[kind], SENSOR[sensor], kind.encode()
    trimming = table("trimming", 1)
    trimming["low"][0], trimming["high"][0] = np.frombuffer(LOW, "u1"), np.frombuffer(HIGH, "u1")
    trimming["chip_id"] = 0x60
    return {"description": row, "channel": channels, "trimming": trimming}


def stream(
    seconds=5.0,
    pressure=10_000.0,
    frequency=300.0,
    temperature_share=0.4,
    supply=5.0,
    start_tick=0,
    fitted=None,
    differential=0.0,
    thermal=2.0,
    rate=100,
    conversions=32,
):
    """Tables of a rig whose true line pressure (Pa, MPX5050) and rotor frequency (Hz) may be functions of time."""
    n = int(seconds * rate)
    t = (np.arange(n) + 1) / rate
    of = lambda x: np.asarray(x(t) if callable(x) else np.full(n, float(x)))  # noqa: E731
    line = table("line", n)
    line["tick"] = (start_tick + np.rint(t * TICK).astype(np.int64)) % 2**32

    def put(field, share):
        line[f"{field}_n"] = conversions
        line[f"{field}_sum"] = np.clip(np.rint(share * 1024 * conversions), 0, 1023 * conversions)

    put("pressure", of(pressure) * 0.018e-3 + 0.04)
    put("differential", of(differential) * 0.2e-3 + 0.5)
    put("thermal", of(thermal) / supply)
    # Edges of a rotor with this frequency, exact to the tick.
    fine = np.linspace(0, seconds, int(seconds * 2e4) + 1)
    f = np.broadcast_to(np.asarray(frequency(fine) if callable(frequency) else float(frequency)), fine.shape)
    turned = np.concatenate([[0], np.cumsum((f[1:] + f[:-1]) / 2 * np.diff(fine))])
    edges = np.arange(1, int(turned[-1]) + 1)
    edge_times = np.interp(edges, turned, fine) if edges.size else np.empty(0)
    count = np.searchsorted(edge_times, t, side="right")
    last = np.where(count > 0, edge_times[np.maximum(count - 1, 0)] if edges.size else 0.0, 0.0)
    line["pulses"] = count
    line["edge_tick"] = (start_tick + np.rint(last * TICK).astype(np.int64)) % 2**32
    seen, stopped = ENUMS["line_flag"]["rotor_seen"], ENUMS["line_flag"]["rotor_stopped"]
    line["flags"] = np.where(count > 0, seen, 0) | np.where((count == 0) | (t - last > 1.0), stopped, 0)

    slow = table("slow", int(seconds * 5))
    when = np.arange(len(slow)) / 5
    slow["tick"] = (start_tick + np.rint(when * TICK).astype(np.int64)) % 2**32
    slow["temperature_n"] = slow["bandgap_n"] = conversions
    slow["temperature_sum"] = round(temperature_share * 1024 * conversions)
    slow["bandgap_sum"] = round(1.1 / supply * 1024 * conversions)
    ambient = table("ambient", max(1, int(seconds)))
    ambient["tick"] = (start_tick + np.arange(len(ambient)) * TICK) % 2**32
    ambient["burst"] = np.frombuffer(EXAMPLE_BURST, "u1")
    ambient["flags"] = 3
    return {**description(fitted), "line": line, "slow": slow, "ambient": ambient}


def cut(tables, ticks, start_tick=0):
    """The same stream in pieces, cut at these ticks since the start."""
    bounds = [-1, *sorted(ticks), 2**40]
    pieces = []
    for low, high in pairwise(bounds):
        piece = {}
        for name, rows in tables.items():
            if name in {"line", "slow", "ambient", "scale"}:
                since = (rows["tick"].astype(np.int64) - start_tick) % 2**32
                piece[name] = rows[(since > low) & (since <= high)]
        pieces.append(piece)
    pieces[0] |= {name: tables[name] for name in ("description", "channel", "trimming")}
    return pieces


def as_sent(*boots):
    """The tables of one boot after the other in one batch, in the order in which a board sends their frames: what the
    decoders hand out. Ticks of a boot may wrap.
    """
    rows, offsets, before = {}, {}, 0
    for tables in boots:
        start = int(tables["line"]["tick"][0]) - TICK
        places = []
        for name, column in tables.items():
            timed = name in {"line", "slow", "ambient", "scale"}
            since = (column["tick"].astype(np.int64) - start) % 2**32 if timed else np.zeros(len(column), np.int64)
            turns = np.cumsum(np.diff(since, prepend=since[:1]) < 0) * 2**32
            places.append((name, column, before + since + turns))
        for name, column, place in places:
            rows.setdefault(name, []).append(column)
            offsets.setdefault(name, []).append(place)
        before += 2 + max(int(place.max()) for _, _, place in places if len(place))
    return Tables(
        {name: np.concatenate(parts) for name, parts in rows.items()},
        {name: np.concatenate(parts) for name, parts in offsets.items()},
    )


def joined(batches):
    """Series of many batches put end to end, as (time, value, u, status) by name."""
    names = {name for batch in batches for name in batch}
    return {
        name: [
            np.concatenate([getattr(batch[name], column) for batch in batches if name in batch])
            for column in ("time", "value", "u", "status")
        ]
        for name in names
    }
