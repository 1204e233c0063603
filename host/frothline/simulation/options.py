"""Options in the URL of a simulated rig: ``modelled://sweep?seed=1&speed=1`` and so on."""

from __future__ import annotations

from dataclasses import dataclass, fields
from hashlib import blake2b
from math import isfinite
from urllib.parse import parse_qsl, urlencode, urlsplit

from frothline.errors import InputError
from frothline.simulation.scenarios import SCENARIOS

_NUMBERS = {"rate": "Give a whole number from 10 to 500"}


LABEL = 16  # bytes of a board's label


@dataclass(frozen=True)
class Options:
    """Options of a simulated rig.

    speed : times real time, 0 for as fast as it is read
    rate : line messages per second as in the settings
    damage : probability that a frame is lost or corrupted
    errors : 0 for perfect sensors
    late : s that the board stays in its bootloader
    reset : 0 for a board that is not reset by opening
    streaming : 1 for a board that streams from the start
    zero : s with the machine off at the beginning
    tick : first board tick
    adc_levels : full scale of the board's converter (modelled only)
    source, anemometer, element, build : replace those of the scenario
    image : another firmware image (emulated only)
    storage : file for the board's storage between starts (emulated only)
    """

    scenario: str = "sweep"
    seed: int = 1
    speed: float = 1.0
    rate: int = 100
    damage: float = 0.0
    errors: float = 1.0
    late: float = 0.05
    reset: int = 1
    streaming: int = 0
    zero: float = 0.0
    tick: int = 0
    adc_levels: int = 1024
    source: str = ""
    anemometer: str = ""
    element: str = ""
    storage: str = ""
    build: str = ""
    image: str = ""

    @property
    def label(self) -> str:
        """The board's default label, at most 16 bytes.

        It identifies the specimen: rigs with the same sensor errors have the same label, for both kinds of simulation
        and in every scenario, and no other rigs have it. A calibration of one rig is therefore not used for another.
        """
        plain = f"simulated {self.seed}"
        if self.errors == 1.0 and len(plain) <= LABEL:
            return plain
        return "sim " + blake2b(f"{self.seed}/{self.errors!r}".encode(), digest_size=6).hexdigest()

    def changes(self) -> dict[str, str]:
        """Fields of the scenario changed by the URL."""
        return {name: value for name in ("source", "anemometer", "element", "build") if (value := getattr(self, name))}


def read_url(url: str) -> Options:
    """Options of ``<scheme>://<scenario>?<name>=<value>&…``; raises InputError that names the wrong part."""
    parts = urlsplit(url)
    scenario = parts.netloc or parts.path.strip("/") or "sweep"
    if scenario not in SCENARIOS:
        raise InputError(f"unknown scenario {scenario!r}", where=url, remedy=f"Give one of {', '.join(SCENARIOS)}")
    kinds: dict[str, type] = {field.name: type(field.default) for field in fields(Options)}
    given: dict[str, object] = {}
    for name, text in parse_qsl(parts.query, keep_blank_values=True):
        if name not in kinds or name == "scenario":
            raise InputError(f"unknown option {name!r}", where=url, remedy=f"Give one of {', '.join(sorted(kinds))}")
        try:
            given[name] = kinds[name](text)
        except ValueError as error:
            raise InputError(
                f"{name} = {text!r} is not valid", where=url, remedy=_NUMBERS.get(name, "Give a number")
            ) from error
    options = Options(scenario=scenario, **given)  # type: ignore[arg-type]  # read as their fields are
    numbers = [value for value in vars(options).values() if isinstance(value, float)]
    if (
        not all(map(isfinite, numbers))
        or options.speed < 0
        or not 10 <= options.rate <= 500
        or not 256 <= options.adc_levels <= 65536
        or not 0 <= options.damage <= 1
    ):
        raise InputError(
            "speed must not be negative, numbers must be finite, rate must be 10 to 500, damage 0 to 1, adc_levels 256 "
            "to 65536",
            where=url,
            remedy="Change the URL",
        )
    return options


def scenario_of(url: str) -> str:
    """Name of the scenario in the URL of a simulated rig; empty for a real one."""
    return read_url(url).scenario if urlsplit(url).scheme in {"modelled", "emulated"} else ""


def is_faster(url: str) -> bool:
    """Whether the URL is of a modelled rig that is faster than real time, and not as fast as can be."""
    return urlsplit(url).scheme == "modelled" and read_url(url).speed > 1.0


def with_scenario(url: str, scenario: str) -> str:
    """The URL of the same simulated rig and air source in another scenario. Raises InputError for a real one."""
    parts = urlsplit(url)
    if parts.scheme not in {"modelled", "emulated"}:
        raise InputError("this is a real rig", where=url, remedy="Switch its air on by hand")
    options = read_url(url)
    given = dict(parse_qsl(parts.query))
    given["source"] = options.source or SCENARIOS[options.scenario].source
    return f"{parts.scheme}://{scenario}?{urlencode(given)}"
