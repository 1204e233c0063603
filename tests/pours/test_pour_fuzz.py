"""Whatever somebody types into a pour's file gives figures, or words on what is wrong with it."""

import random
from contextlib import suppress

import pytest
from test_pour_record import WHOLE

from frothline.errors import FrothlineError, TooFewPoints
from frothline.estimate import Estimate
from frothline.pours.outcome import judge_pour
from frothline.pours.record import parse_pour
from frothline.pours.strength import fit_strength, strengths

ODD = '0|-1|1e308|nan|inf|""|"0 kg"|"1e9 kg"|true|[]|{}|"½ kg"|"1,200 kg"|9999999999999999999999|"-5 d"|1979-05-27|"1 g"|"1 L"'
FOAMS = (None, Estimate.normal(75.0, 1.0, "kg/m3"), Estimate.normal(0.5, 0.1, "kg/m3"))


def changed(rng):
    lines = WHOLE.split("\n")
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(lines))
        if "=" in lines[at] and rng.random() < 0.8:
            lines[at] = f"{lines[at].split('=')[0]}= {rng.choice(ODD.split('|'))}"
        elif rng.random() < 0.5:
            del lines[at]
        else:
            lines.insert(at, rng.choice(lines))
    return "\n".join(lines)


@pytest.mark.parametrize("times", [300, pytest.param(20_000, marks=pytest.mark.exhaustive)])
def test_no_entry_ends_in_a_traceback(times):
    rng, read = random.Random(4), 0
    for _ in range(times):
        try:
            pour = parse_pour(changed(rng), "x")
        except FrothlineError:
            continue
        read += 1
        for foam in FOAMS:
            judge_pour(pour, foam)
        strengths(pour)
        with suppress(TooFewPoints):
            fit_strength([pour] * 4)
    assert read > times / 2
