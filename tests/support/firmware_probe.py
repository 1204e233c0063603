"""The portable firmware at a prompt, built for this machine with address and undefined-behaviour checks."""

import shutil
import subprocess
from pathlib import Path

import pytest

from frothline.wire import ENUMS, StreamDecoder, encode

FIRMWARE = Path(__file__).parents[2] / "firmware"
GOLDEN = Path(__file__).parents[1] / "golden"
SECOND = 2_000_000  # ticks


class Probe:
    """A process of firmware/native/probe.c. A report of the sanitizers ends it, and with it the test."""

    def __init__(self, *program):
        self.process = subprocess.Popen(
            program, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )

    def ask(self, *words):
        self.process.stdin.write(" ".join(map(str, words)) + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        if not answer.endswith("\n"):
            pytest.fail(f"the native firmware stopped at {words[0]}: {self.process.stderr.read()}")
        return answer.strip()

    def close(self):
        self.process.stdin.close()
        assert self.process.wait(timeout=20) == 0, self.process.stderr.read()
        self.process.stdout.close()
        self.process.stderr.close()


class Board:
    """The whole portable firmware on a board made of memory (firmware/native/fake.c)."""

    def __init__(self, probe, *, storage=None, **world):
        self.probe = probe
        self.decoder = StreamDecoder()
        self.number = 0
        for what, value in world.items():
            self.set(what, value)
        if storage is not None:
            probe.ask("storage", storage.hex())
        self.boots = int(probe.ask("boot"))

    def set(self, what, value):
        self.probe.ask("set", what, value)

    def run(self, seconds):
        """Let time pass; the messages that left the board meanwhile."""
        heard = []
        left = round(seconds * SECOND)
        while left > 0:
            step = min(left, SECOND // 4)
            self.probe.ask("run", step)
            left -= step
            heard += self.hear()
        return heard

    def hear(self):
        sent = self.probe.ask("sent")
        heard = self.decoder.feed(b"" if sent == "-" else bytes.fromhex(sent))
        damaged = [one for one in heard if not hasattr(one, "name")]
        assert not damaged, damaged
        return heard

    def command(self, name, seconds=0.05, **fields):
        """Send a command; the messages heard in the time after it, the acknowledgement's result and they all."""
        self.number += 1
        self.receive(encode(name, self.number, **fields))
        heard = self.run(seconds)
        acks = [m.record for m in heard if m.name == "ack" and m.record["command_sequence"] == self.number]
        return (int(acks[0]["result"]) if acks else None), heard

    def receive(self, data):
        assert int(self.probe.ask("receive", data.hex())) == len(data)

    def storage(self):
        return bytes.fromhex(self.probe.ask("storage"))


def named(heard, name):
    return [m.record for m in heard if m.name == name]


def flag(enumeration, name):
    return ENUMS[enumeration][name]


def build_native(build, compiler):
    """The probe, built by a compiler whose every warning is an error (firmware/Makefile)."""
    if not (shutil.which(compiler) and shutil.which("make")):
        pytest.skip(f"needs {compiler} and make; tests/run installs them")
    command = ["make", "-s", "-C", FIRMWARE, "native", f"BUILD={build}", f"NATIVE_CC={compiler}"]
    subprocess.run(command, check=True)
    return build / "native" / "probe"
