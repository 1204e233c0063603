"""Settings survive a power cut at any moment: the old or the new, never a mixture."""

import random

import pytest
from firmware_probe import flag

from frothline.wire import ENUMS

SENSOR = ENUMS["sensor_kind"]
WANTED = {
    "label": "north yard",
    "rate": 250,
    "enabled": 0b11_1111_1110,
    "pressure_sensor": SENSOR["mpxv7025"],
    "differential_sensor": SENSOR["mpxv7002"],
    "anemometer": SENSOR["thermal_module"],
    "temperature_sensor": SENSOR["ntc_10k_3435"],
}


def record(probe, old, new, fail, torn, sequence=10):
    """Payload and sequence after a power cut at storage write ``fail``; writes of a whole record; payload after a third."""
    found, number, writes, third = probe.ask("record", len(old), sequence, old.hex(), new.hex(), fail, torn).split()
    return bytes.fromhex(found), int(number), int(writes), bytes.fromhex(third)


@pytest.mark.parametrize("size", [4, 25, 32])
@pytest.mark.parametrize("torn", [-1, 0x00, 0xFF, 0xA5])
def test_a_cut_at_every_single_write_leaves_the_old_or_the_new_record(probe, size, torn):
    """The byte being written then reads as before, as 0, as erased, or as anything; and the next write heals all."""
    source = random.Random(size)
    old, new = source.randbytes(size), source.randbytes(size)
    _, _, writes, _ = record(probe, old, new, -1, -1)
    assert size <= writes <= size + 6  # bytes that stand already are not written again: the storage wears
    olds = 0
    for fail in range(writes):
        found, sequence, _, third = record(probe, old, new, fail, torn)
        assert (found, sequence) in [(old, 10), (new, 11)], fail
        assert third == bytes([0x5A]) * size
        olds += found == old
    # a torn byte can by chance be what was to be written, and then the record may stand before its last write
    assert olds >= writes - 2
    assert record(probe, old, new, writes, torn)[0] == new


def test_the_newer_record_wins_also_where_the_sequence_wraps(probe):
    for sequence in (0, 1, 2, 0x7FFE, 0x7FFF, 0x8000, 0xFFFD, 0xFFFE, 0xFFFF):
        found, number, _, third = record(probe, b"old!", b"new!", -1, -1, sequence)
        assert (found, number) == (b"new!", (sequence + 1) % 65536)
        assert third == b"\x5a" * 4


def settings_in(heard):
    rows = [m.record for m in heard if m.name == "settings"]
    return {name: rows[-1][name] for name in rows[-1].dtype.names} if rows else None


def as_written(settings):
    return {k: (v.decode().rstrip("\0") if k == "label" else int(v)) for k, v in settings.items() if k in WANTED}


def test_a_new_board_has_the_default_settings(boards):
    result, heard = boards().command("read_settings")
    assert result == flag("ack_result", "ok")
    settings = settings_in(heard)
    assert int(settings["rate"]) == 100
    assert int(settings["generation"]) == 0
    assert int(settings["pressure_sensor"]) == SENSOR["mpx5050"]


def test_settings_outlive_the_boot(boards):
    board = boards()
    result, heard = board.command("write_settings", seconds=0.6, **WANTED)
    assert result == flag("ack_result", "ok")
    assert as_written(settings_in(heard)) == WANTED
    again = boards(storage=board.storage())
    _, heard = again.command("read_settings")
    assert as_written(settings_in(heard)) == WANTED
    assert int(settings_in(heard)["generation"]) == 1
    assert again.boots == 2


def test_a_board_whose_power_is_cut_at_any_write_of_its_settings_boots_with_the_old_or_the_new(boards):
    first = boards()
    first.command("write_settings", seconds=0.6, **{**WANTED, "label": "old", "rate": 50})
    whole = first.storage()
    counts = {"old": 0, "new": 0}
    for fail in range(0, 26, 5):
        board = boards(storage=whole)
        board.set("fails", fail)
        board.command("write_settings", seconds=0.6, **{**WANTED, "label": "new", "rate": 400})
        _, heard = boards(storage=board.storage()).command("read_settings")
        settings = as_written(settings_in(heard))
        assert settings in ({**WANTED, "label": "old", "rate": 50}, {**WANTED, "label": "new", "rate": 400})
        counts[settings["label"]] += 1
    assert counts["old"] >= 4


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("rate", 9),
        ("rate", 501),
        ("rate", 0),
        ("enabled", 1),
        ("enabled", 1 << 10),
        ("pressure_sensor", SENSOR["pulse_rotor"]),
        ("differential_sensor", 200),
        ("anemometer", SENSOR["bme280"]),
        ("temperature_sensor", SENSOR["mpx5050"]),
    ],
)
def test_settings_that_make_no_sense_are_refused_and_change_nothing(boards, field, value):
    board = boards()
    before = board.storage()
    result, _ = board.command("write_settings", seconds=0.6, **{**WANTED, field: value})
    assert result == flag("ack_result", "bad_value")
    assert board.storage() == before


def test_a_storage_that_does_not_keep_is_said_and_the_old_settings_stay(boards):
    board = boards()
    board.set("dead", 1)
    result, _ = board.command("write_settings", seconds=0.6, **WANTED)
    assert result == flag("ack_result", "storage_failed")
    _, heard = board.command("read_settings")
    assert int(settings_in(heard)["rate"]) == 100


def test_a_second_write_while_the_first_is_under_way_is_told_to_wait(boards):
    board = boards()
    result, _ = board.command("write_settings", seconds=0.01, **WANTED)
    assert result is None
    assert board.command("write_settings", seconds=0.01, **WANTED)[0] == flag("ack_result", "busy")
    heard = board.run(0.6)
    assert [int(m.record["command_sequence"]) for m in heard if m.name == "ack"] == [1]


def test_garbage_in_the_storage_gives_the_defaults(boards):
    source = random.Random(6)
    for _ in range(5):
        _, heard = boards(storage=source.randbytes(1024)).command("read_settings")
        assert int(settings_in(heard)["rate"]) == 100


def test_boots_are_counted_through_any_cut(boards):
    """A cut while the count is written leaves the old count: the next boot then takes the number the cut one had."""
    storage = boards().storage()
    board = boards(storage=storage)
    assert board.boots == 2
    for fail in range(10):
        cut = boards(storage=board.storage(), fails=fail)
        assert cut.boots == 3
        assert boards(storage=cut.storage()).boots in (3, 4)
