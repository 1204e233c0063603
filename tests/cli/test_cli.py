"""The prompt: every command with its help, its JSON, its exit code, and errors without tracebacks."""

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from prompt_json import result_of

from frothline import cli
from frothline.bench.session import Session
from frothline.recording.writer import RecordingWriter
from frothline.simulation.modelled import ModelledRig, stream
from frothline.simulation.options import read_url
from frothline.wire import MESSAGES, StreamDecoder, encode

PROGRAM = [sys.executable, "-m", "frothline"]


@pytest.fixture(scope="session")
def sweep(tmp_path_factory):
    """A whole recorded sweep of the modelled rig, made as fast as it can be reckoned."""
    folder = tmp_path_factory.mktemp("sweeps")
    data, _ = stream("modelled://sweep?seed=6", 85.0)
    with RecordingWriter.create(folder, "sweep", source="modelled://sweep?seed=6") as writer:
        writer.write(data)
    return folder / "sweep.froth"


@pytest.fixture
def damaged(sweep, tmp_path):
    data = bytearray(sweep.read_bytes())
    data[len(data) // 2] ^= 0x10
    path = tmp_path / "damaged.froth"
    path.write_bytes(bytes(data))
    return path


def run(capsys, *arguments):
    code = cli.main([str(one) for one in arguments])
    said = capsys.readouterr()
    return code, said.out, said.err


# --- help ---------------------------------------------------------------------------------------------------------------


def actions_of(sub):
    return [action for action in sub._actions if action.dest != "help"]


def subparsers():
    (choices,) = [action for action in cli.parser()._actions if hasattr(action, "choices") and action.choices]
    return choices.choices


@pytest.mark.parametrize("name", sorted(subparsers()))
def test_every_command_and_every_option_has_a_help_text(name):
    sub = subparsers()[name]
    assert sub.description
    for action in actions_of(sub):
        assert action.help, f"{name} {action.option_strings or action.dest} has no help"


def test_the_commands_that_are_promised_are_there():
    assert {"demo", "live", "record", "find", "verify", "table", "export", "curve"} <= set(subparsers())


def test_every_command_takes_json():
    for name, sub in subparsers().items():
        assert any("--json" in action.option_strings for action in actions_of(sub)), name


def test_the_readme_names_no_command_that_is_not_there():
    readme = (Path(cli.__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"(?<!import )\bfrothline ([a-z]+)", readme))
    assert named
    assert named <= set(subparsers())


def test_every_exit_code_that_is_given_is_explained_in_the_help(capsys):
    with pytest.raises(SystemExit):
        cli.main(["--help"])
    text = capsys.readouterr().out
    for code, words in cli.EXIT_CODES.items():
        assert re.search(rf"^ +{code}  {re.escape(words)}", text, re.MULTILINE)


# --- verify -------------------------------------------------------------------------------------------------------------


def test_a_whole_recording_verifies_with_code_0(capsys, sweep):
    code, out, _ = run(capsys, "verify", sweep)
    assert code == 0
    assert out.startswith("sweep: ")
    assert "whole" in out


def test_a_damaged_recording_verifies_with_code_1_and_says_where(capsys, damaged):
    code, out, _ = run(capsys, "verify", damaged, "--json")
    assert code == 1
    (report,) = result_of(out)
    assert report["whole"] is False
    (place,) = report["damage"]
    assert abs(place["offset"] - damaged.stat().st_size // 2) < 256


def test_what_is_no_recording_is_code_4_and_one_line(capsys, tmp_path):
    other = tmp_path / "letter.froth"
    other.write_text("Dear builder,")
    code, out, err = run(capsys, "verify", other)
    assert code == 4
    assert not out
    assert err.count("\n") == 1
    assert "letter.froth" in err


def test_a_file_that_is_not_there_is_an_error_without_a_traceback(capsys, tmp_path):
    code, _, err = run(capsys, "verify", tmp_path / "gone.froth")
    assert code in {2, 4}
    assert "gone.froth" in err
    assert "Traceback" not in err


def test_an_error_in_json_is_an_object_with_a_stable_code(capsys, tmp_path):
    code, out, _ = run(capsys, "record", "--port", "/dev/ttyNOSUCHPORT", "--folder", tmp_path, "--json")
    assert code == 3
    assert json.loads(out)["error"]["code"] == "port-not-found"


# --- table --------------------------------------------------------------------------------------------------------------


def test_a_table_can_be_read_back_by_pandas_alone(capsys, sweep, tmp_path):
    target = tmp_path / "sweep.csv"
    code, out, _ = run(capsys, "table", sweep, "-o", target, "--json")
    assert code == 0
    said = result_of(out)
    table = pd.read_csv(target, comment="#")
    assert len(table) == said["rows"] > 8000  # 85 s at 100 Hz
    assert said["units"]["line_pressure"] == "Pa"
    assert 15e3 < table["line_pressure"].max() < 25e3


def test_a_recording_over_time_is_that_of_the_page_and_of_python(capsys, sweep):
    import frothline as fl

    frame = fl.overview(sweep, begin=2.0, end=12.0, points=4)
    code, out, _ = run(capsys, "overview", str(sweep), "--from", "2", "--to", "12 s", "--stretches", "4", "--json")
    found = json.loads(out)["result"]
    assert code == 0
    assert (found["stretch"], found["time"]) == (2.5, [2.0, 4.5, 7.0, 9.5])
    assert list(found["series"]) == frame.attrs["known"]
    assert found["series"]["line_pressure"]["unit"] == "Pa"
    for side in ("low", "high"):
        assert found["series"]["line_pressure"][side] == frame[f"line_pressure_{side}"].tolist()
    low, high = frame["line_pressure_low"][0], frame["line_pressure_high"][0]
    _, out, _ = run(capsys, "overview", str(sweep), "--from", "2", "--to", "12", "--stretches", "4")
    head, first = out.splitlines()[1:3]
    assert head.split()[:3] == ["From", "Pressure,", "kPa"]
    assert first.split()[:5] == ["2.0", "s", f"{low / 1e3:.4g}", "to", f"{high / 1e3:.4g}"]
    _, out, _ = run(capsys, "overview", str(sweep), "--from", "2", "--to", "12", "--stretches", "4", "--units", "us")
    assert out.splitlines()[2].split()[2] == f"{low / 249.08891:.4g}"  # 1 inch of water is 249.08891 Pa (NIST SP 811)


def test_a_part_of_no_length_and_a_stretch_without_samples_are_said(capsys, sweep):
    code, _, err = run(capsys, "overview", str(sweep), "--from", "9", "--to", "9")
    assert code == 2
    assert "the part from 9 s to 9 s is empty" in err
    _, out, _ = run(capsys, "overview", str(sweep), "--from", "0", "--to", "1e6", "--stretches", "2")
    assert out.splitlines()[3].split()[:3] == ["500000.0", "s", "–"]
    out = run(capsys, "overview", str(sweep), "--to", "1e6", "--stretches", "2", "--json")[1]
    assert json.loads(out)["result"]["series"]["line_pressure"]["low"][1] is None


def test_notes_are_listed_below_the_stretches_and_a_recording_without_readings_says_so(capsys, tmp_path):
    run_of_the_season = Path(__file__).parents[2] / "recordings" / "season" / "04-12-first-tube.froth"
    here = tmp_path / "one.froth"
    here.write_bytes(run_of_the_season.read_bytes())
    _, out, _ = run(capsys, "overview", here, "--stretches", "2")
    assert out.splitlines()[4].split() == ["2.5", "s", "step:", "air", "on"]
    content, line = here.read_bytes(), dict.fromkeys((field.name for field in MESSAGES["line"].fields), 0)
    head = [
        one.raw for one in StreamDecoder().feed(content[:6000]) if one.name not in ("line", "slow", "ambient", "scale")
    ]
    here.write_bytes(b"".join(head) + b"".join(encode("line", k, **line | {"tick": 20_000 * k}) for k in range(300)))
    code, out, err = run(capsys, "overview", here, "--to", "2")
    assert (code, err) == (0, "")
    assert out.splitlines()[1] == "No sensor gave a value"


def test_parquet_says_its_units(capsys, sweep, tmp_path):
    parquet = pytest.importorskip("pyarrow.parquet")
    target = tmp_path / "sweep.parquet"
    assert run(capsys, "export", sweep, "-o", target)[0] == 0
    assert parquet.read_schema(target).field("line_pressure").metadata[b"unit"] == b"Pa"


def test_a_table_does_not_write_over_a_file_unless_told(capsys, sweep, tmp_path):
    target = tmp_path / "mine.csv"
    target.write_text("precious")
    code, _, err = run(capsys, "table", sweep, "-o", target)
    assert code == 2
    assert "--overwrite" in err
    assert target.read_text() == "precious"
    assert run(capsys, "table", sweep, "-o", target, "--overwrite")[0] == 0


def test_an_unknown_kind_of_table_is_refused_before_anything_is_read(capsys, sweep, tmp_path):
    code, _, err = run(capsys, "table", sweep, "-o", tmp_path / "table.xlsx")
    assert code == 2
    assert "csv or parquet" in err


# --- curve --------------------------------------------------------------------------------------------------------------


def test_a_recorded_sweep_gives_a_curve_with_intervals(capsys, sweep):
    code, out, _ = run(capsys, "curve", sweep, "--json")
    assert code == 0
    said = result_of(out)
    for name in ("shut_off", "free_delivery", "air_power"):
        assert said[name]["lower"] < said[name]["value"] < said[name]["upper"]
    assert said["shut_off"]["unit"] == "Pa"
    # What the air really did, from the same seed without sensors or fit: the highest pressure is that at shut-off.
    _, world = stream("modelled://sweep?seed=6", 3.0)
    truth = world.truth["line_pressure"]
    assert said["shut_off"]["lower"] < truth < said["shut_off"]["upper"]


def test_the_text_of_a_curve_follows_the_reader_s_units(capsys, sweep):
    metric, inch = (run(capsys, "curve", sweep, "--units", units)[1] for units in ("metric", "inch-pound"))
    kpa = float(re.search(r"Shut-off pressure +([\d.]+) kPa", metric)[1])
    inches = float(re.search(r"Shut-off pressure +([\d.]+) inH₂O", inch)[1])
    assert inches / kpa == pytest.approx(4.01463, rel=2e-3)  # NIST SP 811, B.8: 1 inH2O (conventional) = 249.0889 Pa
    assert "points" in metric


def test_a_curve_is_given_as_found_and_in_standard_air(capsys, sweep):
    """The simulated motor's own figures at both densities; what the sensors have in common cancels in their ratio."""
    said = result_of(run(capsys, "curve", sweep, "--json")[1])
    _, world = stream("modelled://sweep?seed=6", 3.0)
    truth = world.figures()
    for name in ("shut_off", "free_delivery", "air_power"):
        step = said["standard"][name]["value"] / said[name]["value"]
        assert step == pytest.approx(truth[name] / truth[f"{name}_as_found"], abs=0.006)
    text = run(capsys, "curve", sweep)[1]
    assert text.index("as measured") < text.index("in standard air, 1.2 kg/m³ (it was measured in ")


def test_figures_at_another_altitude_and_voltage_follow_the_fan_laws(capsys, sweep):
    said = result_of(run(capsys, "curve", sweep, "--altitude", 1000, "--motor", "constant speed", "--json")[1])
    # US Standard Atmosphere 1976 at 1000 m: 1.1116590 kg/m3; of a governed source pressure goes with the density
    assert said["elsewhere"]["density"] == pytest.approx(1.1116590, rel=1e-4)
    ratio = said["elsewhere"]["shut_off"]["value"] / said["standard"]["shut_off"]["value"]
    assert ratio == pytest.approx(1.1116590 / 1.2, rel=1e-3)
    code, _, err = run(capsys, "curve", sweep, "--volts", 230, 0)
    assert code == 2
    assert "--volts" in err


@pytest.mark.exhaustive
def test_sweeps_of_two_sources_are_told_apart_with_code_1(capsys, sweep, tmp_path):
    data, _ = stream("modelled://sweep-hump?seed=6", 85.0)
    with RecordingWriter.create(tmp_path, "other", source="modelled://sweep") as writer:
        writer.write(data)
    code, out, _ = run(capsys, "curve", sweep, tmp_path / "other.froth", "--json")
    assert code == 1
    assert result_of(out)["pooling"]["same"] is False
    code, _, err = run(capsys, "curve", sweep, sweep)
    assert code == 2
    assert "given twice" in err


@pytest.mark.exhaustive
def test_sweeps_of_one_source_with_boards_of_two_tick_rates_are_one_curve(capsys, sweep, tmp_path):
    again, _ = stream("modelled://sweep?seed=6&tick=5000", 85.0)
    with RecordingWriter.create(tmp_path, "again", source="modelled://sweep") as writer:
        writer.write(again)
    code, out, _ = run(capsys, "curve", sweep, tmp_path / "again.froth")
    assert code == 0
    assert "one curve fits all 2 sweeps" in out


def test_every_kind_of_air_source_is_told_how_it_is_measured(capsys):
    code, out, _ = run(capsys, "sources")
    assert code == 0
    # the kinds that a builder owns
    for name in ("vacuum", "leaf blower", "inflator", "compressor"):
        assert f"{name}: " in out
    assert "caution: " in out
    assert run(capsys, "sources", "hairdryer")[0] == 2


def test_how_long_a_compressors_tank_lasts_is_told_with_its_cautions(capsys):
    """t = V (p1 - p2) / (C pa), the rule for air receivers of compressed-air handbooks (from memory), C free air at pa:
    60 US gal = 8.0208 ft3 from 125 to 90 psi at 10 cfm and 14.696 psi: 8.0208 x 35 / (10 x 14.696) min = 114.6 s. 1 %:
    free air at 20 °C has 1.204 kg/m3, not 1.2."""
    tank = ("--tank", 60, "--full", 125, "--down-to", 90, "--draw", 10, "--units", "inch-pound")
    code, out, _ = run(capsys, "sources", "compressor", *tank, "--json")
    said = result_of(out)
    assert code == 0
    assert said["seconds"]["value"] == pytest.approx(114.6, rel=0.01)
    # A gauge of 2.5 % of 16 bar at both ends of a fall of 2.413 bar alone: sqrt 2 x 0.231 / 2.413 = 13.5 %, by hand.
    assert said["seconds"]["standard_uncertainty"] / said["seconds"]["value"] > 0.135
    cautions = " ".join(said["cautions"])
    for word in ("regulator", "relief valve", "pipe that its maker rates for gas", "local codes"):
        assert word in cautions
    _, out, _ = run(capsys, "sources", *tank)
    assert "the tank lasts 120 s (60 to 150, 95 %)" in out
    assert "cfm; then its pressure is 90 psi above ambient" in out
    assert all(one in out for one in said["cautions"])


def test_a_pump_that_keeps_up_is_told_from_one_that_does_not(capsys):
    tank = ("--tank", 50, "--full", 8, "--down-to", 4, "--draw", 3)
    _, out, _ = run(capsys, "sources", *tank, "--pump", 4)
    assert "the pump is sufficient" in out
    _, out, _ = run(capsys, "sources", *tank, "--pump", 1, "--json")
    # mass balance by hand: 0.05 x 4e5 / (287.05 x 293.15) / 1.2 = 0.1981 m3 of standard air, 2 L/s short: 99 s
    assert result_of(out)["seconds"]["value"] == pytest.approx(99.0, rel=0.005)


@pytest.mark.parametrize(
    ("tank", "where"),
    [
        (("--tank", 50), "--full and --down-to and --draw"),
        (("--pump", 2), "--tank"),
        (("--tank", 50, "--full", 4, "--down-to", 6, "--draw", 3), "--down-to"),
        (("vacuum", "--tank", 50, "--full", 8, "--down-to", 6, "--draw", 3), "vacuum has no tank"),
    ],
)
def test_what_is_no_tank_is_refused_with_what_is_wrong(capsys, tank, where):
    code, out, err = run(capsys, "sources", *tank)
    assert code == 2
    assert not out
    assert where in err


def test_which_source_can_carry_a_generator_is_said_with_where_they_meet(capsys, sweep):
    """A resistance that no blower of 25 kPa can push 10 L/s through: 10 L/s of p = B q2 asks for 100 kPa at B = 1e9."""
    code, out, _ = run(capsys, "compare", sweep, "--resistance", 0, 6e6, "--json")
    said = result_of(out)
    assert code == 0
    (one,) = said["carried"]
    assert one["can"]
    flow, pressure = one["flow"]["value"], one["pressure"]["value"]
    assert pressure == pytest.approx(6e6 * flow**2, rel=1e-3)  # it lies on the generator's line
    assert len(said["traces"][0]["flow"]) == len(said["traces"][0]["lower"])
    code, out, _ = run(capsys, "compare", sweep, "--resistance", 0, 1e9, "--wanted", 10)
    assert code == 1
    assert out.startswith("sweep does not drive it: too weak")
    assert run(capsys, "compare", sweep, "--wanted", 10)[0] == 2


@pytest.mark.exhaustive
def test_what_looks_wrong_with_a_sweep_is_said_beside_its_curve(capsys, tmp_path):
    """The board's supply sags in the middle of the sweep; the curve is fitted all the same."""
    rig = ModelledRig(read_url("modelled://sweep?seed=6"))
    rig.board.start()
    data = rig.run(60.0)
    rig.control("fault", "board_supply_sag")
    data += rig.run(25.0)
    with RecordingWriter.create(tmp_path, "sagging", source="modelled://sweep") as writer:
        writer.write(data)
    code, out, err = run(capsys, "curve", tmp_path / "sagging.froth", "--json")
    assert code == 0
    assert [one["code"] for one in result_of(out)["findings"]] == ["supply-sagging"]
    assert "warning: " in err
    assert "supply fell by" in err


def test_points_are_listed_with_what_was_refused_and_why(capsys, sweep):
    out = run(capsys, "curve", sweep, "--list-points")[1]
    assert len(re.findall(r"^ +[\d.]+ +[\d.]+ +[\d.e+-]+ +[\d.e+-]+$", out, re.MULTILINE)) >= 8


def test_a_recording_too_short_for_a_curve_is_code_5_and_says_what_to_do(capsys, tmp_path):
    data, _ = stream("modelled://steady?seed=1", 2.0)
    with RecordingWriter.create(tmp_path, "short") as writer:
        writer.write(data)
    code, _, err = run(capsys, "curve", tmp_path / "short.froth")
    assert code == 5
    assert "Hold each opening" in err


# --- record, find -------------------------------------------------------------------------------------------------------


def test_a_recording_at_the_prompt_is_whole_and_keeps_the_note(capsys, tmp_path):
    code, out, _ = run(
        capsys, "record", "first", "--port", "modelled://steady", "--folder", tmp_path, "--seconds", 1, "--note", "warm",
        "--json",
    )  # fmt: skip
    assert code == 0
    said = result_of(out)
    assert said["path"] == str(tmp_path / "first.froth")
    assert said["losses"]["missing"] == 0
    assert 'note = "warm"' in (tmp_path / "first.toml").read_text()
    assert run(capsys, "verify", tmp_path / "first.froth")[0] == 0


def test_losses_while_recording_are_code_1(capsys, tmp_path):
    code, out, _ = run(
        capsys, "record", "--port", "modelled://steady?damage=0.05", "--folder", tmp_path, "--seconds", 1.5, "--json"
    )
    assert code == 1
    losses = result_of(out)["losses"]
    assert losses["damaged"] + losses["missing"] > 0


@pytest.mark.parametrize("rate", [9, 501])
def test_a_rate_the_board_has_not_is_a_usage_error(capsys, tmp_path, rate):
    code, _, err = run(capsys, "record", "--port", "modelled://steady", "--folder", tmp_path, "--rate", rate)
    assert code == 2
    assert "--rate" in err


def test_a_bad_scenario_says_which_there_are(capsys, tmp_path):
    code, _, err = run(capsys, "demo", "--scenario", "moon", "--no-browser", "--folder", tmp_path)
    assert code == 2
    assert "sweep" in err


def test_finding_nothing_is_code_3_and_lists_what_was_asked(capsys, monkeypatch):
    from frothline.rig import finder

    gone = finder.PortCandidate("/dev/ttyGONE", "a device")
    monkeypatch.setattr("frothline.cli.find.candidates", lambda: [gone])
    code, out, _ = run(capsys, "find", "--patience", "0.2", "--json")
    assert code == 3
    report = result_of(out)
    assert report["rigs"] == []
    assert report["others"][0]["code"] == "port-not-found"


# --- as a program ---------------------------------------------------------------------------------------------------------


def test_a_fault_of_the_program_is_one_line_with_code_70(capsys, monkeypatch, sweep):
    monkeypatch.setattr("frothline.cli.verify.verify", lambda _: 1 / 0)
    code, _, err = run(capsys, "verify", sweep)
    assert code == 70
    assert err.count("\n") == 1
    assert "--traceback" in err


def test_a_wrong_command_line_is_code_2():
    with pytest.raises(SystemExit) as caught:
        cli.main(["verify"])
    assert caught.value.code == 2


def test_verify_loads_neither_pandas_nor_scipy_nor_the_pages(sweep):
    program = (
        "import sys; from frothline.cli import main; code = main(['verify', sys.argv[1]]);"
        "print([name for name in ('pandas', 'scipy', 'dash', 'plotly') if name in sys.modules]); sys.exit(code)"
    )
    command = [sys.executable, "-c", program, str(sweep)]
    done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0
    assert done.stdout.splitlines()[-1] == "[]"


def begin(command):
    """The program as a terminal would start it: with Ctrl-C alive, also where the tests themselves run without."""
    return subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),  # noqa: PLW1509  one thread here
    )


@pytest.mark.skipif(os.name == "nt", reason="signals as on POSIX")
@pytest.mark.parametrize("by", [signal.SIGINT, signal.SIGTERM])
def test_a_recording_that_is_interrupted_is_closed_in_order(tmp_path, by):
    command = [*PROGRAM, "record", "cut", "--port", "modelled://steady", "--folder", str(tmp_path)]
    running = begin(command)
    assert "recording to" in running.stderr.readline()
    time.sleep(0.7)
    running.send_signal(by)
    out, err = running.communicate(timeout=120)
    assert running.returncode == 0, err
    assert "no data lost" in out
    assert "Traceback" not in err
    assert cli.main(["verify", str(tmp_path / "cut.froth"), "--quiet"]) == 0


@pytest.mark.skipif(os.name == "nt", reason="signals as on POSIX")
def test_the_demo_serves_on_loopback_says_where_and_ends_with_ctrl_c(tmp_path):
    demo_to_first_page(tmp_path)


@pytest.mark.benchmark
@pytest.mark.skipif(os.name == "nt", reason="signals as on POSIX")
def test_the_demo_serves_its_first_page_within_ten_seconds(tmp_path):
    """The promise of the first page after the install."""
    assert demo_to_first_page(tmp_path) < 10


def demo_to_first_page(tmp_path):
    """Seconds until the demo says where it is served."""
    command = [*PROGRAM, "demo", "--no-browser", "--folder", str(tmp_path), "--json"]
    began = time.monotonic()
    running = begin(command)
    said = result_of(running.stdout.readline())
    took = time.monotonic() - began
    assert re.fullmatch(r"http://127\.0\.0\.1:\d+/?", said["address"])
    assert said["folder"] == str(tmp_path)
    with urllib.request.urlopen(said["address"], timeout=120) as page:
        assert page.status == 200
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=120)
    assert running.returncode == 0, err
    assert "Traceback" not in err
    assert cli.main(["verify", str(tmp_path / "demo.froth"), "--quiet"]) == 0
    return took


def test_a_port_for_pages_that_is_taken_is_said(capsys, tmp_path):
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        code, _, err = run(capsys, "demo", "--no-browser", "--folder", tmp_path, "--no-record", "--web-port", port)
    assert code == 2
    assert str(port) in err


def test_json_never_holds_nan():
    from frothline.cli.output import plain

    text = json.dumps(plain({"a": float("nan"), "b": np.array([1.0, np.inf]), "c": Session}), allow_nan=False)
    assert json.loads(text)["b"] == [1.0, None]


# --- a sweep through a generator


@pytest.mark.slow
@pytest.mark.exhaustive
def test_a_generator_is_swept_at_the_prompt_and_told_what_takes_the_recording(capsys, tmp_path):
    sheet = tmp_path / "tube.toml"
    assert run(capsys, "build", "--new", sheet)[0] == 0
    port = "modelled://generator-dry?seed=3&speed=10"
    code, out, err = run(
        capsys, "record", "tube-dry", "--through", "dry", "--build", sheet, "--port", port, "--folder", tmp_path
    )
    assert code == 0
    assert "SLIGHTLY MORE AIR" in err
    assert "with --dry-sweep" in out
    code, _, err = run(capsys, "curve", tmp_path / "tube-dry.froth")
    assert code == 2
    assert "not of an air source" in err
    assert "swapped" not in err  # pressure and flow rise together, as they should here


def test_a_sheet_at_the_prompt_goes_with_a_sweep_through_its_generator(capsys, tmp_path):
    code, _, err = run(capsys, "record", "--build", tmp_path / "tube.toml", "--port", "modelled://steady")
    assert code == 2
    assert "Give --through as well" in err
