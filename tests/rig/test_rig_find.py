"""Finding the rig by its answer among ports of all kinds, and finding it again."""

import os
import threading
from types import SimpleNamespace

import pytest
from fake_board import FakeBoard, PtyBoard, SocketBoard

from frothline.errors import InputError, PortNotFound
from frothline.rig import PortCandidate, candidates, find_rigs, finder, handshake, open_rig


def as_candidate(there):
    return PortCandidate(there.url, "a device")


def test_the_rig_is_found_by_its_answer_among_a_receiver_a_silent_port_and_a_missing_one(monkeypatch):
    with (
        SocketBoard(FakeBoard(chatter=b"$GPGGA,123519\r\n")) as receiver,
        SocketBoard(FakeBoard(label="bench rig")) as rig,
        SocketBoard(FakeBoard(mute=True)) as silent,
    ):
        ports = [as_candidate(one) for one in (receiver, rig, silent)] + [PortCandidate("/dev/ttyGONE", "")]
        together = threading.Barrier(3, timeout=60)  # one after the other, none would get through
        monkeypatch.setattr(finder, "ask", lambda *given: (together.wait() and None) or handshake.ask(*given))
        report = find_rigs(ports, patience=0.8)
    assert [(one.url, one.label) for one in report.rigs] == [(rig.url, "bench rig")]
    assert [one.code for one in report.others] == ["port-wrong-device", "port-silent", "port-not-found"]


def test_with_no_port_given_the_one_rig_there_is_gets_opened(monkeypatch):
    with SocketBoard(FakeBoard(label="the one")) as there:
        monkeypatch.setattr(finder, "candidates", lambda: [as_candidate(there)])
        with open_rig() as rig:
            assert rig.url == there.url
            assert rig.answer.label == "the one"


def test_two_rigs_are_not_guessed_between(monkeypatch):
    with SocketBoard(FakeBoard(label="left")) as left, SocketBoard(FakeBoard(label="right")) as right:
        monkeypatch.setattr(finder, "candidates", lambda: [as_candidate(left), as_candidate(right)])
        with pytest.raises(InputError, match=r"'left' at .* 'right' at ") as caught:
            open_rig()
        assert caught.value.where == "--port"


def test_two_rigs_of_one_label_are_told_apart_by_their_numbers(monkeypatch):
    one, other = FakeBoard(label="shed", identity=0x11), FakeBoard(label="shed", identity=0x22)
    with SocketBoard(one) as left, SocketBoard(other) as right:
        ports = [as_candidate(left), as_candidate(right)]
        monkeypatch.setattr(finder, "candidates", lambda: ports)
        with pytest.raises(InputError, match=r"'shed' \(00000011\) at .* 'shed' \(00000022\) at "):
            open_rig()
        assert [rig.number for rig in finder.find_rigs(ports).rigs] == [0x11, 0x22]


def test_when_no_rig_answers_every_port_is_named_with_what_it_said(monkeypatch):
    with SocketBoard(FakeBoard(chatter=b"hello\r\n")) as there:
        monkeypatch.setattr(finder, "PATIENCE", 0.5)
        with pytest.raises(PortNotFound) as caught:
            finder.find_one([as_candidate(there), PortCandidate("/dev/ttyGONE", "")], patience=0.5)
    assert there.url in caught.value.what
    assert "68 65 6c 6c 6f" in caught.value.what
    assert "/dev/ttyGONE: this port does not exist" in caught.value.what
    assert "charging cable" in caught.value.remedy


def test_a_computer_without_ports_says_so_and_names_the_demo():
    with pytest.raises(PortNotFound, match="no serial port") as caught:
        finder.find_one([])
    assert "frothline demo" in caught.value.remedy


def port_info(device, vid=None, pid=None, serial_number=None, description="n/a"):
    return SimpleNamespace(
        device=device, vid=vid, pid=pid, serial_number=serial_number, description=description, hwid="n/a"
    )


def test_usb_ports_come_first_and_bluetooth_is_left_alone(monkeypatch):
    there = [
        port_info("/dev/ttyS0"),
        port_info("/dev/rfcomm0", description="Bluetooth serial"),
        port_info("/dev/ttyUSB0", 0x1A86, 0x7523, None, "USB Serial"),
    ]
    monkeypatch.setattr(finder.list_ports, "comports", lambda: there)
    assert [one.url for one in candidates()] == ["/dev/ttyUSB0", "/dev/ttyS0"]


def test_a_lost_rig_is_looked_for_where_it_may_be_and_no_other_device_is_disturbed(monkeypatch):
    there = [port_info("/dev/ttyUSB0", 1, 2, "A1"), port_info("/dev/ttyUSB1", 3, 4, "B2"), port_info("/dev/ttyS0")]
    monkeypatch.setattr(finder.list_ports, "comports", lambda: list(there))
    lost = finder.Whereabouts("/dev/ttyUSB0")
    del there[0]
    assert lost.may_be_at("/dev/ttyUSB0") == ["/dev/ttyUSB0"]  # not the printer on USB1
    there.append(port_info("/dev/ttyUSB2", 1, 2, "A1"))
    assert lost.may_be_at("/dev/ttyUSB0") == ["/dev/ttyUSB0", "/dev/ttyUSB2"]
    # the same serial number under a name that was there before, as after swapping two cables
    there[:] = [port_info("/dev/ttyUSB1", 1, 2, "A1")]
    assert lost.may_be_at("/dev/ttyUSB0") == ["/dev/ttyUSB0", "/dev/ttyUSB1"]
    assert finder.Whereabouts("socket://h:1").may_be_at("socket://h:1") == ["socket://h:1"]


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
def test_ports_are_free_again_after_they_were_asked(tmp_path):
    with PtyBoard(FakeBoard(), tmp_path) as there:
        assert len(find_rigs([as_candidate(there)], patience=1.0).rigs) == 1
        assert len(find_rigs([as_candidate(there)], patience=1.0).rigs) == 1
