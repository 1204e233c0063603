"""The self-test on simulated rigs: all well where nothing is wrong, and each fault found in its own part."""

import json

import pytest
from prompt_json import result_of

from frothline.bench.self_test import ABSENT, FAULTY, GOOD, ODD, SKIPPED, SelfTest, at_rest
from frothline.bench.session import Session
from frothline.bench.snapshot import ChannelState
from frothline.cli import main
from frothline.errors import InputError, PortError

FAST = 20  # times real time


def walk(scenario="idle", *faults, level=2, patience=3.0, hands=True, options="", before=None):
    """Outcomes by part, and what was told on the way."""
    told = []
    with Session(f"modelled://{scenario}?speed={FAST}&seed=5{options}") as session:
        session.start(wait=True)
        for fault in faults:
            session.simulation.control("fault", fault)
        if before is not None:
            before(session.simulation)
        card = SelfTest(session, level=level, patience=patience, hands=hands).run(told.append)
    return card, {one.part: one for one in card.outcomes}, told


@pytest.mark.slow
def test_a_sound_rig_is_well_in_every_part():
    card, parts, told = walk()
    assert card.passed, card.wrong
    assert {p for p, one in parts.items() if one.verdict == GOOD} >= {
        "link", "supply", "pressure", "temperature", "ambient", "tap", "rotor", "button", "losses"}  # fmt: skip
    assert parts["scale"].verdict == ABSENT
    asked = " ".join(one.words for one in told if one.kind == "do")
    assert "blow" in asked.lower()
    assert "button" in asked


@pytest.mark.slow
def test_every_sensor_at_rest_is_looked_at_without_a_person():
    card, parts, told = walk(hands=False)
    assert card.passed
    assert {p for p, one in parts.items() if one.verdict == SKIPPED} == {"tap", "rotor", "button"}
    assert len([one for one in told if one.kind == "do"]) == 1  # to leave it alone


def test_a_supply_that_is_not_calibrated_says_that_a_diode_would_not_be_seen():
    """The reference is 1.0 to 1.2 V (ATmega328P data sheet): 5 V and the 4.6 V behind a diode look alike."""
    _, parts, _ = walk("idle", hands=False)
    assert parts["supply"].verdict == GOOD
    assert "not calibrated" in parts["supply"].seen
    assert "calibrate supply" in parts["supply"].remedy


def test_the_calibrated_supply_of_a_board_behind_a_diode_is_named_with_its_remedy():
    class View:
        def latest(self, name):
            assert name == "supply_voltage"
            return 4.62, 0.01

    found = at_rest.supply(View())
    assert found.verdict == ODD
    assert "4.62 V" in found.seen
    assert "diode" in found.remedy
    assert "Uno" in found.remedy


def test_a_linear_sensor_without_its_range_is_faulty_and_the_command_that_sets_it_is_named():
    class View:
        def channel(self, kind):
            return ChannelState(kind, "linear_pressure", kind, "PC0", 100.0, True)

        def pressure_sensor(self, kind):
            return None

    found = at_rest.pressure(View())
    assert found.verdict == FAULTY
    assert "its range is not set" in found.seen
    assert "frothline settings --pressure-range" in found.remedy


def test_a_pressure_sensor_that_is_unplugged_is_faulty_and_names_its_pin():
    _, parts, _ = walk("idle", "pressure_unplugged", hands=False)
    assert parts["pressure"].verdict == FAULTY
    assert "A0" in parts["pressure"].remedy
    assert parts["temperature"].verdict == GOOD


def test_a_thermistor_and_an_ambient_module_that_are_unplugged_are_faulty():
    _, parts, _ = walk("idle", "temperature_unplugged", "ambient_unplugged", hands=False)
    assert parts["temperature"].verdict == FAULTY
    assert parts["ambient"].verdict == FAULTY
    assert parts["pressure"].verdict == GOOD


@pytest.mark.slow
def test_the_ambient_module_may_be_missing_at_level_1():
    card, parts, _ = walk("idle", "ambient_unplugged", hands=False, level=1)
    assert parts["ambient"].verdict == ABSENT
    assert parts["rotor"].verdict == ABSENT
    assert card.passed


def test_a_scale_may_be_missing_below_level_3_only():
    _, parts, _ = walk(hands=False, level=3)
    assert parts["scale"].verdict == FAULTY


@pytest.mark.slow
def test_a_rotor_without_pulses_is_found_when_it_is_blown_at():
    card, parts, _ = walk("idle", "rotor_unplugged", patience=1.0)
    assert parts["rotor"].verdict == FAULTY
    assert [one.part for one in card.wrong] == ["rotor"]


@pytest.mark.exhaustive
@pytest.mark.slow
def test_a_blocked_tap_is_found_by_its_slow_answer():
    """A change that takes 300 s in place of the 5 ms of an open tube."""
    _, parts, _ = walk("idle", "tap_blocked")
    assert parts["tap"].verdict in {ODD, FAULTY}
    assert "clear" in parts["tap"].remedy or "Blow" in parts["tap"].remedy
    assert parts["pressure"].verdict == GOOD


@pytest.mark.slow
def test_a_supply_that_sags_by_more_than_the_bandgap_can_hide_is_seen():
    """ATmega328P table 28-7: the bandgap is 1.0 to 1.2 V, so 5 V less than 4.3 V is told even by the worst chip."""
    _, parts, _ = walk("idle", "board_supply_sag:1.2", hands=False)
    assert parts["supply"].verdict == ODD


@pytest.mark.slow
@pytest.mark.exhaustive
def test_the_scale_is_loaded_and_the_button_pressed_in_a_run_with_everything():
    """Simulated run: one kilogram of solution is poured into the reservoir on the scale."""
    _, parts, _ = walk("run", level=3)
    assert parts["scale"].verdict == GOOD
    assert parts["scale"].figures["scale_mass"] == pytest.approx(1.0, abs=0.05)
    assert parts["button"].verdict == GOOD
    assert parts["rotor"].verdict == GOOD


@pytest.mark.slow
def test_frames_that_were_spoilt_on_the_way_are_on_the_card():
    _, parts, _ = walk(hands=False, options="&damage=0.05")
    assert parts["losses"].verdict == ODD
    assert "damaged" in parts["losses"].seen


def test_the_card_is_printed_and_its_exit_code_says_all_well(capsys):
    assert main(["check", "--port", f"modelled://idle?speed={FAST}", "--at-rest"]) == 0
    out, err = capsys.readouterr()
    assert "all " in out
    assert out.count("good") >= 5
    assert "touch nothing" in err


@pytest.mark.slow
def test_the_card_as_json_and_the_exit_code_of_a_rig_that_wants_looking_at(capsys):
    assert main(["check", "--port", f"modelled://idle?speed={FAST}", "--at-rest", "--level", "3", "--json"]) == 1
    card = result_of(capsys.readouterr().out)
    assert card["passed"] is False
    assert {one["part"]: one["verdict"] for one in card["outcomes"]}["scale"] == FAULTY


def test_a_rig_that_is_not_there_is_an_error_of_the_port(capsys):
    assert main(["check", "--port", "/dev/does-not-exist", "--json"]) == 3
    assert json.loads(capsys.readouterr().out)["error"]["code"] == "port-not-found"


@pytest.mark.slow
def test_a_cable_that_is_pulled_ends_the_test_with_the_port_named():
    with Session(f"modelled://idle?speed={FAST}") as session:
        session.start(wait=True)
        session.simulation.control("cable", False)
        with pytest.raises(PortError):
            SelfTest(session).run()


def test_a_level_that_is_none_is_refused():
    with pytest.raises(InputError):
        SelfTest(None, level=4)
