"""The modelled rig as a port: commands, messages, pace, and what a real port does when things go wrong."""

import time

import numpy as np
import pytest
import serial
from benches import HANDLERS, Talk, pace
from waiting import until

from frothline.errors import InputError
from frothline.simulation import get_simulation, stream
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.wire import ENUMS, StreamDecoder, decode_all, encode
from frothline.wire.encoder import frame

OK, BAD_VALUE = ENUMS["ack_result"]["ok"], ENUMS["ack_result"]["bad_value"]
SETTINGS = {
    "label": "shed",
    "rate": 50,
    "enabled": 1002,
    "pressure_sensor": 1,
    "differential_sensor": 0,
    "anemometer": 16,
    "temperature_sensor": 32,
}


def rig(options=""):
    return ModelledRig(read_url(f"modelled://steady?seed=1{options}"))


def heard(rig, seconds):
    return StreamDecoder().feed(rig.run(seconds))


def named(messages, name):
    return [m.record for m in messages if m.name == name]


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others():
    first, _ = stream("modelled://run?seed=7", 8.0)
    assert stream("modelled://run?seed=7", 8.0)[0] == first
    assert stream("modelled://run?seed=8", 8.0)[0] != first


def label_of(url):
    """As the board describes itself."""
    (name,) = {bytes(row["label"]) for row in decode_all(stream(url, 0.5)[0]).tables["description"]}
    return name.decode()


def test_a_label_names_the_specimen_and_nothing_else():
    """Sensors drawn alike bear one label, whatever the line; sensors drawn otherwise bear another."""

    def specimen(url):
        its = ModelledRig(read_url(url)).world.instruments
        return its.pressure_zero, its.pressure_span, its.k_factor, its.ntc_beta, its.thermal_gain, its.cell_span

    urls = [
        f"modelled://{scenario}?seed={seed}{more}"
        for scenario in ("sweep", "run", "steady")
        for seed in (1, 2, 1_000_000, 2**63 - 1)
        for more in ("", "&source=hump", "&anemometer=thermal_module&element=orifice", "&errors=0", "&errors=0.5")
    ]
    by_label = {}
    for url in urls:
        if "errors=0" in url and "errors=0.5" not in url:
            continue  # perfect sensors are alike whatever their number
        by_label.setdefault(read_url(url).label, set()).add(specimen(url))
    assert all(len(specimens) == 1 for specimens in by_label.values())
    assert len(set.union(*by_label.values())) == len(by_label) == 8
    assert all(1 <= len(read_url(url).label.encode()) <= 16 for url in urls)


def test_the_board_says_its_label_from_the_first_description_on():
    assert label_of("modelled://steady?seed=7") == "simulated 7"
    assert label_of("modelled://run?seed=7&rate=20") == "simulated 7"
    assert label_of("modelled://steady?seed=8") != "simulated 7"


def test_how_a_rig_is_stepped_does_not_change_what_it_sends():
    whole, parts = rig("&streaming=1"), rig("&streaming=1")
    assert whole.run(3.0) == b"".join(parts.run(0.1) for _ in range(30))


def test_it_introduces_itself_at_boot_and_every_five_seconds():
    messages = heard(rig(), 10.5)
    descriptions = named(messages, "description")
    assert len(descriptions) == 3
    assert {bytes(c["name"]).decode() for c in named(messages, "channel")} == {
        "pressure",
        "rotor",
        "temperature",
        "supply",
        "ambient",
        "scale",
        "button",
    }
    assert int(descriptions[0]["channels"]) == 7
    assert len(named(messages, "trimming")) == 3
    assert named(messages, "line") == []


@pytest.mark.parametrize("rate", [10, 97, 100, 333, 500])
def test_lines_come_at_the_set_rate_and_end_at_exact_ticks(rate):
    data, _ = stream(f"modelled://steady?seed=1&rate={rate}", 4.0)
    tables = decode_all(data).tables
    line = tables["line"]
    assert len(line) == pytest.approx(4 * rate, abs=1)
    ticks = line["tick"].astype(np.int64)
    assert np.all(np.abs(np.diff(ticks) - 2_000_000 / rate) <= 1)
    assert ticks[-1] - ticks[0] == pytest.approx(2_000_000 / rate * (len(ticks) - 1), abs=1)
    assert len(tables["slow"]) == pytest.approx(20, abs=1)
    assert len(tables["ambient"]) == pytest.approx(4, abs=1)
    assert len(tables["health"]) == pytest.approx(4, abs=1)


def test_conversions_are_shared_among_the_inputs_and_none_is_invented():
    data, _ = stream("modelled://steady?seed=1&anemometer=thermal_module", 10.0)
    tables = decode_all(data).tables
    taken = sum(
        tables[t][f"{c}_n"].sum() for t, c in (("line", "pressure"), ("line", "thermal"), ("slow", "temperature"))
    )
    # 125 kHz / 13 clocks = 9615 a second; some are thrown away at each change of input
    assert 0.6 * 96154 < taken < 96154
    assert tables["line"]["pressure_n"].min() > 20


def test_a_sequence_number_for_every_frame():
    data, _ = stream("modelled://run?seed=1", 6.0)
    sequence = [int(m.sequence) for m in StreamDecoder().feed(data)]
    assert sequence == list(range(len(sequence)))


def test_commands_are_obeyed_and_wrong_ones_refused():
    board = rig()
    board.run(0.1)

    def ask(name, **fields):
        board.receive(encode(name, 5, **fields))
        messages = heard(board, 0.1)
        return int(named(messages, "ack")[0]["result"]), messages

    assert ask("set_rate", rate=9)[0] == BAD_VALUE
    assert ask("set_rate", rate=501)[0] == BAD_VALUE
    assert ask("set_rate", rate=500)[0] == OK
    assert ask("start")[0] == OK
    assert len(named(heard(board, 1.0), "line")) == pytest.approx(500, abs=1)
    assert ask("stop")[0] == OK
    assert named(heard(board, 1.0), "line") == []
    result, messages = ask("describe")
    assert result == OK
    assert int(named(messages, "description")[0]["rate"]) == 500
    assert ask("write_settings", **(SETTINGS | {"rate": 5}))[0] == BAD_VALUE
    result, messages = ask("write_settings", **SETTINGS)
    assert result == OK
    assert bytes(named(messages, "settings")[0]["label"]) == b"shed"


def test_commands_it_does_not_know_or_that_are_too_short_are_refused_as_the_firmware_does():
    """The payloads and answers of the firmware's own tests; an id outside the commands' range is no command."""
    board = rig()
    board.run(0.1)

    def answers(payload):
        board.receive(frame(payload))
        return [
            (int(a["command"]), int(a["command_sequence"]), int(a["result"])) for a in named(heard(board, 0.1), "ack")
        ]

    assert answers(b"\x5f\x07\x00") == [(0x5F, 7, ENUMS["ack_result"]["unknown_command"])]
    assert answers(b"\x43\x08\x00\x64") == [(0x43, 8, ENUMS["ack_result"]["bad_length"])]
    assert answers(b"\x43\x09\x00\xc8\x00new!") == [(0x43, 9, OK)]
    assert answers(b"\x9f\x0a\x00") == []


def test_a_command_in_two_pieces_is_one_command():
    board = rig()
    board.run(0.1)
    whole = encode("set_rate", 5, rate=250)
    board.receive(whole[:4])
    assert named(heard(board, 0.1), "ack") == []
    board.receive(whole[4:])
    messages = heard(board, 0.1)
    assert [int(a["result"]) for a in named(messages, "ack")] == [OK]
    assert int(named(messages, "description")[0]["rate"]) == 250  # what a command has changed is described anew


def test_settings_outlive_a_power_cut_and_a_set_rate_does_not():
    board = rig()
    board.receive(encode("write_settings", 1, **SETTINGS))
    board.receive(encode("set_rate", 2, rate=200))
    board.run(0.1)
    board.reset("power_on")
    messages = heard(board, 0.1)
    description = named(messages, "description")[0]
    assert (bytes(description["label"]), int(description["rate"])) == (b"shed", 50)
    assert int(description["boot_count"]) == 2
    assert int(description["reset_cause"]) == ENUMS["reset_cause"]["power_on"]


def test_noise_on_the_line_is_counted_and_answered_by_nothing():
    board = rig("&streaming=1")
    board.run(0.5)
    board.receive(b"\x03\x41\x99\x12\x00" + bytes(range(1, 60)) + b"\x00")
    messages = heard(board, 2.0)
    assert named(messages, "ack") == []
    assert int(named(messages, "health")[-1]["receive_errors"]) >= 2


def test_the_button_marks_once_however_long_it_is_held():
    board = rig("&streaming=1")
    board.control("button", 0.5)
    messages = heard(board, 1.0)
    assert [int(m["number"]) for m in named(messages, "mark")] == [1]
    down = [int(m["flags"]) & ENUMS["line_flag"]["button_down"] for m in named(messages, "line")]
    assert 45 < sum(1 for d in down if d) < 55


def test_what_is_unplugged_is_missed_and_stalls_nothing():
    board = rig("&streaming=1")
    present = ENUMS["device_flag"]["present"]
    board.run(2.0)
    board.control("unplug", "ambient")
    messages = heard(board, 3.0)
    assert all(not int(m["flags"]) & present for m in named(messages, "ambient"))
    assert len(named(messages, "line")) == pytest.approx(300, abs=1)
    board.control("plug", "ambient")
    messages = heard(board, 2.0)
    assert all(int(m["flags"]) & present for m in named(messages, "ambient"))


def test_the_tick_wraps_at_32_bits():
    data, _ = stream(f"modelled://steady?seed=1&tick={2**32 - 2_000_000}", 3.0)
    ticks = decode_all(data).tables["line"]["tick"]
    assert ticks[0] > 2**31
    assert ticks[-1] < 2_100_000 * 2
    assert np.all(np.diff(ticks) == 20_000)  # modulo 2^32, as unsigned subtraction is


def test_a_standing_rotor_is_told_from_a_turning_one():
    stopped = ENUMS["line_flag"]["rotor_stopped"]
    data, _ = stream("modelled://idle?seed=1", 3.0)
    line = decode_all(data).tables["line"]
    assert np.all(line["flags"] & stopped)
    data, _ = stream("modelled://steady?seed=1", 4.0)
    assert not np.any(decode_all(data).tables["line"]["flags"][200:] & stopped)


def test_damage_costs_the_frames_it_hits_and_no_wrong_one_passes():
    clean = decode_all(stream("modelled://steady?seed=3", 30.0)[0])
    hurt = decode_all(stream("modelled://steady?seed=3&damage=0.05", 30.0)[0])
    assert len(hurt.damage) > 20
    lost = len(clean.tables["line"]) - len(hurt.tables["line"])
    assert 0.02 * 3000 < lost < 0.08 * 3000
    good = {row.tobytes() for row in clean.tables["line"]}
    assert all(row.tobytes() in good for row in hurt.tables["line"])


# --- as a port ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("speed", [1, 10])
def test_time_passes_no_faster_than_asked(talk, speed):
    living = get_simulation(talk(f"modelled://steady?seed=1&speed={speed}").port)
    at, began = time.monotonic(), living.time
    until(lambda: living.time > began + speed, "a second at this speed")
    assert time.monotonic() - at > 0.7  # it may have been up to 0.25 s of simulated time behind


@pytest.mark.benchmark
@pytest.mark.parametrize("speed", [1, 10])
def test_time_passes_at_the_asked_speed(talk, speed):
    link = talk(f"modelled://steady?seed=1&speed={speed}")
    assert pace(get_simulation(link.port)) == pytest.approx(speed, rel=0.1)


def test_speed_zero_is_as_fast_as_it_is_read(talk):
    link = talk("modelled://steady?seed=1&speed=0")
    assert link.command("start") == OK
    began = time.process_time()
    lines = 0
    while lines < 2000:
        lines += len(named(link.listen(0.05), "line"))
        assert time.process_time() - began < 15.0, "2000 lines are 20 s of real time"


def test_a_read_waits_for_its_timeout_and_takes_what_has_come(talk):
    link = talk("modelled://steady?seed=1", timeout=0.2)
    link.listen(0.3)
    began = time.monotonic()
    assert link.port.read(1) == b""
    assert time.monotonic() - began > 0.15
    assert link.command("start") == OK
    waiting = until(lambda: link.port.in_waiting, "bytes")
    assert len(link.port.read(waiting)) == waiting


def test_a_second_opening_of_the_same_rig_is_refused_as_an_exclusive_port_is(talk):
    talk("modelled://steady?seed=12")
    with pytest.raises(serial.SerialException, match="exclusively lock") as caught:
        Talk("modelled://steady?seed=12")
    assert caught.value.errno is not None


def test_a_pulled_cable_fails_reads_and_openings_until_it_is_back(talk):
    url = "modelled://steady?seed=13"
    link = talk(url)
    assert link.command("start") == OK
    living = get_simulation(url)
    living.control("cable", value=False)
    with pytest.raises(serial.SerialException):
        link.port.read(1)
    with pytest.raises(serial.SerialException):
        _ = link.port.in_waiting
    link.port.close()
    with pytest.raises(serial.SerialException, match="unplugged"):
        Talk(url)
    before = living.time
    living.control("cable", value=True)
    again = talk(url)
    assert get_simulation(again.port) is living
    assert living.time > before
    # opening reset the board: it no longer streams
    assert named(again.listen(0.4), "line") == []


def test_a_board_may_already_be_streaming_when_it_is_opened(talk):
    link = talk("modelled://steady?seed=1&streaming=1&reset=0")
    assert named(link.listen(0.5), "line")


def test_a_board_in_its_bootloader_answers_late(talk):
    began = time.monotonic()
    talk("modelled://steady?seed=1&late=1.0")
    assert time.monotonic() - began > 0.9


def test_a_closed_port_ends_its_rig(talk):
    link = talk("modelled://steady?seed=14")
    living = get_simulation(link.port)
    link.port.close()
    assert not living.alive
    with pytest.raises(serial.SerialException):
        link.port.read(1)
    with pytest.raises(KeyError):
        get_simulation("modelled://steady?seed=14")


@pytest.mark.parametrize(
    ("url", "words"),
    [
        ("modelled://breeze", "sweep"),
        ("modelled://sweep?sped=1", "speed"),
        ("modelled://sweep?speed=fast", "number"),
        ("modelled://sweep?rate=5", "10 to 500"),
        ("modelled://sweep?rate=1e9", "10 to 500"),
        ("modelled://sweep?damage=2", "0 to 1"),
    ],
)
def test_a_wrong_url_is_refused_with_what_would_be_right(url, words):
    if HANDLERS not in serial.protocol_handler_packages:
        serial.protocol_handler_packages.append(HANDLERS)
    with pytest.raises(InputError, match=words):
        serial.serial_for_url(url)


def test_truth_and_faults_are_reached_through_the_port(talk):
    link = talk("modelled://run-fed?seed=1&speed=20")
    living = get_simulation(link.port)
    until(lambda: living.truth()["phase"] == "foaming", "foam")
    assert "packing_blown" in living.faults()
    figures = living.figures()
    assert 0 < figures["operating_pressure"] < figures["shut_off_as_found"] < 20e3
    assert 0 < figures["operating_flow"] < figures["free_delivery"] < 0.06
    living.control("fault", "packing_blown")
    assert living.truth()["faults"] == ["packing_blown"]
    with pytest.raises(ValueError, match="wheel_off"):
        living.control("fault", "wheel_off")
