"""A board draws a number at its first boot, keeps it, and says it before each description."""

import random

from firmware_probe import named

LABEL = {"label": "north yard", "rate": 250, "enabled": 0b110, "pressure_sensor": 1, "differential_sensor": 0}
LABEL |= {"anemometer": 16, "temperature_sensor": 32}


def identity(board):
    """The number, of which every description is preceded by the same one, and the label."""
    heard = board.command("describe", seconds=0.3)[1]
    names = [message.name for message in heard]
    for k, name in enumerate(names):
        if name == "description":
            assert names[k - 1] == "identity"
    (number,) = {int(row["number"]) for row in named(heard, "identity")}
    (label,) = {row["label"] for row in named(heard, "description")}
    return number, label.decode()


def test_a_new_board_draws_a_number_and_keeps_it_over_boots(boards):
    board = boards(leftover=1)
    number, label = identity(board)
    assert number != 0
    assert label == f"frothline {number & 0xFFFF:04x}"
    again = boards(leftover=2, storage=board.storage())  # whatever is drawn from later does not count
    assert identity(again) == (number, label)
    assert again.boots == 2


def test_new_boards_differ_by_what_the_memory_held_and_without_one_by_their_converter_s_noise(boards):
    source = random.Random(3)
    by_memory = {identity(boards(leftover=leftover))[0] for leftover in range(1, 9)}
    assert len(by_memory) == 8
    by_noise = {
        identity(boards(leftover=0, adc0=source.randrange(1024), adc3=source.randrange(1024)))[0] for _ in range(8)
    }
    assert len(by_noise) == 8


def test_a_changed_label_leaves_the_number(boards):
    board = boards(leftover=1)
    number, _ = identity(board)
    board.command("write_settings", seconds=0.6, **LABEL)
    assert identity(board) == (number, "north yard")
    assert identity(boards(storage=board.storage())) == (number, "north yard")


def test_a_storage_that_does_not_keep_gives_no_number_rather_than_a_new_one_each_time(boards):
    assert identity(boards(leftover=1, dead=1)) == (0, "frothline 0000")


def test_a_power_cut_at_any_write_of_the_number_leaves_a_board_that_keeps_one(boards):
    for fail in range(12):
        first = boards(leftover=1, fails=fail)
        storage = first.storage()
        second = boards(leftover=7, storage=storage)
        number, _ = identity(second)
        assert number != 0
        assert identity(boards(leftover=9, storage=second.storage()))[0] == number
