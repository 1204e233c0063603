"""Boards that answer, answer late, or are no rigs: each ends in a link or in an error that says what was heard."""

import threading

import fake_board
import pytest
from fake_board import FakeBoard, FaultPort
from stepped_clock import SteppedClock

from frothline.errors import PortSilent, UnknownLayout, WrongDevice
from frothline.rig import handshake
from frothline.rig.handshake import Introduction, ask, excerpt
from frothline.rig.port import Line
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.wire import ENUMS, WIRE, StreamDecoder, encode


@pytest.fixture(autouse=True)
def clock(monkeypatch):
    """Board and handshake live by this clock; a read that finds nothing takes 5 ms of it."""
    one = SteppedClock()
    monkeypatch.setattr(handshake, "time", one)
    monkeypatch.setattr(fake_board, "time", one)
    return one


def line_to(board, **faults):
    return Line("fault://bench", FaultPort(board, seed=1, **faults))


def test_a_board_that_runs_answers_at_once():
    answer = ask(line_to(FakeBoard(label="left spool")))
    assert answer.label == "left spool"
    assert answer.firmware == "0.1.0"
    assert answer.waited < 0.3  # the first question is answered; the second would be asked at 0.3 s
    assert [int(row["kind"]) for row in answer.tables["channel"]] == [1, 3]


def test_what_was_heard_while_asking_is_handed_on_whole():
    board = FakeBoard()
    port = FaultPort(board, seed=1)
    answer = ask(Line("fault://bench", port))
    heard = b"".join(chunk.data for chunk in answer.chunks)
    assert heard == bytes(port.delivered)
    assert [event.name for event in StreamDecoder().feed(heard)][:3] == ["description", "channel", "channel"]


def test_a_board_that_is_streaming_already_is_understood(clock):
    board = FakeBoard(streaming=True, rate=500)
    clock.sleep(0.1)
    answer = ask(line_to(board))
    assert int(answer.description["streaming"]) == 1
    assert int(answer.description["rate"]) == 500


def test_a_board_met_in_the_middle_of_a_frame_is_understood(clock):
    board = FakeBoard(streaming=True)
    clock.sleep(0.1)
    board.step()
    board.out = board.out[7:]  # the port was opened when seven bytes of a frame had gone by
    assert ask(line_to(board)).label == "bench"


@pytest.mark.parametrize("deaf", [0.5, 2.0])
def test_a_board_that_resets_on_opening_is_waited_for_through_its_bootloader(deaf):
    # Bootloaders of common boards wait 0.5 to 2 s for an upload before they start the program.
    answer = ask(line_to(FakeBoard(deaf_for=deaf)))
    assert deaf <= answer.waited < deaf + 0.02  # it speaks of itself when it starts


def test_a_board_whose_first_words_were_lost_is_asked_again_after_the_bootloader():
    answer = ask(line_to(FakeBoard(deaf_for=2.0, speaks_at_boot=False)))
    assert 2.1 <= answer.waited < 2.12  # at the first question after them


def test_the_line_is_left_in_peace_while_a_bootloader_would_be_waiting(clock):
    # Some bootloaders start their wait anew with every byte; between 0.3 s and 1.6 s nothing is sent.
    board = FakeBoard(mute=True)
    port = FaultPort(board, seed=1)
    times = []
    began = clock.now
    port.write = lambda data: times.append(clock.now - began) or len(data)
    with pytest.raises(PortSilent):
        ask(Line("fault://bench", port), patience=2.0)
    assert len(times) >= 3
    assert not [moment for moment in times if 0.31 < moment < 1.59]


def test_a_silent_port_is_told_apart_from_a_wrong_device():
    with pytest.raises(PortSilent, match="no data arrived") as caught:
        ask(line_to(FakeBoard(mute=True)), patience=0.5)
    assert caught.value.where == "fault://bench"
    assert "the board's power" in caught.value.remedy


def test_something_that_is_no_rig_is_quoted():
    with pytest.raises(WrongDevice, match=r'24 47 50 47 47 41 .*"\$GPGGA,') as caught:
        ask(line_to(FakeBoard(chatter=b"$GPGGA,123519,4807.038,N\r\n")), patience=0.5)
    assert "fault://bench" in str(caught.value)
    assert str(WIRE.baud) in caught.value.remedy


def test_noise_at_the_wrong_speed_is_a_wrong_device():
    with pytest.raises(WrongDevice, match="not a rig"):
        ask(line_to(FakeBoard(chatter=b"\xf8\x00\xfe\xe0\x9c")), patience=0.4)


@pytest.mark.parametrize(("theirs", "behind"), [(WIRE.protocol + 1, "this program"), (0, "the board's firmware")])
def test_a_rig_of_another_protocol_says_which_side_to_update(theirs, behind):
    with pytest.raises(UnknownLayout, match=f"protocol {theirs}") as caught:
        ask(line_to(FakeBoard(protocol=theirs)))
    assert f"Update {behind}" in caught.value.remedy


def test_frames_without_a_description_are_no_rig_and_the_reset_button_is_named():
    with pytest.raises(WrongDevice, match="no description of the board") as caught:
        ask(line_to(FakeBoard(describes=False, streaming=True)), patience=0.5)
    assert "reset button" in caught.value.remedy


def test_an_answer_that_was_damaged_once_is_asked_for_again():
    board = FakeBoard()
    port = FaultPort(board, seed=3)
    spoil = [True]
    plain = port.read

    def read(size=1):
        data = plain(size)
        if spoil[0] and len(data) > 20:
            spoil[0] = False
            return data[:10] + bytes([data[10] ^ 0x10]) + data[11:]
        return data

    port.read = read
    answer = ask(Line("fault://bench", port))
    assert not spoil[0]
    assert answer.label == "bench"
    assert board.heard.count("describe") >= 2


@pytest.mark.parametrize("seed", range(4))
def test_a_bad_line_still_introduces_the_board(seed):
    # One byte in 500 lost and one in 500 flipped, reads cut at random: some question in 5 s is answered whole.
    board = FakeBoard(label="bad cable")
    port = FaultPort(board, seed, split=True, drop=0.002, flip=0.002)
    assert ask(Line("fault://bench", port)).label == "bad cable"


def test_asking_ends_when_it_is_told_to(clock):
    stop = threading.Event()
    port = FaultPort(FakeBoard(mute=True), seed=1)
    began, plain = clock.now, port.read

    def read(size=1):
        if clock.now - began >= 0.2:
            stop.set()
        return plain(size)

    port.read = read
    with pytest.raises(PortSilent):
        ask(Line("fault://bench", port), stop=stop)
    assert clock.now - began < 0.22


def test_a_port_that_floods_is_left_before_it_fills_the_memory(clock):
    """A network port may send any amount in the 5 s; a rig sends less than 100 kB in that time."""
    port = FaultPort(FakeBoard(mute=True), seed=1)
    block, sent = b"x" * 50_000, []

    class Flood(Line):
        def read(self):
            clock.sleep(1e-4)
            sent.append(len(block))
            return block

    with pytest.raises(WrongDevice, match="it is not a rig"):
        ask(Flood("socket://flood:1", port))
    assert sum(sent) <= handshake.MOST_HEARD + len(block)
    assert 100_000 < handshake.MOST_HEARD <= 10_000_000


def test_an_excerpt_shows_text_only_where_it_reads_as_text():
    assert excerpt(b"OK\r\n") == "4f 4b 0d 0a"
    assert excerpt(b"READY") == '52 45 41 44 59 ("READY")'
    assert excerpt(bytes(30)).endswith("…")


def introduction_of(*left_out, sensor="linear_pressure"):
    """What a board of today says of itself, without the messages left out."""
    rig = ModelledRig(read_url("modelled://idle?adc_levels=4096"))
    rig.board.storage["pressure_sensor"] = ENUMS["sensor_kind"][sensor]
    rig.board.sent.clear()
    rig.board.receive(encode("describe", 1))
    heard = [one for one in StreamDecoder().feed(bytes(rig.board.sent)) if one.name not in {"ack", *left_out}]
    introduction = Introduction()
    introduction.hear(heard)
    return introduction


@pytest.mark.parametrize("missing", ["adc", "linear_sensor", "trimming"])
def test_an_introduction_waits_for_what_surely_follows_the_channels(missing):
    assert not introduction_of().waits
    assert introduction_of(missing).waits


def test_an_introduction_waits_for_no_line_of_a_named_sensor():
    assert not introduction_of("linear_sensor", sensor="mpx5050").waits


def test_an_introduction_of_older_firmware_waits_for_no_converter():
    old = introduction_of("adc", sensor="mpx5050")
    assert old.waits
    old.tables["description"] = old.tables["description"].copy()
    old.tables["description"]["firmware_minor"] = 2
    assert not old.waits


def test_the_line_of_one_input_does_not_replace_that_of_the_other():
    introduction = introduction_of()
    for kind, high in ((1, 30000), (2, 500), (1, 40000)):
        line = {"low_pascal": 0, "high_pascal": high, "low_millivolt": 500, "high_millivolt": 4500}
        frame = encode("linear_sensor", 0, kind=kind, accuracy_per_myriad=100, **line)
        assert introduction.hear(StreamDecoder().feed(frame))
    rows = introduction.tables["linear_sensor"]
    assert {int(row["kind"]): int(row["high_pascal"]) for row in rows} == {1: 40000, 2: 500}
