"""Simulated rigs as tests hold them: a port with a decoder behind it, and an emulated chip run flat out."""

import time

import numpy as np
import pytest
import serial
from waiting import PATIENCE

from frothline.errors import PortError
from frothline.simulation.emulated import EmulatedRig
from frothline.simulation.emulator_binding import image_path, library_path
from frothline.simulation.options import read_url
from frothline.wire import StreamDecoder, encode

HANDLERS = "frothline.simulation.url_handlers"
CONVERTER_CONTROL = 0x7A  # ADCSRA of the ATmega328P


class Talk:
    """A port with a decoder behind it."""

    def __init__(self, url, **settings):
        if HANDLERS not in serial.protocol_handler_packages:
            serial.protocol_handler_packages.append(HANDLERS)
        self.port = serial.serial_for_url(url, **({"timeout": 0.2, "exclusive": True} | settings))
        self.decoder = StreamDecoder()
        self.sequence = 0

    def listen(self, seconds=0.0, until=None):
        """Messages of the next ``seconds`` of wall time, or up to and with the first named ``until``."""
        heard = []
        end = time.monotonic() + (seconds or PATIENCE)
        while time.monotonic() < end:
            for one in self.decoder.feed(self.port.read(max(1, self.port.in_waiting))):
                if hasattr(one, "name"):
                    heard.append(one)
                    if one.name == until:
                        return heard
        assert until is None, f"no {until} within {seconds or PATIENCE} s, but {sorted({m.name for m in heard})}"
        return heard

    def command(self, name, **fields):
        """Result of a command, from its acknowledgement."""
        self.sequence += 1
        self.port.write(encode(name, self.sequence, **fields))
        while True:
            ack = self.listen(until="ack")[-1].record
            if ack["command_sequence"] == self.sequence:
                return int(ack["result"])


def need_emulator():
    try:
        library_path()
        image_path()
    except PortError as error:
        pytest.skip(str(error))


class Bench:
    """An emulated rig stepped by the test, in simulated time."""

    def __init__(self, url, storage=None):
        self.rig = EmulatedRig(read_url(url), storage)
        self.decoder = StreamDecoder()
        self.sequence = 0

    def run(self, seconds):
        heard = self.decoder.feed(self.rig.run(seconds))
        damaged = [one for one in heard if not hasattr(one, "name")]
        assert not damaged, damaged
        return heard

    def send(self, name, **fields):
        self.sequence += 1
        self.rig.receive(encode(name, self.sequence, **fields))

    def command(self, name, seconds=0.3, **fields):
        """(result of the command or None, what was heard)."""
        self.send(name, **fields)
        heard = self.run(seconds)
        acks = [m.record for m in heard if m.name == "ack" and m.record["command_sequence"] == self.sequence]
        return (int(acks[0]["result"]) if acks else None), heard


def named(heard, name):
    return [m.record for m in heard if m.name == name]


def mean_code(table, channel):
    return table[f"{channel}_sum"] / np.maximum(table[f"{channel}_n"], 1)


def pace(living, wall=1.0):
    """Simulated over wall time: the median of three stretches, as a loaded machine may stand still in one of them."""
    ratios = []
    for _ in range(3):
        began, at = living.time, time.monotonic()
        time.sleep(wall)
        ratios.append((living.time - began) / (time.monotonic() - at))
    return sorted(ratios)[1]
