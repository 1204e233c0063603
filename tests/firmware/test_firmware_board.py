"""What the board does, seen from its serial line: the whole portable firmware on a board made of memory."""

import itertools

import pytest
from firmware_probe import SECOND, flag, named

from frothline.wire import ENUMS, LAYOUT_HASH, MESSAGES, encode

KIND = ENUMS["channel_kind"]
OK = flag("ack_result", "ok")
PRESENT, FRESH, BUS_ERROR, SATURATED = (
    flag("device_flag", name) for name in ("present", "fresh", "bus_error", "saturated")
)
# Burst of the worked example in Bosch BMP280 data sheet section 3.12: adc_P 415148, adc_T 519888
BURST = bytes.fromhex("655ac07eed006b10")
SETTINGS = {
    "label": "bare",
    "rate": 100,
    "enabled": 1 << KIND["pressure"],
    "pressure_sensor": flag("sensor_kind", "mpx5010"),
    "differential_sensor": flag("sensor_kind", "none"),
    "anemometer": flag("sensor_kind", "pulse_rotor"),
    "temperature_sensor": flag("sensor_kind", "none"),
}


def ambient(board, *, chip=0x60, burst=BURST):
    board.probe.ask("registers", 0xD0, f"{chip:02x}")
    board.probe.ask("registers", 0x88, bytes(range(1, 27)).hex())
    board.probe.ask("registers", 0xE1, bytes(range(101, 117)).hex())
    board.probe.ask("registers", 0xF7, burst.hex())
    board.set("ambient", 0x76)


def sequences(heard):
    return [m.sequence for m in heard]


def unbroken(numbers):
    return all((b - a) % 65536 == 1 for a, b in itertools.pairwise(numbers))


# --- description ---


def test_after_boot_the_board_says_who_it_is_and_is_otherwise_silent(boards):
    heard = boards().run(4.5)
    assert {m.name for m in heard} == {"identity", "description", "channel", "adc"}
    (description,) = named(heard, "description")
    assert int(description["layout_hash"]) == LAYOUT_HASH
    assert int(description["tick_hz"]) == SECOND
    assert int(description["streaming"]) == 0
    assert int(description["rate"]) == 100
    assert int(description["boot_count"]) == 1
    assert int(description["reset_cause"]) == flag("reset_cause", "power_on")
    assert int(description["channels"]) == len(named(heard, "channel"))
    for channel in named(heard, "channel"):
        assert int(description["enabled"]) >> int(channel["kind"]) & 1


def test_the_first_description_comes_within_a_fifth_of_a_second(boards):
    assert named(boards().run(0.2), "description")


def test_the_description_is_repeated_every_five_seconds_idle_or_not(boards):
    board = boards()
    idle = named(board.run(16), "description")
    assert len(idle) == 4
    steps = [int(b["tick"]) - int(a["tick"]) for a, b in itertools.pairwise(idle)]
    # due at fixed intervals, sent when its turn comes round: within 10 ms
    assert all(abs(step - 5 * SECOND) < 0.01 * SECOND for step in steps)
    board.command("start")
    assert len(named(board.run(15), "description")) == 3


def test_each_command_that_changes_the_description_brings_it_anew(boards):
    board = boards()
    board.run(0.3)
    for name, fields, field, value in [
        ("set_rate", {"rate": 200}, "rate", 200),
        ("start", {}, "streaming", 1),
        ("stop", {}, "streaming", 0),
        ("describe", {}, "rate", 200),
    ]:
        result, heard = board.command(name, seconds=0.2, **fields)
        assert result == OK
        assert int(named(heard, "description")[-1][field]) == value


# --- streaming ---


@pytest.mark.parametrize("rate", [10, 100, 500])
def test_lines_come_at_the_set_rate_without_a_gap_and_their_ticks_never_go_back(boards, rate):
    board = boards(adc0=500, adc3=300, adc4=225)
    board.command("set_rate", seconds=0.3, rate=rate)
    _, heard = board.command("start")
    heard += board.run(5)
    lines = named(heard, "line")
    assert abs(len(lines) - 5.05 * rate) <= 2
    ticks = [int(line["tick"]) for line in lines]
    assert all(b - a == SECOND // rate for a, b in itertools.pairwise(ticks))
    assert all(int(line["pressure_sum"]) == 500 * int(line["pressure_n"]) for line in lines)
    assert unbroken(sequences(heard))
    slow = named(heard, "slow")
    assert len(slow) == 25
    assert all(int(s["temperature_sum"]) == 300 * int(s["temperature_n"]) for s in slow)
    assert all(int(s["bandgap_sum"]) == 225 * int(s["bandgap_n"]) for s in slow)


def test_stop_ends_the_stream_and_start_begins_it_with_a_first_line(boards):
    board = boards()
    board.command("start")
    board.run(1)
    _, _ = board.command("stop", seconds=0.3)
    assert not [m for m in board.run(3) if m.name not in {"description", "channel"}]
    _, heard = board.command("start", seconds=0.3)
    flags = [int(line["flags"]) & flag("line_flag", "first") for line in named(heard, "line")]
    assert flags[0]
    assert not any(flags[1:])


def test_a_change_of_the_rate_loses_no_reading(boards):
    """Whatever the moment: each window is as long as one of the two rates says, and there is none between them."""
    board = boards(adc0=500)
    _, heard = board.command("start", seconds=0.5)
    rates = [100, 500, 10, 500, 100, 333, 100]
    for rate in rates[1:]:
        heard += board.command("set_rate", seconds=0.4037, rate=rate)[1]
    ticks = [int(line["tick"]) for line in named(heard, "line")]
    steps = [b - a for a, b in itertools.pairwise(ticks)]
    lengths = [step for step, _ in itertools.groupby(round(SECOND / step) for step in steps)]
    assert lengths == rates
    assert len(named(heard, "slow")) >= len(rates) * 0.4 * 5 - 1
    assert sum(bool(int(line["flags"]) & flag("line_flag", "first")) for line in named(heard, "line")) == 1


def test_start_twice_does_not_disturb_the_stream(boards):
    board = boards()
    _, heard = board.command("start", seconds=1)
    result, more = board.command("start", seconds=1)
    assert result == OK
    ticks = [int(line["tick"]) for line in named(heard + more, "line")]
    assert all(b - a == SECOND // 100 for a, b in itertools.pairwise(ticks))


def test_the_tick_wraps_within_a_stream(boards):
    board = boards(tick=2**32 - SECOND)
    _, heard = board.command("start", seconds=3)
    ticks = [int(line["tick"]) for line in named(heard, "line")]
    assert ticks[0] > 2**31 > ticks[-1]
    assert all((b - a) % 2**32 == SECOND // 100 for a, b in itertools.pairwise(ticks))
    assert len(named(heard, "health")) in {2, 3}  # the third is due at the very end


# --- rotor ---


def test_pulses_and_the_tick_of_the_last_edge_give_the_exact_frequency(boards):
    """Edges every 12345 ticks: 162.01 Hz. Between any two lines, count over time is that to the last digit."""
    board = boards()
    board.set("rotor", 12_345)
    _, heard = board.command("start", seconds=5)
    lines = [line for line in named(heard, "line") if int(line["pulses"])]
    for a, b in zip(lines, lines[7:], strict=False):
        assert int(b["edge_tick"]) - int(a["edge_tick"]) == 12_345 * (int(b["pulses"]) - int(a["pulses"]))
    for line in lines:
        age = (int(line["tick"]) - int(line["edge_tick"])) % 2**32
        assert age < 12_345
        assert int(line["flags"]) & flag("line_flag", "rotor_seen")
        assert not int(line["flags"]) & flag("line_flag", "rotor_stopped")


def test_a_rotor_that_stops_is_said_to_be_stopped_after_one_second(boards):
    board = boards()
    board.set("rotor", 20_000)
    board.command("start", seconds=1)
    board.set("rotor", 0)
    lines = named(board.run(3), "line")
    stopped = [bool(int(line["flags"]) & flag("line_flag", "rotor_stopped")) for line in lines]
    ages = [(int(line["tick"]) - int(line["edge_tick"])) / SECOND for line in lines]
    assert stopped == [age > 1.0 for age in ages]
    assert stopped[-1]


# --- losses ---


def test_a_slow_line_drops_whole_frames_and_counts_them_and_sampling_goes_on(boards):
    """A tenth of the line's rate: 5 kB/s for 500 Hz of 40-byte lines. What is missing is what is counted."""
    board = boards()
    board.command("set_rate", seconds=0.3, rate=500)
    board.set("line", 5000)
    _, heard = board.command("start", seconds=5)
    board.set("line", 50_000)
    heard += board.run(1.2)
    numbers = sequences(heard)
    missing = (numbers[-1] - numbers[0]) % 65536 + 1 - len(numbers)
    dropped = int(named(heard, "health")[-1]["frames_dropped"])
    assert missing > 1500
    assert dropped == missing
    ticks = [int(line["tick"]) for line in named(heard, "line")]
    assert all((b - a) % (SECOND // 500) == 0 for a, b in itertools.pairwise(ticks))


def test_commands_are_answered_on_a_choked_line(boards):
    board = boards()
    board.command("set_rate", seconds=0.3, rate=500)
    board.set("line", 8000)
    board.command("start", seconds=2)
    result, heard = board.command("describe", seconds=2)
    assert result == OK
    assert named(heard, "description")
    assert named(heard, "line")
    assert board.command("stop", seconds=1)[0] == OK


def test_lost_conversions_are_flagged_in_their_window_and_counted(boards):
    board = boards()
    board.command("start", seconds=1)
    board.set("deaf", 5)
    heard = board.run(2)
    flagged = [line for line in named(heard, "line") if int(line["flags"]) & flag("line_flag", "adc_overrun")]
    assert len(flagged) == 1
    assert int(named(heard, "health")[-1]["adc_overruns"]) == 1


def test_health_tells_the_high_water_of_the_ring_and_damaged_commands(boards):
    board = boards()
    board.command("start")
    board.receive(b"\x05nonsense\x00")
    health = named(board.run(3), "health")
    assert int(health[-1]["receive_errors"]) == 1
    assert 40 <= int(health[-1]["ring_high_water"]) <= 255
    assert int(health[-1]["frames_dropped"]) == 0


def test_the_watchdog_is_fed_while_conversions_go_on(boards):
    board = boards()
    before = int(board.probe.ask("fed"))
    board.run(1)
    assert int(board.probe.ask("fed")) > before + 50


# --- commands ---


def test_every_command_of_the_table_is_known(boards):
    board = boards()
    for name, message in MESSAGES.items():
        if message.origin == "command":
            line = {"kind": 1, "low_pascal": 0, "high_pascal": 30000, "low_millivolt": 500, "high_millivolt": 4500}
            line["accuracy_per_myriad"] = 100
            given = {"set_rate": {"rate": 100}, "write_settings": SETTINGS, "write_linear_sensor": line}
            fields = given.get(name, {})
            assert board.command(name, seconds=0.7, **fields)[0] == OK, name


def raw_frame(payload):
    import zlib

    from cobs import cobs

    return cobs.encode(payload + zlib.crc32(payload).to_bytes(4, "little")) + b"\0"


def answer(board, payload):
    board.receive(raw_frame(payload))
    acks = named(board.run(0.1), "ack")
    return [(int(a["command"]), int(a["command_sequence"]), int(a["result"])) for a in acks]


def test_an_unknown_command_is_refused_by_name(boards):
    assert answer(boards(), b"\x5f\x07\x00") == [(0x5F, 7, flag("ack_result", "unknown_command"))]


def test_a_command_that_is_too_short_is_refused(boards):
    assert answer(boards(), b"\x43\x08\x00\x64") == [(0x43, 8, flag("ack_result", "bad_length"))]


def test_a_command_with_fields_of_a_newer_host_is_obeyed(boards):
    assert answer(boards(), b"\x43\x09\x00\xc8\x00new!") == [(0x43, 9, OK)]


def test_what_is_no_command_gets_no_answer_lest_an_echo_go_round_for_ever(boards):
    board = boards()
    own = [m.raw for m in board.run(0.5)]
    for raw in own[:3]:
        board.receive(raw)
        assert not named(board.run(0.1), "ack")


@pytest.mark.parametrize("rate", [0, 9, 501, 65535])
def test_rates_out_of_range_are_refused(boards, rate):
    board = boards()
    assert board.command("set_rate", rate=rate)[0] == flag("ack_result", "bad_value")
    assert int(named(board.command("describe", seconds=0.2)[1], "description")[-1]["rate"]) == 100


def test_several_commands_in_one_piece_are_answered_in_order(boards):
    board = boards()
    board.receive(b"".join(encode(name, k) for k, name in enumerate(["describe", "start", "read_settings", "stop"])))
    acks = named(board.run(0.2), "ack")
    assert [int(a["command_sequence"]) for a in acks] == [0, 1, 2, 3]


# --- ambient module ---


def test_the_ambient_module_is_found_described_and_sent_raw(boards):
    board = boards()
    ambient(board)
    heard = board.run(0.3)
    (trimming,) = named(heard, "trimming")
    assert int(trimming["address"]) == 0x76
    assert int(trimming["chip_id"]) == 0x60
    assert bytes(trimming["low"]) == bytes(range(1, 27))
    assert bytes(trimming["high"]) == bytes(range(101, 117))
    assert int(named(heard, "description")[-1]["present"]) >> KIND["ambient"] & 1
    _, heard = board.command("start", seconds=4.1)
    readings = named(heard, "ambient")
    assert len(readings) == 4
    assert all(bytes(r["burst"]) == BURST and int(r["flags"]) == PRESENT | FRESH for r in readings)


def test_a_module_without_humidity_is_named_and_its_humidity_is_the_reset_value(boards):
    board = boards()
    ambient(board, chip=0x58)
    _, heard = board.command("start", seconds=2.5)
    channel = next(c for c in named(heard, "channel") if int(c["kind"]) == KIND["ambient"])
    assert int(channel["sensor"]) == flag("sensor_kind", "bmp280")
    assert bytes(named(heard, "ambient")[-1]["burst"]) == BURST[:6] + b"\x80\x00"


def test_a_reading_that_was_never_measured_is_not_fresh(boards):
    """Reset values of the data registers, BME280 data sheet table 18: 0x800000 for pressure and temperature."""
    board = boards()
    ambient(board, burst=bytes.fromhex("8000008000008000"))
    _, heard = board.command("start", seconds=2.5)
    assert int(named(heard, "ambient")[-1]["flags"]) == PRESENT


def test_unplugging_and_plugging_the_ambient_module_disturbs_nothing_else(boards):
    board = boards()
    ambient(board)
    _, heard = board.command("start", seconds=2)
    board.set("ambient", 0)
    gone = board.run(3)
    ambient(board)
    back = board.run(3)
    flags = [int(a["flags"]) for a in named(gone, "ambient")]
    assert BUS_ERROR in flags  # the reading during which it went
    assert flags[-1] == 0
    assert not int(named(gone, "description")[-1]["present"]) >> KIND["ambient"] & 1
    assert int(named(back, "ambient")[-1]["flags"]) == PRESENT | FRESH
    assert named(back, "trimming")
    ticks = [int(line["tick"]) for line in named(heard + gone + back, "line")]
    assert all(b - a == SECOND // 100 for a, b in itertools.pairwise(ticks))
    assert int(named(back, "health")[-1]["bus_errors"]) == 1


def test_a_bus_that_hangs_is_counted_and_stalls_nothing(boards):
    board = boards()
    ambient(board)
    board.command("start", seconds=2)
    board.set("hang", 1)
    heard = board.run(5)
    board.set("hang", 0)
    back = board.run(2.5)
    ticks = [int(line["tick"]) for line in named(heard + back, "line")]
    assert all(b - a == SECOND // 100 for a, b in itertools.pairwise(ticks))
    assert int(named(heard, "health")[-1]["bus_recoveries"]) >= 4
    assert int(named(back, "ambient")[-1]["flags"]) == PRESENT | FRESH


def test_the_module_is_found_at_its_second_address(boards):
    board = boards()
    ambient(board)
    board.set("ambient", 0x77)
    assert int(named(board.run(0.5), "trimming")[0]["address"]) == 0x77


# --- scale ---


@pytest.mark.parametrize("counts", [0, 1, -1, 123_456, -123_456, 8_388_606, -8_388_607])
def test_the_scale_is_sent_as_fast_as_it_converts(boards, counts):
    board = boards()
    board.command("start", seconds=0.1)
    board.set("counts", counts)
    scale = named(board.run(3), "scale")
    assert 28 <= len(scale) <= 31
    assert all(int(s["counts"]) == counts and int(s["flags"]) == PRESENT | FRESH for s in scale)


@pytest.mark.parametrize("counts", [8_388_607, -8_388_608])
def test_a_saturated_scale_is_said(boards, counts):
    """0x7FFFFF and 0x800000: HX711 data sheet, "Output coding"."""
    board = boards()
    board.command("start", seconds=0.1)
    board.set("counts", counts)
    assert int(named(board.run(1), "scale")[-1]["flags"]) == PRESENT | FRESH | SATURATED


TURN = 2**32 / SECOND  # s after which the clock begins again
SILENCES = [0.5, 1073.0, TURN - 0.05, TURN, 3000.0] + [
    pytest.param(seconds, marks=pytest.mark.exhaustive)
    for seconds in (30.0, 600.0, 1080.0, 1500.0, TURN - 1.0, TURN + 0.05, 4300.0)
]


def time_passes(board, seconds):
    """Move the clock on without a turn of the loop, as for a module that was switched off."""
    now = int(board.probe.ask("run", 208))
    board.set("tick", (now + round(seconds * SECOND)) % 2**32)


@pytest.mark.parametrize("silence", SILENCES)
@pytest.mark.parametrize("measured", [True, False], ids=["sent before", "never there"])
def test_a_scale_is_found_within_five_seconds_however_long_it_was_silent(boards, silence, measured):
    board = boards(counts=1000) if measured else boards(scale=0)
    board.command("start")
    board.run(1.5)
    board.set("scale", 0)
    time_passes(board, silence)
    board.set("counts", 2000)
    assert int(named(board.run(5.0), "scale")[-1]["counts"]) == 2000


@pytest.mark.parametrize("silence", SILENCES)
@pytest.mark.parametrize("measured", [True, False], ids=["sent before", "never there"])
def test_the_ambient_module_is_read_within_five_seconds_however_long_nobody_asked(boards, silence, measured):
    board = boards()
    if measured:
        ambient(board)
    board.command("start")
    board.run(2.5)
    time_passes(board, silence)
    ambient(board)
    heard = named(board.run(5.0), "ambient")
    assert int(heard[-1]["flags"]) == PRESENT | FRESH
    assert len(heard) <= 7  # one a second, no burst of what was not asked meanwhile


@pytest.mark.exhaustive
def test_a_scale_is_found_after_twenty_minutes_without_one(boards):
    board = boards(counts=1000)
    board.command("start")
    board.run(1.0)
    board.set("scale", 0)
    for _ in range(120):
        board.run(10.0)
    board.set("counts", 2000)
    assert int(named(board.run(5.0), "scale")[-1]["counts"]) == 2000


@pytest.mark.parametrize("scale", [0, 1], ids=["no module", "data line held low"])
def test_a_scale_that_is_not_there_is_said_once_a_second(boards, scale):
    board = boards()
    board.set("scale", scale)
    _, heard = board.command("start", seconds=5)
    words = named(heard, "scale")
    assert 3 <= len(words) <= 5
    assert all(int(s["flags"]) == 0 for s in words)
    assert not int(named(heard, "description")[-1]["present"]) >> KIND["scale"] & 1


def test_twenty_four_bit_numbers_keep_their_sign(probe):
    for raw, value in [(0x7FFFFF, 8388607), (0x800000, -8388608), (0xFFFFFF, -1), (0, 0), (1, 1)]:
        assert int(probe.ask("sign", hex(raw))) == value


# --- button, channels ---


def test_the_button_puts_a_mark_into_the_stream_with_its_tick(boards):
    board = boards()
    board.command("start", seconds=0.5)
    tick = int(board.probe.ask("run", 1))
    board.set("button", 1)
    heard = board.run(0.2)
    board.set("button", 0)
    heard += board.run(0.2)
    (mark,) = named(heard, "mark")
    assert int(mark["number"]) == 1
    assert int(mark["source"]) == flag("mark_source", "button")
    assert 0 <= int(mark["tick"]) - tick < 0.01 * SECOND  # it is asked every 7 ms
    assert any(int(line["flags"]) & flag("line_flag", "button_down") for line in named(heard, "line"))


def test_channels_that_are_not_enabled_are_not_sent(boards):
    board = boards(adc0=100, adc1=200, adc2=300)
    board.command("write_settings", seconds=0.8, **{**SETTINGS, "enabled": 1 << KIND["thermal"], "anemometer": 17})
    board.set("rotor", 5000)
    _, heard = board.command("start", seconds=3)
    assert {m.name for m in heard} == {"ack", "identity", "description", "channel", "adc", "line", "slow", "health"}
    line = named(heard, "line")[-1]
    assert [int(line[n]) for n in ("pressure_n", "differential_n", "pulses", "edge_tick")] == [0, 0, 0, 0]
    assert int(line["thermal_sum"]) == 300 * int(line["thermal_n"]) > 0
    assert {int(c["kind"]) for c in named(heard, "channel")} == {KIND["thermal"]}


def test_the_fitted_anemometer_is_measured_whether_or_not_its_channel_was_enabled(boards):
    board = boards()
    wanted = {**SETTINGS, "enabled": 1 << KIND["pressure"], "anemometer": flag("sensor_kind", "thermal_module")}
    _, heard = board.command("write_settings", seconds=0.8, **wanted)
    assert int(named(heard, "description")[-1]["enabled"]) == 1 << KIND["pressure"] | 1 << KIND["thermal"]
