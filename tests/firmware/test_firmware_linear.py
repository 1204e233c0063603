"""Linear sensors and the converter's full scale in the firmware: stored, described, refused when they make no sense."""

import pytest
from firmware_probe import flag, named
from test_firmware_settings import WANTED

from frothline.sensors.description import RigDescription
from frothline.wire import ENUMS, gather

SENSOR, KIND = ENUMS["sensor_kind"], ENUMS["channel_kind"]
LINE = {
    "kind": KIND["pressure"],
    "low_pascal": -2500,
    "high_pascal": 30000,
    "low_millivolt": 500,
    "high_millivolt": 4500,
    "accuracy_per_myriad": 100,
}
LINEAR = {**WANTED, "pressure_sensor": SENSOR["linear_pressure"]}


def line_in(heard, kind="pressure"):
    rows = [row for row in named(heard, "linear_sensor") if int(row["kind"]) == KIND[kind]]
    return {name: int(rows[-1][name]) for name in LINE} if rows else None


def fitted(boards):
    board = boards()
    assert board.command("write_linear_sensor", seconds=0.6, **LINE)[0] == flag("ack_result", "ok")
    assert board.command("write_settings", seconds=0.6, **LINEAR)[0] == flag("ack_result", "ok")
    return board


def test_the_line_outlives_the_boot_and_follows_the_channels(boards):
    again = boards(storage=fitted(boards).storage())
    heard = again.command("describe", seconds=0.3)[1]
    assert line_in(heard) == LINE
    names = [one.name for one in heard if one.name in {"description", "channel", "adc", "linear_sensor"}]
    assert names[: names.index("linear_sensor") + 1][-3:] == ["channel", "adc", "linear_sensor"]
    description = RigDescription.from_tables(gather(heard))
    assert description.pressure_sensor("pressure").low == -2500.0


def test_a_line_is_described_only_while_its_sensor_is_fitted(boards):
    board = fitted(boards)
    board.command("write_settings", seconds=0.6, **WANTED)
    assert line_in(board.command("describe", seconds=0.3)[1]) is None
    board.command("write_settings", seconds=0.6, **LINEAR)
    assert line_in(board.command("describe", seconds=0.3)[1]) == LINE  # it was kept meanwhile


def test_both_inputs_keep_lines_of_their_own(boards):
    board = fitted(boards)
    other = {**LINE, "kind": KIND["differential"], "low_pascal": -125, "high_pascal": 125}
    board.command("write_linear_sensor", seconds=0.6, **other)
    board.command("write_settings", seconds=0.6, **{**LINEAR, "differential_sensor": SENSOR["linear_pressure"]})
    heard = board.command("describe", seconds=0.3)[1]
    assert line_in(heard) == LINE
    assert line_in(heard, "differential") == other


@pytest.mark.parametrize(
    ("field", "value"),
    [("kind", KIND["rotor"]), ("kind", 0), ("high_pascal", -2500), ("low_millivolt", 4500), ("high_millivolt", 5001),
     ("accuracy_per_myriad", 0), ("accuracy_per_myriad", 5001)],
)  # fmt: skip
def test_a_line_that_makes_no_sense_is_refused_and_changes_nothing(boards, field, value):
    board = boards()
    before = board.storage()
    result, _ = board.command("write_linear_sensor", seconds=0.6, **{**LINE, field: value})
    assert result == flag("ack_result", "bad_value")
    assert board.storage() == before


def test_lines_and_settings_wait_for_each_other(boards):
    """Both use the same memory while they are written."""
    board = boards()
    assert board.command("write_linear_sensor", seconds=0.01, **LINE)[0] is None
    assert board.command("write_settings", seconds=0.01, **LINEAR)[0] == flag("ack_result", "busy")
    board.run(0.6)
    assert board.command("write_settings", seconds=0.6, **LINEAR)[0] == flag("ack_result", "ok")
    assert line_in(board.command("describe", seconds=0.3)[1]) == LINE


def test_a_power_cut_at_any_write_of_a_line_leaves_the_old_or_the_new_and_the_settings(boards):
    whole = fitted(boards).storage()
    new = {**LINE, "high_pascal": 60000}
    highs = set()
    for fail in range(0, 30, 6):
        board = boards(storage=whole)
        board.set("fails", fail)
        board.command("write_linear_sensor", seconds=0.6, **new)
        heard = boards(storage=board.storage()).command("describe", seconds=0.3)[1]
        assert line_in(heard) in (LINE, new)
        highs.add(line_in(heard)["high_pascal"])
    assert 30000 in highs


def test_a_storage_that_does_not_keep_a_line_is_said(boards):
    board = boards()
    board.set("dead", 1)
    assert board.command("write_linear_sensor", seconds=0.6, **LINE)[0] == flag("ack_result", "storage_failed")


@pytest.mark.parametrize("levels", [1024, 4096, 16384])
def test_the_board_says_the_full_scale_of_its_converter(boards, levels):
    """A board of 12 or 14 bits is one folder: the core sums its codes, and the host divides by what the board says."""
    board = boards(levels=levels, adc0=levels // 2)
    board.command("start")
    heard = board.run(1.0) + board.command("describe", seconds=0.3)[1]
    assert {int(row["levels"]) for row in named(heard, "adc")} == {levels}
    row = named(heard, "line")[-1]
    description = RigDescription.from_tables(gather(heard))
    assert row["pressure_sum"] / row["pressure_n"] / description.adc.levels == pytest.approx(0.5)
