"""What a workshop does at the prompt: zero, calibrations, settings, and the curve from drilled plates alone."""

import io
import re

import pytest
from prompt_json import result_of

from frothline.cli import main
from frothline.errors import InputError
from frothline.recording.writer import RecordingWriter
from frothline.sensors.calibration_file import load as load_calibration
from frothline.simulation.modelled import ModelledRig
from frothline.simulation.options import read_url
from frothline.sweep.recorded_source import load_sweeps
from frothline.wire import ENUMS

RIG = "modelled://idle?speed=10&seed=4"
HOLES = (20, 28, 36)  # mm


def answers(monkeypatch, text):
    monkeypatch.setattr("sys.stdin", io.StringIO(text))


def test_a_zero_is_kept_in_the_file_under_the_boards_name(tmp_path, monkeypatch, capsys):
    """NXP MPX5050 table (read): 0.20 V at rest, 0.088 to 0.313 V at the ends of its offset, over 5 V."""
    file = tmp_path / "bench.toml"
    answers(monkeypatch, "\n")
    assert main(["calibrate", "zero", "--port", RIG, "--into", str(file), "--json"]) == 0
    kept = load_calibration(file)
    assert 0.088 / 5 < kept.zeros["pressure"] < 0.313 / 5
    assert kept.board == "simulated 4"
    assert result_of(capsys.readouterr().out)["zero"] == pytest.approx(kept.zeros["pressure"])


@pytest.mark.slow
def test_a_supply_calibration_makes_the_board_read_what_the_meter_did(tmp_path, monkeypatch):
    """One factor: at the moment of calibration the calibrated reading is the meter's 4.93 V; a zero in the file stays."""
    file = tmp_path / "bench.toml"
    answers(monkeypatch, "\n")
    assert main(["calibrate", "zero", "--port", RIG, "--into", str(file)]) == 0
    answers(monkeypatch, "4.93\n")
    assert main(["calibrate", "supply", "--port", RIG, "--into", str(file)]) == 0
    kept = load_calibration(file)
    assert "pressure" in kept.zeros
    ((x, _, volts, _),) = kept.channels["supply"].points
    assert kept.channels["supply"].evaluate(x).value == pytest.approx(4.93)
    assert volts == pytest.approx(4.93)


@pytest.mark.slow
def test_a_decimal_comma_and_a_slip_of_the_finger_are_taken_kindly(tmp_path, monkeypatch, capsys):
    file = tmp_path / "bench.toml"
    answers(monkeypatch, "4.9e\n4,93\n")
    assert main(["calibrate", "supply", "--port", RIG, "--into", str(file)]) == 0
    assert "“e” is not a unit of voltage" in capsys.readouterr().err


@pytest.mark.slow
def test_answers_that_end_too_soon_leave_no_file(tmp_path, monkeypatch, capsys):
    file = tmp_path / "bench.toml"
    answers(monkeypatch, "0\n20\n")
    assert main(["calibrate", "pressure", "--port", RIG, "--into", str(file)]) == 2
    assert "ended before" in capsys.readouterr().err
    assert not file.exists()


def test_settings_are_shown_and_changed(capsys):
    assert main(["settings", "--port", RIG, "--json"]) == 0
    before = result_of(capsys.readouterr().out)
    assert before["written"] is False
    assert main(["settings", "--port", RIG, "--label", "bench 1", "--pressure-sensor", "mpx5010", "--json"]) == 0
    after = result_of(capsys.readouterr().out)
    assert (after["label"], after["pressure_sensor"], after["written"]) == ("bench 1", "mpx5010", True)
    assert after["temperature_sensor"] == before["temperature_sensor"]


def test_a_linear_sensor_is_set_from_its_data_sheet_and_shown(capsys):
    """0.5 to 4.5 V unless other voltages are given; range and accuracy have no default."""
    line = ["--pressure-range", "0", "30kPa", "--pressure-accuracy", "1%"]
    assert main(["settings", "--port", RIG, *line, "--json"]) == 0
    shown = result_of(capsys.readouterr().out)
    assert (shown["pressure_sensor"], shown["written"]) == ("linear_pressure", True)
    assert shown["pressure_line"] == "0 to 30 kPa, 0.5 to 4.5 V, ±1 % of the span"
    volts = [
        "--differential-range",
        "-2.5",
        "2.5",
        "--differential-accuracy",
        "0.25",
        "--differential-volts",
        "0.25V",
        "4",
    ]
    assert main(["settings", "--port", RIG, *volts, "--json"]) == 0
    shown = result_of(capsys.readouterr().out)
    assert shown["differential_line"] == "-2.5 to 2.5 kPa, 0.25 to 4 V, ±0.25 % of the span"
    assert "differential" in shown["enabled"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--pressure-sensor", "linear_pressure"], "needs its range and accuracy"),
        (["--pressure-range", "0", "30"], "the accuracy of the linear sensor is missing"),
        (["--pressure-accuracy", "1"], "the range of the linear sensor is missing"),
        (["--pressure-range", "30", "0", "--pressure-accuracy", "1"], "is not above the first"),
        (["--pressure-range", "0", "30", "--pressure-accuracy", "1", "--pressure-volts", "4.5", "0.5"], "not above"),
        (["--pressure-range", "0", "30", "--pressure-sensor", "mpx5010"], "does not apply to an mpx5010"),
    ],
)
def test_a_linear_sensor_that_is_not_fully_stated_is_refused_with_the_option(capsys, words, said):
    assert main(["settings", "--port", RIG, *words]) == 2
    complaint = capsys.readouterr().err
    assert said in complaint
    assert "--pressure-" in complaint


def test_a_board_of_older_firmware_is_named_when_a_linear_sensor_is_set(capsys, monkeypatch):
    from frothline.simulation.board import ModelledBoard

    obey = ModelledBoard._obey

    def older(board, command, record):
        if command.name != "write_linear_sensor":
            obey(board, command, record)
            return
        result = ENUMS["ack_result"]["unknown_command"]
        board._send("ack", command=command.id, command_sequence=int(record["sequence"]), result=result)

    monkeypatch.setattr(ModelledBoard, "_obey", older)
    assert main(["settings", "--port", RIG, "--pressure-range", "0", "30", "--pressure-accuracy", "1"]) != 0
    assert "frothline flash" in capsys.readouterr().err


def test_a_label_that_does_not_fit_the_board_is_refused(capsys):
    assert main(["settings", "--port", RIG, "--label", "a name of seventeen"]) == 2
    assert "16 bytes" in capsys.readouterr().err


@pytest.fixture(scope="module")
def behind_plates(tmp_path_factory):
    """Recordings behind plates of 20, 28 and 36 mm, by the vane put in rightly and put in backwards."""
    folder, made = tmp_path_factory.mktemp("plates"), {"true flows": []}
    for way in ("right", "backwards"):
        made[way] = []
        for hole in HOLES:
            rig = ModelledRig(read_url("modelled://steady?seed=4"))
            rig.world.control("throttle", hole / 63)
            if way == "backwards":
                rig.world.control("fault", "rotor_backwards")
            rig.board.start()
            with RecordingWriter.create(folder, f"{way}-{hole}", source="modelled://steady?seed=4") as writer:
                writer.write(rig.run(45.0))  # the source warms up for the first half of it
            made[way].append(folder / f"{way}-{hole}.froth")
            if way == "right":
                made["true flows"].append(rig.world.truth["standard_flow"])
    return made


@pytest.mark.exhaustive
def test_plates_alone_tell_the_flow_and_the_curve(behind_plates):
    """Simulated source behind plates, no anemometer used. The simulated holes have a discharge of 0.62 and half a velocity
    head of the pipe in series; a sharp plate has 0.60 to 0.61 and none (ISO 5167-2): 3 %, and more for the largest, which
    is left out. The pressure sensor's uncalibrated band is half of 2.5 % of 50 kPa, 625 Pa, and flow goes with the root
    of the pressure."""
    found = load_sweeps(behind_plates["right"], holes=[hole / 1e3 for hole in HOLES])
    for number, truth in enumerate(behind_plates["true flows"][:2]):
        points = [point for point in found.points if point.source == number]
        assert points, found.refused
        assert points[-1].flow == pytest.approx(truth, rel=0.03 + 0.5 * 625 / points[-1].pressure)


@pytest.mark.exhaustive
def test_a_vane_fitted_backwards_is_told_by_the_plates_and_shown(behind_plates, capsys):
    """The simulated vane turns at 0.71 of its speed when it is hit from behind, whatever the opening."""
    code = main(["curve", *map(str, behind_plates["backwards"]), "--holes", *map(str, HOLES), "--json"])
    said = capsys.readouterr()
    assert code == 0
    (finding,) = [one for one in result_of(said.out)["findings"] if one["recording"] is None]
    assert finding["code"] == "flow-backwards"
    less = float(re.search(r"(\d+) % less than the plates", finding["what"])[1])
    assert less == pytest.approx(29, abs=8)  # the plates' own 8 %, see above
    assert "arrow" in said.err


@pytest.mark.exhaustive
def test_a_vane_put_in_rightly_is_not_blamed_by_the_plates(behind_plates):
    assert load_sweeps(behind_plates["right"], holes=[hole / 1e3 for hole in HOLES]).together == ()


@pytest.mark.exhaustive
def test_plates_have_nothing_to_say_of_a_vane_that_did_not_turn(tmp_path):
    """Without an anemometer the line reads as a rotor at rest; that is no disagreement."""
    paths = []
    for hole in HOLES:
        rig = ModelledRig(read_url("modelled://steady?seed=4"))
        rig.world.control("throttle", hole / 63)
        rig.world.instruments.k_factor = 0.0
        rig.board.start()
        with RecordingWriter.create(tmp_path, f"none-{hole}", source="modelled://steady?seed=4") as writer:
            writer.write(rig.run(20.0))
        paths.append(tmp_path / f"none-{hole}.froth")
    found = load_sweeps(paths, holes=[hole / 1e3 for hole in HOLES])
    assert len(found.points) >= 3
    assert found.together == ()


def test_holes_and_recordings_must_be_as_many(tmp_path):
    with pytest.raises(InputError, match="1 hole for 2 recordings"):
        load_sweeps([tmp_path / "a.froth", tmp_path / "b.froth"], holes=[0.02])


def test_a_hole_wider_than_the_pipe_is_taken_for_a_slip(tmp_path):
    """Metres for millimetres, mostly."""
    with pytest.raises(InputError, match="does not fit a bore"):
        load_sweeps([tmp_path / "a.froth"], holes=[20.0])
