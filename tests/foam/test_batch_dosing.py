"""Measuring out the foam: start-up, level buckets, refills; what a cup says of the mixer; figures that are a slip."""

import dataclasses
import itertools
import math
import shutil
import tomllib
from pathlib import Path

import numpy as np
import pytest
import scipy.stats

from frothline import cli
from frothline.errors import InputError
from frothline.estimate import Estimate
from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import correct_cast, mix_batch
from frothline.foam.dosing import START_UP, mean_start_up, refills, run_time, start_up_of
from frothline.foam.survival import LOWEST, learn_survival, scatter_between_batches, survival_of_cup
from frothline.trials.cup_notes import keep_cup, read_cup
from frothline.trials.notebook import Notebook
from frothline.trials.workshop_foam import foam_habits

SEASON = Path(__file__).parents[2] / "recordings" / "season"
LITRES_A_MINUTE = 1e-3 / 60


def exact(value, unit="1"):
    return Estimate.normal(value, 0.0, unit)


def workshop_foam(**more):
    start = Estimate.normal(5.0, 0.0, "s")
    return MeasuredFoam(
        exact(75.0, "kg/m3"), exact(240 * LITRES_A_MINUTE, "m3/s"), exact(1.0), **{"start_up": start} | more
    )


# --- start-up -------------------------------------------------------------------------------------------------------


def poured(batch, seconds, start_up, output):
    """Cast density where the generator gave nothing for ``start_up`` s and all of its foam after that."""
    foam = output * max(seconds - start_up, 0.0)
    mass = batch.mix.cement + batch.mix.mixer_water + foam * 75.0
    return mass / (batch.mix.base_volume + foam)


def test_the_run_time_of_a_bag_counts_the_seconds_before_the_first_foam():
    """One bag of 25 kg at 646 kg/m3 by 240 L/min with 5 s of start-up. Without them 20 L are missing: 5 s x 4 L/s."""
    foam = workshop_foam()
    batch = mix_batch(BatchOrder(646, 25 * 1.5 / 646, 0.5), foam)
    assert batch.bags == pytest.approx(1.0)
    flowing = batch.foam_volume / foam.output.value
    assert batch.run_time.value == pytest.approx(5.0 + flowing)
    assert poured(batch, batch.run_time.value, 5.0, foam.output.value) == pytest.approx(646, rel=1e-3)
    assert poured(batch, flowing, 5.0, foam.output.value) > 900  # as it was when start-up was left out


def test_a_short_run_is_dosed_by_struck_buckets_and_a_long_one_by_time():
    short = mix_batch(BatchOrder(646, 0.058, 0.5), workshop_foam())
    assert short.run_time.value < 30
    assert short.dosing.by == "bucket"
    assert short.dosing.buckets == pytest.approx(short.foam_volume / 0.010)
    assert "level buckets of 10 L" in short.said[-1]
    long = mix_batch(BatchOrder(646, 0.5, 0.5, bucket=0.012), workshop_foam())
    assert long.run_time.value > 30
    assert long.dosing.by == "time"
    assert long.per_bag["buckets"] == pytest.approx(long.per_bag["foam_volume"] / 0.012)
    assert any("dose single bags by the bucket" in one for one in long.said)
    # the start-up is there once for each run, so the bags' times add up to more than that of one long run
    assert long.per_bag["run_time"] * long.bags > long.run_time.value
    untimed = mix_batch(BatchOrder(646, 0.5, 0.5), MeasuredFoam(exact(75.0, "kg/m3")))
    assert untimed.run_time is None
    assert untimed.dosing.by == "bucket"


def test_an_unknown_start_up_widens_the_density_of_a_short_run_by_time():
    sure = mix_batch(BatchOrder(646, 0.35, 0.5), workshop_foam())
    unsure = mix_batch(BatchOrder(646, 0.35, 0.5), workshop_foam(start_up=START_UP))
    assert unsure.dosing.by == sure.dosing.by == "time"
    by_hand = (646 - 75) / 0.35 * 4e-3 * START_UP.standard_uncertainty  # dD = (D - rho_f)/V x Q dt
    assert unsure.cast_density.standard_uncertainty == pytest.approx(by_hand, rel=0.02)
    assert sure.cast_density.standard_uncertainty == pytest.approx(0.0, abs=1e-6)


def line(start, rise, level=11800.0, noise=30.0, seed=1):
    """Line pressure of a run: air on at ``start``, an exponential approach, noise."""
    time = np.arange(0.0, 40.0, 0.01)
    random = np.random.default_rng(seed)
    pressure = np.where(time > start, level * (1 - np.exp(-(time - start) / rise)), 0.0)
    return time, pressure + noise * random.standard_normal(len(time))


@pytest.mark.parametrize("rise", [0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_start_up_of_a_recorded_run_lies_between_air_on_and_steady_pressure(rise, seed):
    """A generator whose foam follows the pressure lacks ``rise`` seconds of foam: the integral of exp(-t/rise)."""
    time, pressure = line(3.0, rise, seed=seed)
    found = start_up_of(time, pressure, (25.0, 38.0))
    assert found.lower <= rise <= found.upper
    assert found.upper < 10 * rise + 4.0


def test_the_end_of_the_start_up_follows_from_the_noise_of_the_steady_pressure():
    """The line is steady within 0.5 % of its pressure and two standard deviations of its noise.

    A noise of +-120 Pa has a median absolute deviation of 120 Pa, so a normal one of it has 120/Phi^-1(3/4) Pa, with
    Phi^-1 from scipy.stats. Pressure without noise rises to 12 kPa with a time constant of 3 s.
    """
    time = np.arange(0.0, 60.0, 0.01)
    pressure = np.where(time > 3.0, 12e3 * (1 - np.exp(-np.maximum(time - 3.0, 0.0) / 3.0)), 0.0)
    settled = time >= 45.0
    pressure[settled] += np.where(np.arange(np.count_nonzero(settled)) % 2, 120.0, -120.0)
    near = 0.005 * 12e3 + 2.0 * 120.0 / scipy.stats.norm.ppf(0.75)
    reached = 3.0 * math.log(12e3 / near)
    low = 3.0 * math.log(12e3 / (12e3 - 1200.0))  # air counts as on from a tenth of the pressure
    found = start_up_of(time, pressure, (45.0, 57.995))  # as many readings above as below
    assert 2 * found.value == pytest.approx(reached - low, abs=0.03)


def test_a_recording_that_begins_with_foam_tells_nothing_of_the_start():
    time, pressure = line(3.0, 1.0)
    late = time > 20
    assert start_up_of(time[late], pressure[late], (25.0, 38.0)) is None
    assert mean_start_up([]) == START_UP


def test_several_runs_of_one_generator_are_averaged_and_never_surer_than_one():
    one, other = (Estimate(v, 1.0, 0.2, v + 2, "s") for v in (2.0, 4.0))
    both = mean_start_up([one, other])
    assert both.value == pytest.approx(3.0)
    assert both.standard_uncertainty >= math.hypot(1.0, math.sqrt(2.0)) - 1e-9
    assert 0.0 <= both.lower < both.value < both.upper


def test_the_limits_of_a_run_time_follow_from_those_of_output_and_start_up():
    output = Estimate(4e-3, 4e-4, 3.3e-3, 4.9e-3, "m3/s")
    found = run_time(0.4, output, exact(5.0, "s"))
    assert found.value == pytest.approx(105.0)
    assert found.lower == pytest.approx(5.0 + 0.4 / 4.9e-3)
    assert found.upper == pytest.approx(5.0 + 0.4 / 3.3e-3)
    assert run_time(0.4, None, START_UP) is None


# --- reservoir ------------------------------------------------------------------------------------------------------


def test_a_reservoir_that_is_too_small_is_refilled_and_the_times_are_given():
    """10.8 L of a reservoir of 12 L each time. At 240 L/min of 75 kg/m3 0.3 kg/s are drawn from air on: after 35.9 and
    71.9 s (hand)."""
    found = refills(34.5e-3, 30e-3, 12e-3, exact(4e-3, "m3/s"), 75.0, 2)
    assert found.times == pytest.approx((35.9, 71.9), abs=0.1)
    assert "refill it 2 times" in found.words
    enough = refills(10e-3, 9e-3, 12e-3, exact(4e-3, "m3/s"), 75.0, 0)
    assert enough.times == ()
    assert "sufficient" in enough.words
    assert "once" in refills(15e-3, 13e-3, 12e-3, None, 75.0, 1).words


def test_a_batch_looks_at_the_reservoir_of_the_build():
    batch = mix_batch(BatchOrder(600, 0.5, 0.55), workshop_foam(reservoir=12e-3))
    drawn = batch.foam_volume * 75.0 / 998.2
    lost = 5.0 * 4e-3 * 75.0 / 998.2  # at each start
    assert len(batch.refills.times) == math.ceil(drawn / (0.0108 - lost)) - 1
    assert batch.refills.words in batch.said
    assert mix_batch(BatchOrder(600, 0.5, 0.55), workshop_foam()).refills is None


# --- what a cup says ------------------------------------------------------------------------------------------------


def cup_of(batch, survival):
    """Density of a cup of this batch where a share of the foam's air is left (absolute volumes by hand)."""
    water = batch.foam_volume * 75.0
    air = batch.foam_volume - water / 1000.0
    mass = batch.mix.cement + batch.mix.mixer_water + water
    return mass / (batch.mix.base_volume + water / 1000.0 + survival * air)


@pytest.mark.parametrize("survival", [1.0, 0.9, 0.75, 0.6])
def test_a_cup_tells_the_share_of_the_air_that_survived(survival):
    batch = mix_batch(BatchOrder(600, 0.2, 0.5), workshop_foam())
    found = correct_cast(batch, workshop_foam(), cup_of(batch, survival))
    assert found.survival.value == pytest.approx(survival, abs=1e-6)
    assert found.survival.lower < survival <= found.survival.upper <= 1.0


def test_foam_that_is_added_brings_a_heavy_batch_to_the_wanted_density_with_the_survival_of_its_cup():
    batch = mix_batch(BatchOrder(600, 0.2, 0.5), workshop_foam())
    for survival in (0.95, 0.8, 0.7):
        more = correct_cast(batch, workshop_foam(), cup_of(batch, survival)).foam
        foam = batch.foam_volume + more
        water = foam * 75.0
        mass = batch.mix.cement + batch.mix.mixer_water + water
        volume = batch.mix.base_volume + water / 1000.0 + survival * (foam - water / 1000.0)
        assert mass / volume == pytest.approx(600, rel=1e-6)


@pytest.mark.parametrize(
    ("cup", "match"),
    [
        (40.0, "cup"),
        (2300.0, "heavier than the slurry"),
        (520.0, "more than 100 %"),
        (1900.0, "left in the concrete"),
    ],
)
def test_a_cup_that_cannot_be_of_this_batch_is_asked_about(cup, match):
    batch = mix_batch(BatchOrder(600, 0.2, 0.5), workshop_foam())
    with pytest.raises(InputError, match=match):
        correct_cast(batch, workshop_foam(), cup)


def test_a_cup_lighter_than_the_foam_is_asked_about():
    with pytest.raises(InputError, match="lighter than the foam"):
        survival_of_cup(
            slurry_volume=0.01,
            slurry_mass=18.0,
            foam_volume=exact(0.05, "m3"),
            foam_density=exact(160.0, "kg/m3"),
            cup_density=150.0,
        )


def test_before_any_cup_survival_is_one_sided_and_cups_narrow_it():
    prior = learn_survival()
    assert prior.upper == 1.0
    assert prior.lower == pytest.approx(LOWEST, abs=0.01)
    assert prior.lower < prior.value < 1.0
    cups = [Estimate.normal(value, 0.02, "1") for value in (0.83, 0.80, 0.82)]
    widths = [learn_survival(cups[:n]) for n in range(4)]
    assert widths[3].value == pytest.approx(0.82, abs=0.02)
    assert all(
        later.upper - later.lower < earlier.upper - earlier.lower for earlier, later in itertools.pairwise(widths)
    )
    assert all(one.upper <= 1.0 for one in widths)
    full = learn_survival([Estimate.normal(1.0, 0.02, "1")] * 5)
    assert full.value < full.upper <= 1.0
    low = learn_survival([Estimate.normal(0.55, 0.02, "1")] * 3)  # a mixer outside the prior is believed, too
    assert low.value == pytest.approx(0.56, abs=0.02)


@pytest.mark.parametrize("mixer", [0.98, 0.9, 0.8])
@pytest.mark.parametrize("n", [1, 3, 6])
def test_the_interval_of_the_next_batch_holds_its_survival(mixer, n):
    """Mixers with a scatter of 2 or 4 % from batch to batch, cups known to 2 %: 400 draws, at least nine in ten."""
    random = np.random.default_rng(11)
    held = 0
    for _ in range(400):
        scatter = random.choice([0.02, 0.04])
        shares = np.minimum(mixer + scatter * random.standard_normal(n + 1), 1.0)
        cups = [Estimate.normal(min(s + 0.02 * random.standard_normal(), 1.0), 0.02, "1") for s in shares[:-1]]
        found = learn_survival(cups)
        held += found.lower <= shares[-1] <= found.upper
    assert held / 400 > 0.9


def held_by(draw, n, count):
    """Share of ``count`` mixers whose next batch is in the interval, after ``n`` cups known to 2 %."""
    random, held = np.random.default_rng(12), 0
    for _ in range(count):
        mixer = max(1.0 - abs(0.1276 * random.standard_normal()), 0.5)
        shares = [draw(random, mixer) for _ in range(n + 1)]
        cups = [Estimate.normal(min(s + 0.02 * random.standard_normal(), 1.0), 0.02, "1") for s in shares[:-1]]
        found = learn_survival(cups)
        held += found.lower <= shares[-1] <= found.upper
    return held / count


def normal_share(scatter):
    return lambda random, mixer: min(mixer + scatter * random.standard_normal(), 1.0)


def beta_share(scatter):
    def draw(random, mixer):
        mean = min(mixer, 1.0 - 0.8 * scatter)
        size = mean * (1.0 - mean) / scatter**2 - 1.0
        return random.beta(mean * size, (1.0 - mean) * size)

    return draw


@pytest.mark.parametrize(
    ("scatter", "n", "least"),
    [
        (0.06, 10, 0.87),
        *(
            pytest.param(scatter, n, least, marks=pytest.mark.exhaustive)
            for scatter, n, least in (
                (0.01, 10, 0.97), (0.03, 1, 0.95), (0.03, 20, 0.88), (0.06, 3, 0.84), (0.10, 5, 0.84), (0.10, 20, 0.88),
            )
        ),
    ],
)  # fmt: skip
@pytest.mark.parametrize("shape", [normal_share, beta_share])
def test_a_mixer_that_scatters_more_than_usual_shows_it_by_its_cups(shape, scatter, n, least):
    """A fixed scatter of 3 % held 66 of 100 next batches of a mixer of 6 %, however many cups had shown it."""
    assert held_by(shape(scatter), n, 150) > least


def test_the_scatter_between_batches_is_that_of_many_cups_and_the_usual_one_before():
    assert scatter_between_batches() == 0.03
    random = np.random.default_rng(4)
    for scatter in (0.015, 0.03, 0.08):
        cups = [Estimate.normal(0.75 + scatter * random.standard_normal(), 0.01, "1") for _ in range(30)]
        plain = np.std([cup.value for cup in cups], ddof=1)
        assert scatter_between_batches(cups) ** 2 + 0.01**2 == pytest.approx(plain**2, rel=0.2)


def test_the_interval_of_many_cups_is_that_of_a_plain_prediction():
    """Of 30 cups without errors: mean ± t s sqrt(1 + 1/n), Student's t of 29 degrees of freedom is 2.045."""
    random = np.random.default_rng(5)
    values = 0.7 + 0.03 * random.standard_normal(30)
    found = learn_survival([Estimate.normal(one, 1e-3, "1") for one in values])
    half = 2.045 * np.std(values, ddof=1) * np.sqrt(1 + 1 / 30)
    assert found.value == pytest.approx(np.mean(values), abs=0.004)
    assert (found.upper - found.lower) / 2 == pytest.approx(half, rel=0.08)


def test_a_kept_cup_is_found_again_and_changes_the_next_batch(tmp_path):
    shutil.copytree(SEASON, tmp_path / "season", ignore=shutil.ignore_patterns("pours"))
    path = tmp_path / "season" / "05-03-first-tube.froth"
    before = path.with_suffix(".toml").read_text()
    keep_cup(path, 700.0, 600.0, Estimate.normal(0.8, 0.02, "1"))
    text = path.with_suffix(".toml").read_text()
    assert text.startswith(before.rstrip())
    assert tomllib.loads(text)["cup"][0]["survival"] == 0.8
    trials = Notebook(tmp_path / "season").trials
    trial = next(one for one in trials if one.name == "05-03-first-tube")
    assert [cup.value for cup in trial.cups] == [0.8]
    assert not trial.problems
    habits = foam_habits(trial.build, trials)
    assert habits["survival"].value == pytest.approx(0.82, abs=0.03)
    assert habits["reservoir"] == trial.build.reservoir.volume
    assert habits["start_up"].value < 5.0
    solution = dataclasses.replace(trial.build.solution, agent=f" {trial.build.solution.agent.upper()}")
    shouted = dataclasses.replace(trial.build, solution=solution)  # the same agent, in capital letters
    assert foam_habits(shouted, trials)["survival"] == habits["survival"]
    assert foam_habits(shouted, trials)["scatter"] == habits["scatter"] != 0.03


@pytest.mark.parametrize(
    "table", [5, {}, {"survival": "much", "u_survival": 0.1}, {"survival": 1.4, "u_survival": 0.1}, {"survival": 0.8}]
)
def test_a_cup_that_cannot_be_read_is_named(table):
    with pytest.raises(InputError, match="cup 2"):
        read_cup(table, "run.toml: cup 2")


# --- slips of the pen -----------------------------------------------------------------------------------------------


def batch_at_prompt(capsys, *more):
    given = {"--density": "600", "--volume": "100 L", "--foam-density": "75", "--foam-output": "250"}
    given |= dict(zip(more[::2], more[1::2], strict=True))
    code = cli.main(["batch", *(str(one) for pair in given.items() for one in pair)])
    said = capsys.readouterr()
    assert "Traceback" not in said.err
    return code, said.out, said.err


@pytest.mark.parametrize(
    ("option", "text", "meant"),
    [
        ("--density", "0.6", "write 600 kg/m³"),
        ("--density", "0.08", "Give 150"),
        ("--foam-density", "0.08", "write 80 kg/m³"),
        ("--foam-density", "5", "write 80.0923 kg/m³"),
        ("--water-cement", "50", "write 0.5"),
        ("--water-cement", "0", "Give 0.2"),
        ("--sand-cement", "200", "write 2"),
        ("--bag", "25 g", "Give 1"),
        ("--volume", "0 L", "Give 0.1"),
        ("--foam-output", "0.00001", "Give 0.1"),
        ("--slurry", "1.8", "write 1800 kg/m³"),
        ("--cup", "0.65", "write 650 kg/m³"),
        ("--bucket", "10 mL", "write 10 L"),
        ("--cup", "2100", "heavier than the slurry"),
    ],
)
def test_a_figure_that_is_likely_a_slip_is_asked_back_at_its_option(capsys, option, text, meant):
    code, out, err = batch_at_prompt(capsys, option, text)
    assert code == 2
    assert out == ""
    assert meant in err
    assert option.lstrip("-").split("-")[0] in err


def test_a_density_may_be_typed_with_its_unit(capsys):
    code, out, _ = batch_at_prompt(capsys, "--density", "37.5 lb/ft3")
    assert code == 0
    assert "Expected cast density    600 kg/m³" in out


@pytest.mark.parametrize("name", ["density", "output", "survival", "start_up"])
def test_a_negative_uncertainty_is_refused_by_name(name):
    figure = Estimate(0.004 if name == "output" else 75.0 if name == "density" else 0.9, -0.1, -1e9, 1e9, "1")
    with pytest.raises(InputError, match="uncertainty"):
        mix_batch(BatchOrder(600, 0.1), workshop_foam_with(name, figure))


def workshop_foam_with(name, figure):
    given = {"density": exact(75.0, "kg/m3"), "output": exact(4e-3, "m3/s"), "survival": exact(1.0)}
    return MeasuredFoam(**given | {name: figure})


def test_the_cup_comes_first_and_cautions_last_at_the_prompt(capsys):
    code, out, _ = batch_at_prompt(capsys, "--cup", "640")
    lines = out.splitlines()
    assert code == 0
    assert lines[0].startswith("cup of 640 kg/m³: add")
    assert "by this cup" in lines[0]
    assert lines[-1].startswith("Fresh concrete presses like a liquid")
    assert any("level buckets" in one for one in lines)


def test_a_cup_is_kept_beside_its_trial_at_the_prompt(tmp_path, capsys):
    shutil.copytree(SEASON, tmp_path / "season")
    base = ["batch", "--density", "700", "--volume", "200 L", "--trial", "05-03-first-tube", "--folder"]
    base.append(str(tmp_path / "season"))
    assert cli.main([*base, "--json"]) == 0
    before = capsys.readouterr().out
    assert cli.main([*base, "--cup", "720", "--keep-cup"]) == 0
    assert "cup saved in" in capsys.readouterr().out
    assert cli.main([*base, "--json"]) == 0
    assert capsys.readouterr().out != before
    assert cli.main([*base, "--keep-cup"]) == 2
    assert "--keep-cup" in capsys.readouterr().err
