"""The C harness of firmware/emulator, loaded with ctypes: a board whose image is executed step by step."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path

from frothline.errors import PortError

FREQUENCY = 16_000_000
STORAGE = 1024
CAUSES = {"power_on": 1, "external": 2, "brown_out": 4, "watchdog": 8}
INPUTS = ("pressure", "thermal", "temperature", "differential", "supply")
LIBRARY = "libfrothline-emulator.so"
_HOW = (
    "Build it with `make -C firmware/emulator` (Debian: apt install gcc make libsimavr-dev libelf-dev), "
    "or use modelled:// which needs no build"
)

_Ratios = ctypes.c_double * len(INPUTS)
_Bytes = ctypes.POINTER(ctypes.c_uint8)


def library_path() -> Path:
    """Path of the built library: FROTHLINE_EMULATOR, else next to its source. Raises PortError with how to build it."""
    named = os.environ.get("FROTHLINE_EMULATOR")
    places = [Path(named)] if named else [p / "firmware/emulator/build" / LIBRARY for p in Path(__file__).parents]
    for place in places:
        if place.is_file():
            return place
    where = str(places[0] if named else LIBRARY)
    raise PortError("the instruction simulator is not built", where=where, remedy=_HOW)


def image_path() -> Path:
    """The firmware image that ships with the package; raises PortError when it is missing."""
    image = Path(str(files("frothline.rig") / "image" / "frothline.hex"))
    if not image.is_file():
        raise PortError("no firmware image", where=str(image), remedy="Build it with `make -C firmware image`")
    return image


def _load() -> ctypes.CDLL:
    path = library_path()
    try:
        library = ctypes.CDLL(str(path))
    except OSError as error:
        raise PortError(
            f"the instruction simulator cannot be loaded ({error})", where=str(path), remedy=_HOW
        ) from error
    pointer, size, u64 = ctypes.c_void_p, ctypes.c_size_t, ctypes.c_uint64
    for name, result, arguments in (
        ("new", pointer, [ctypes.c_char_p, u64]),
        ("free", None, [pointer]),
        ("cycle", u64, [pointer]),
        ("run", ctypes.c_int, [pointer, u64]),
        ("reset", None, [pointer, ctypes.c_int]),
        ("resets", ctypes.c_uint32, [pointer]),
        ("overruns", ctypes.c_uint32, [pointer]),
        ("complaints", ctypes.c_uint32, [pointer]),
        ("poke", None, [pointer, ctypes.c_uint16, ctypes.c_uint8]),
        ("peek", ctypes.c_uint8, [pointer, ctypes.c_uint16]),
        ("cut_power", None, [pointer, ctypes.c_uint32]),
        ("storage_busy", ctypes.c_int, [pointer]),
        ("storage_get", None, [pointer, ctypes.c_char_p]),
        ("storage_set", None, [pointer, ctypes.c_char_p]),
        ("analog", None, [pointer, _Ratios, _Ratios, u64, ctypes.c_double]),
        ("edges", None, [pointer, ctypes.POINTER(u64), size]),
        ("button", None, [pointer, ctypes.c_int]),
        ("ambient", None, [pointer, ctypes.c_int, ctypes.c_char_p, ctypes.c_char_p, ctypes.c_char_p]),
        ("scale", None, [pointer, ctypes.c_int, ctypes.c_int32, ctypes.c_uint32]),
        ("give", size, [pointer, ctypes.c_char_p, size]),
        ("take", size, [pointer, ctypes.c_char_p, size]),
    ):
        function = getattr(library, f"emulator_{name}")
        function.restype, function.argtypes = result, arguments
    return library


class Chip:
    """One emulated chip; not thread-safe. Cycles count from power on and continue over a reset.

    Parameters
    ----------
    image
        Intel hex file.
    noise_start
        Seed of the converter's noise.

    Raises PortError when the library is not built or the image cannot be read.
    """

    def __init__(self, image: Path, noise_start: int = 1) -> None:
        self._c = _load()
        self._chip = self._c.emulator_new(str(image).encode(), noise_start)
        if not self._chip:
            raise PortError(
                "the firmware image cannot be read", where=str(image), remedy="Build it again: `make -C firmware`"
            )
        self._buffer = ctypes.create_string_buffer(1 << 16)
        self._last = _Ratios(*([0.0] * len(INPUTS)))

    def close(self) -> None:
        if self._chip:
            self._c.emulator_free(self._chip)
            self._chip = None

    @property
    def cycle(self) -> int:
        return int(self._c.emulator_cycle(self._chip))

    @property
    def resets(self) -> int:
        """Number of watchdog resets."""
        return int(self._c.emulator_resets(self._chip))

    @property
    def overruns(self) -> int:
        """Number of bytes towards the board that were lost because its receiver was full."""
        return int(self._c.emulator_overruns(self._chip))

    @property
    def complaints(self) -> int:
        """Number of the simulator's warnings and errors about the image."""
        return int(self._c.emulator_complaints(self._chip))

    def run(self, until: int) -> None:
        """Execute up to cycle ``until``; raises PortError when the image crashes or stops."""
        state = self._c.emulator_run(self._chip, until)
        if state:
            what = "stopped with interrupts off" if state == 1 else "crashed"
            raise PortError(
                f"the emulated board {what} at cycle {self.cycle}",
                remedy="Run the same scenario again with another image, or look at it with a debugger",
            )

    def reset(self, cause: str) -> None:
        self._c.emulator_reset(self._chip, CAUSES[cause])

    def cut_power(self, luck: int) -> None:
        """Interrupt the supply; ``luck`` decides the result of a byte write in progress."""
        self._c.emulator_cut_power(self._chip, luck & 0xFFFFFFFF)

    def poke(self, address: int, value: int) -> None:
        """Write to the chip's data space, without the side effects of a register."""
        self._c.emulator_poke(self._chip, address, value)

    def peek(self, address: int) -> int:
        """A byte of the chip's data space."""
        return int(self._c.emulator_peek(self._chip, address))

    @property
    def storage_busy(self) -> bool:
        return bool(self._c.emulator_storage_busy(self._chip))

    @property
    def storage(self) -> bytes:
        """The 1024 bytes of non-volatile storage."""
        kept = ctypes.create_string_buffer(STORAGE)
        self._c.emulator_storage_get(self._chip, kept)
        return kept.raw

    @storage.setter
    def storage(self, kept: bytes) -> None:
        if len(kept) != STORAGE:
            raise ValueError(f"storage holds {STORAGE} bytes, {len(kept)} were given")
        self._c.emulator_storage_set(self._chip, kept)

    def analog(self, ratios: Sequence[float], until: int, noise: float) -> None:
        """Ramp the INPUTS linearly to ``ratios`` of the supply at cycle ``until``."""
        to = _Ratios(*ratios)
        self._c.emulator_analog(self._chip, self._last, to, until, noise)
        self._last = to

    def edges(self, cycles: Sequence[int]) -> None:
        """Schedule rotor edges at these cycles, in order."""
        self._c.emulator_edges(self._chip, (ctypes.c_uint64 * len(cycles))(*cycles), len(cycles))

    def button(self, *, down: bool) -> None:
        self._c.emulator_button(self._chip, int(down))

    def ambient(self, low: bytes, high: bytes, burst: bytes, *, present: bool) -> None:
        self._c.emulator_ambient(self._chip, int(present), low, high, burst)

    def scale(self, counts: int, *, present: bool, per_second: int = 10) -> None:
        self._c.emulator_scale(self._chip, int(present), counts, per_second)

    def give(self, data: bytes) -> int:
        """Bytes to the board's receiver, one each 20 us; returns the number accepted."""
        return int(self._c.emulator_give(self._chip, data, len(data)))

    def take(self) -> bytes:
        """Bytes sent by the board since the last call."""
        n = self._c.emulator_take(self._chip, self._buffer, len(self._buffer))
        return self._buffer.raw[:n]
