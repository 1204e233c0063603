"""Prices as a builder writes them down: a TOML file; a missing price is named and never counts as 0.

::

    currency = "EUR"

    [cement]
    price = 5.40
    per = "25 kg"              # cement and sand by mass; agent and water by volume

    [sand]
    price = 38
    per = "1000 kg"
    loose = true               # any amount can be bought; otherwise whole packs

    [agent]
    price = 12
    per = "5 L"

    [water]
    price = 0.004
    per = "1 L"
    loose = true
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from frothline.errors import InputError
from frothline.quantities import read_number, read_quantity, shorten, unknown_entry, within
from frothline.toml_text import TomlUnreadable, read_text, read_toml

FILE = "prices.toml"  # looked for next to a plan, and in the folder of the recordings
BOUGHT = {"cement": "mass", "sand": "mass", "agent": "volume", "water": "volume"}
_KINDS = {"mass": "bag", "volume": "concrete"}


@dataclass(frozen=True)
class Price:
    """``price`` of ``per`` (kg or m³). ``loose`` : any amount can be bought."""

    price: float
    per: float
    loose: bool = False

    def packs(self, amount: float) -> float:
        """Packs to buy for an amount."""
        exact = amount / self.per
        return exact if self.loose else float(math.ceil(exact - 1e-9))


@dataclass(frozen=True)
class Prices:
    """A price file. ``problems`` has a sentence for each wrong entry; its price is then missing."""

    currency: str = ""
    items: Mapping[str, Price] = field(default_factory=dict)
    problems: tuple[str, ...] = ()
    path: Path | None = None


@dataclass(frozen=True)
class Purchase:
    """One line of the shopping list. ``amount`` in kg or m³ by ``quantity`` ("mass", "volume"); ``packs`` of ``pack``
    (NaN where nothing says how it is sold); ``cost`` NaN without a price.
    """

    name: str
    amount: float
    quantity: str
    packs: float = math.nan
    pack: float = math.nan
    cost: float = math.nan


def read_prices(path: Path) -> Prices:
    """Read a price file. Raises InputError if it cannot be read at all; wrong entries are in ``problems``."""
    try:
        return parse_prices(read_text(path), path)
    except (OSError, TomlUnreadable) as error:
        words = getattr(error, "strerror", None) or error
        raise InputError(f"the prices cannot be read: {words}", where=str(path), remedy="Check the file") from error


def parse_prices(text: str, path: Path | None = None) -> Prices:
    """Read the text of a price file. Raises InputError if it is not TOML."""
    name = path.name if path else FILE
    try:
        document = read_toml(text)
    except TomlUnreadable as error:
        where = name if error.line is None else f"{name}, line {error.line}"
        raise InputError(f"the prices are not TOML: {error.what}", where=where, remedy="Fix this line") from error
    items: dict[str, Price] = {}
    problems: list[str] = []
    for key, raw in document.items():
        if key == "currency":
            continue
        if key not in BOUGHT:
            problems.append(f"{name}: {unknown_entry(key, {**BOUGHT, 'currency': ''})}")
            continue
        price, said = _price(key, raw)
        problems += [f"{name}: {key}: {one}" for one in said]
        if price is not None:
            items[key] = price
    return Prices(str(document.get("currency", ""))[:12], items, tuple(problems), path)


def _price(key: str, raw: Any) -> tuple[Price | None, list[str]]:
    if not isinstance(raw, Mapping):
        return None, [f"“{shorten(raw)}” is not a table; write price and per below [{key}]"]
    problems = [
        unknown_entry(one, {"price": 0, "per": 0, "loose": 0}) for one in raw if one not in ("price", "per", "loose")
    ]
    found: dict[str, float] = {}
    kind = _KINDS[BOUGHT[key]]
    readers = {
        "price": within(read_number, 0.0, 1e6),
        "per": within(lambda text: read_quantity(text, kind), 1e-6, 1e6),
    }
    for one, read in readers.items():
        if one not in raw:
            problems.append(f"“{one}” is missing")
            continue
        try:
            found[one] = read(raw[one])
        except (ValueError, TypeError) as error:
            sold = f"; {key} is bought by {BOUGHT[key]}" if one == "per" else ""
            problems.append(f"{one}: {error}{sold}")
    if len(found) < 2:
        return None, problems
    return Price(found["price"], found["per"], bool(raw.get("loose", False))), problems


def purchases(amounts: Mapping[str, float], prices: Prices | None, packs: Mapping[str, float]) -> tuple[Purchase, ...]:
    """The shopping list. ``amounts`` kg or m³ by name, those of 0 left out; ``packs`` : sizes of packs known without a
    price, kg or m³.
    """
    found = []
    for name, amount in amounts.items():
        if amount <= 0.0:
            continue
        one = None if prices is None else prices.items.get(name)
        if one is not None:
            count = one.packs(amount)
            found.append(Purchase(name, amount, BOUGHT[name], count, one.per, count * one.price))
        elif name in packs:
            found.append(
                Purchase(name, amount, BOUGHT[name], float(math.ceil(amount / packs[name] - 1e-9)), packs[name])
            )
        else:
            found.append(Purchase(name, amount, BOUGHT[name]))
    return tuple(found)
