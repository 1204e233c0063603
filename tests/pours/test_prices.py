"""The price file of a builder: packs, loose goods, and prices that are missing or of a wrong unit."""

import math

import pytest

from frothline.errors import InputError
from frothline.pours.prices import parse_prices, purchases

WHOLE = """
currency = "EUR"
[cement]
price = 5.40
per = "25 kg"
[sand]
price = 38
per = "1000 kg"
loose = true
[agent]
price = 12
per = "5 L"
[water]
price = 4
per = "1000 L"
loose = true
"""
AMOUNTS = {"cement": 168.0, "sand": 250.0, "agent": 1e-3, "water": 0.1}


def test_packs_are_bought_whole_and_loose_goods_by_amount():
    """168 kg are 7 bags: 37.80. A quarter tonne of sand: 9.50. One litre of agent is a can: 12. 100 L of water: 0.40."""
    found = purchases(AMOUNTS, parse_prices(WHOLE), {"cement": 25.0})
    assert [one.cost for one in found] == pytest.approx([37.80, 9.50, 12.0, 0.40])
    assert [one.packs for one in found] == pytest.approx([7.0, 0.25, 1.0, 0.1])


def test_a_missing_price_is_not_zero():
    without = parse_prices(WHOLE.replace("[sand]\nprice = 38", "[sand]"))
    assert "prices.toml: sand: “price” is missing" in without.problems
    costs = {one.name: one.cost for one in purchases(AMOUNTS, without, {})}
    assert math.isnan(costs["sand"])
    assert costs["cement"] == pytest.approx(37.80)
    assert all(math.isnan(one.cost) for one in purchases(AMOUNTS, None, {"cement": 25.0}))
    assert purchases(AMOUNTS | {"sand": 0.0}, None, {})[1].name == "agent"  # nothing of it is needed


def test_a_price_of_zero_is_a_price():
    assert purchases({"water": 0.1}, parse_prices(WHOLE.replace("price = 4\n", "price = 0\n")), {})[0].cost == 0.0


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"25 kg"', '"25 L"', "“L” is not a unit of mass"),
        ('"25 kg"', '"25 L"', "cement is bought by mass"),
        ('"5 L"', '"5 kg"', "agent is bought by volume"),
        ("5.40", "-5.40", "is not plausible"),
        ("5.40", '"cheap"', "“cheap” is not a number"),
        ("[cement]", "[cememt]", "did you mean “cement”?"),
        ('"25 kg"', '"0 kg"', "must be greater than 0"),
    ],
)
def test_a_wrong_price_is_asked_back_and_the_others_are_used(old, new, words):
    found = parse_prices(WHOLE.replace(old, new, 1))
    assert words in " ".join(found.problems)
    assert len(found.items) == 3


def test_a_file_that_is_not_toml_is_named_with_its_line():
    with pytest.raises(InputError, match="line 2"):
        parse_prices("currency = 'EUR'\nprice 5\n")
