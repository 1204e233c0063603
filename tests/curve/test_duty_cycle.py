"""Pumps that rest, and tanks with a cut-in, against plain arithmetic, a real gas, and a worked receiver."""

import math

import pytest
from fluid_properties import fluid_property
from prompt_json import result_of

from frothline.cli import main
from frothline.curve.duty_cycle import duty_run, pump_cycle
from frothline.curve.tank_duration import ATMOSPHERE, ROOM, tank_duration
from frothline.errors import InputError, OutsideValidity

BAR, LITRE = 1e5, 1e-3


def test_a_pump_that_runs_ten_minutes_and_rests_twenty():
    found = duty_run(25 * 60, 10 * 60, 20 * 60)  # 10 + rest + 10 + rest + 5
    assert (found.rests, found.elapsed, found.share) == (2, 65 * 60, pytest.approx(1 / 3))
    assert "3 parts" in found.words


def test_the_last_stretch_has_no_rest_after_it():
    assert duty_run(20 * 60, 10 * 60, 20 * 60).rests == 1
    assert duty_run(600.0, 600.0, 1200.0).elapsed == 600.0


@pytest.mark.parametrize("times", [(0, 600, 60), (60, 0, 60), (60, 600, -1), (math.nan, 600, 60), (60, 600, math.inf)])
def test_times_that_cannot_be_are_asked_back(times):
    with pytest.raises(InputError):
        duty_run(*times)


def test_a_pump_at_half_its_delivery_runs_half_of_the_time():
    cycle = pump_cycle(0.1, 1e-3, 2e-3)
    assert (cycle.on, cycle.off, cycle.share) == (pytest.approx(100.0), pytest.approx(100.0), 0.5)
    assert cycle.on / (cycle.on + cycle.off) == cycle.share
    assert not pump_cycle(0.1, 2e-3, 1e-3).reaches_cut_out


def real_gas(volume, high, low):
    """Standard volume between two gauge pressures at room temperature, CoolProp, m3 at 1.2 kg/m3."""
    density = [fluid_property("D", "T", ROOM, "P", one + ATMOSPHERE, "Air") for one in (high, low)]
    return volume * (density[0] - density[1]) / 1.2


def ideal_gas(volume, high, low):
    """The same by the gas law, V (p1 - p2)/(R T)/1.2, with the gas constant of the standard atmosphere."""
    return volume * (high - low) / (287.05287 * ROOM) / 1.2


# the ideal gas is 0.4 % from the real one between 3 and 8 bar (CoolProp)
@pytest.mark.parametrize(
    ("gas", "within"), [(ideal_gas, 1e-6), pytest.param(real_gas, 5e-3, marks=pytest.mark.exhaustive)]
)
def test_a_tank_with_a_cut_in_lasts_first_without_and_then_with_its_pump(gas, within):
    volume, full, cut_in, lowest, drawn, pump = 50 * LITRE, 8 * BAR, 6 * BAR, 3 * BAR, 4e-3, 2.5e-3
    found = tank_duration(volume, full, lowest, drawn, pump, cut_in)
    expected = gas(volume, full, cut_in) / drawn + gas(volume, cut_in, lowest) / (drawn - pump)
    assert found.lasting.seconds.value == pytest.approx(expected, rel=within)
    at_once = tank_duration(volume, full, lowest, drawn, pump)
    assert found.lasting.seconds.value < at_once.lasting.seconds.value
    both = tank_duration(volume, full, cut_in, drawn).lasting.seconds.standard_uncertainty
    assert found.lasting.seconds.standard_uncertainty > both


def test_the_receiver_of_the_handbook():
    # t = V (p1 - p2)/(C pa): 1000 cfm for 5 s between 110 and 100 psi, 14.7 psi, needs 122 ft3 (receiver formula of the
    # compressed-air handbooks, from memory); the free air is at 14.7 psi and room temperature
    foot, psi = 0.3048, 6894.757
    free = 14.7 * psi / (287.05287 * ROOM) / 1.2  # standard volume of one volume of free air
    drawn = 1000 * foot**3 / 60 * free
    found = tank_duration(122.5 * foot**3, 110 * psi, 100 * psi, drawn)
    assert found.lasting.seconds.value == pytest.approx(5.0, rel=2e-3)


def test_a_pump_that_keeps_up_names_its_share_of_the_time():
    found = tank_duration(50 * LITRE, 8 * BAR, 3 * BAR, 1e-3, 2.5e-3, 6 * BAR)
    assert found.keeps_up
    assert found.cycle.share == pytest.approx(0.4)
    assert "40 % of the time" in found.lasting.words


@pytest.mark.parametrize("cut_in", [2 * BAR, 8 * BAR, 9 * BAR])
def test_a_cut_in_outside_the_tank_is_asked_back(cut_in):
    with pytest.raises(OutsideValidity, match="cut-in"):
        tank_duration(50 * LITRE, 8 * BAR, 3 * BAR, 1e-3, 2.5e-3, cut_in)


def test_the_prompt_gives_rests_and_cycles(capsys):
    assert main(["sources", "inflator", "--run-time", "25", "--on", "10", "--rest", "20", "--json"]) == 0
    assert result_of(capsys.readouterr().out)["elapsed"] == 3900.0
    tank = ["--tank", "50", "--full", "8", "--down-to", "3", "--draw", "1", "--pump", "2.5", "--cut-in", "6"]
    assert main(["sources", *tank, "--json"]) == 0
    assert result_of(capsys.readouterr().out)["cycle"]["share"] == pytest.approx(0.4)
    assert main(["sources", "--run-time", "25"]) == 2
    assert "--on and --rest missing" in capsys.readouterr().err


def emptied(full, lowest, drawn, pump):
    """Seconds until a tank of 50 L without any warmth from its wall falls to ``lowest``, by small steps of energy.

    Ideal gas: dp = 1.4 R/V (T_in m_in - T m_out) dt, air from the pump at room temperature.
    """
    gas, volume, step, time = 287.05287, 0.05, 0.005, 0.0
    pressure, mass = full + ATMOSPHERE, (full + ATMOSPHERE) * volume / (gas * ROOM)
    while pressure > lowest + ATMOSPHERE:
        heat = pressure * volume / (mass * gas)
        pressure += 1.4 * gas / volume * 1.2 * (ROOM * pump - heat * drawn) * step
        mass += 1.2 * (pump - drawn) * step
        time += step
    return time


@pytest.mark.parametrize(("full", "lowest", "pump"), [(8, 4, 0.0), (8, 7.5, 0.0), (8, 1, 0.0), (8, 4, 1e-3)])
def test_the_interval_of_a_tank_includes_a_tank_that_gets_no_warmth(full, lowest, pump):
    found = tank_duration(50 * LITRE, full * BAR, lowest * BAR, 3e-3, pump).lasting.seconds
    cold = emptied(full * BAR, lowest * BAR, 3e-3, pump)
    assert found.value / 1.4 <= cold * 1.001  # the bound, within the steps
    assert found.lower < cold < found.value < found.upper
    assert found.lower <= found.value / 1.4
    assert found.standard_uncertainty >= (1 - 1 / 1.4) * found.value / math.sqrt(3)  # a rectangle below the value


def test_the_prompt_says_that_the_interval_includes_the_cooling(capsys):
    """4 bar of 50 L at 20 °C and 3 L/s are 66 s; 29 % less are 47 s."""
    tank = ["--tank", "50 L", "--full", "8 bar", "--down-to", "4 bar", "--draw", "3 L/s"]
    assert main(["sources", *tank, "--json"]) == 0
    seconds = result_of(capsys.readouterr().out)["seconds"]
    assert seconds["value"] == pytest.approx(66.0, abs=0.5)
    assert seconds["lower"] < 47.0
    assert main(["sources", *tank]) == 0
    assert "the interval includes the cooling of the tank" in capsys.readouterr().out


def test_a_pressure_that_no_workshop_tank_has_is_refused(capsys):
    assert tank_duration(50 * LITRE, 16 * BAR, 3 * BAR, 3e-3).lasting.seconds.known
    with pytest.raises(InputError, match="17 bar is more than 16 bar") as raised:
        tank_duration(50 * LITRE, 17 * BAR, 3 * BAR, 3e-3)
    assert raised.value.where == "full"
    assert main(["sources", "--tank", "50 L", "--full", "800 bar", "--down-to", "4 bar", "--draw", "3 L/s"]) == 2
    said = capsys.readouterr().err
    assert "--full 800 bar" in said
    assert "Check its unit" in said
