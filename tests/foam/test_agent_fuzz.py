"""Whatever somebody types into the file of an agent, of prices or of a plan gives figures, or words on what is wrong."""

import random
from pathlib import Path

import pytest
from test_agent_file import WHOLE

from frothline.bench.pour_planning import work_plan
from frothline.errors import FrothlineError
from frothline.estimate import Estimate
from frothline.foam.agent_file import parse_agent
from frothline.foam.batch_order import MeasuredFoam
from frothline.pours.plan_file import parse_plan
from frothline.pours.prices import parse_prices, purchases
from frothline.toml_text import TomlUnreadable

ODD = '0|-1|1e308|nan|inf|""|"0 kg"|"1e9 kg"|true|[]|{}|"½ kg"|"1,200 kg"|9999999999999999999999|1979-05-27|"1 g"|"1 L"|[1, 2]'
PRICES = '[cement]\nprice = 5.40\nper = "25 kg"\nloose = false\n[agent]\nprice = 12\nper = "5 L"\n[water]\nprice = 0\nper = "1 L"\n'
PLAN = (
    '[form]\nlength = "2 m"\nwidth = "1 m"\nheight = "1 m"\n[mixer]\nvolume = "200 L"\n[foam]\noutput = "60 L/min (55 to 65)"\n'
    '[times]\nload = "2 min"\n[sources]\n"blower" = "240 L/min"\n'
)
FOAM = MeasuredFoam(Estimate.normal(75.0, 1.0, "kg/m3"))


def use_prices(text):
    purchases({"cement": 100.0, "agent": 1e-3, "water": 0.1, "sand": 5.0}, parse_prices(text, Path("prices.toml")), {})


def use_plan(text):
    given, wrong = parse_plan(text)
    given.pop("prices", None)
    given.pop("trial", None)
    work_plan(given, foam_of=lambda values: MeasuredFoam(FOAM.density, values.get("output")), wrong=wrong)


USES = {"agent": (WHOLE, lambda text: parse_agent(text, "x")), "prices": (PRICES, use_prices), "plan": (PLAN, use_plan)}


def changed(text, rng):
    lines = text.split("\n")
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(lines))
        if "=" in lines[at] and rng.random() < 0.8:
            lines[at] = f"{lines[at].split('=')[0]}= {rng.choice(ODD.split('|'))}"
        elif rng.random() < 0.5:
            del lines[at]
        else:
            lines.insert(at, rng.choice(lines))
    return "\n".join(lines)


@pytest.mark.parametrize("name", USES)
@pytest.mark.parametrize("times", [30, pytest.param(4000, marks=pytest.mark.exhaustive)])
def test_no_entry_ends_in_a_traceback(name, times):
    rng, read = random.Random(7), 0
    text, use = USES[name]
    for _ in range(times):
        try:
            use(changed(text, rng))
        except (FrothlineError, TomlUnreadable):
            continue
        read += 1
    assert read > times / 3
