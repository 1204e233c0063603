"""The batch page without a browser."""

import dataclasses
import re

import pytest
from fake_session import state_of_run
from test_run_page import alarm, text

from frothline.bench import batch_form
from frothline.estimate import Estimate
from frothline.foam.dilution import Dilution
from frothline.run.watch.alarm_kinds import KINDS
from frothline.web.elements import words_of
from frothline.web.pages.batch import blocks


def order(**more):
    return batch_form.START | {"foam": "60", "output": "300", "slurry": "", "cup": ""} | more


def test_the_masses_of_a_batch_add_up_to_its_density_times_its_volume():
    """Conservation of mass: cement + water + foam = 600 kg/m³ x 0.2 m³ = 120 kg."""
    found = batch_form.worked(order(), None, Dilution(40, "1+N"))
    batch = found.batch
    total = batch.mix.cement + batch.mix.sand + batch.mix.mixer_water + batch.foam_volume * 60.0
    assert total == pytest.approx(120.0, rel=0.02)  # 2 %: the share of air that is taken to die in the mixer
    start_up = found.foam.start_up.value
    assert batch.run_time.value == pytest.approx(start_up + batch.foam_volume / 0.3 * 60, rel=1e-6)  # 300 L/min


def test_pounds_and_gallons_are_read_as_what_they_are():
    """37.46 lb/ft³ are 600 kg/m³ and 52.834 gal are 200 L (exact factors of NIST SP 811)."""
    metric = batch_form.worked(order(), None, Dilution(40, "1+N")).batch
    pounds = batch_form.worked(
        order(density="37.457 lb/ft³", volume="52.834 gal", bag="55.116 lb"), None, Dilution(40, "1+N")
    )
    assert pounds.batch.mix.cement == pytest.approx(metric.mix.cement, rel=1e-4)
    assert pounds.batch.bags == pytest.approx(metric.bags, rel=1e-4)


def shown_batch(found, column=3):
    """Rows of the batch as shown: title -> text of the cell for all of it, or with column 4 for one bag."""
    block = blocks.block(order(), found, Dilution(40, "1+N"), "metric")
    (made,) = [piece for piece in block if isinstance(piece, list) and piece[1].get("aria-label") == "The batch"]
    body = next(part for part in made[2][2:] if part[0] == "tbody")
    return {words_of(row[2]): words_of(row[column]) for row in body[2:]}


def test_one_bag_has_the_solution_of_its_own_start():
    """300 L/min of 60 kg/m³ foam are 0.3 kg/s of solution, and 4 s of it are lost at the one start of a bag."""
    found = batch_form.worked(order(), None, Dilution(40, "1+N"))
    batch = found.batch
    lost = 4.0 * 0.3 / 998.2
    bag = (batch.foam_volume / batch.bags * 60 / 998.2 + lost) * 1.15
    said = shown_batch(found, 4)
    shown = {title: words.partition(" (")[0].split()[0] for title, words in said.items()}
    (solution,) = [words for title, words in shown.items() if "olution" in title and "ater" not in title]
    assert float(solution) == pytest.approx(bag * 1e3, rel=0.01)
    assert float(solution) > 1.1 * batch.solution / batch.bags * 1e3
    assert float(shown["Agent"]) == pytest.approx(bag / 41 * 1e3, rel=0.05)  # two digits


def test_foam_and_water_of_a_batch_are_as_uncertain_as_the_foam_they_are_reckoned_with():
    """Water of the batch is one sum, in the mixer and in the foam: what the one may be more, the other is less."""
    run = state_of_run(50.0)
    wide = Estimate.positive(54.0, 0.3, "kg/m3")
    run = dataclasses.replace(run, output=dataclasses.replace(run.output, density=wide))
    found = batch_form.worked(order(foam="", output=""), run, Dilution(40, "1+N"))
    light, heavy = found.ends
    for one in (light, found.batch, heavy):
        assert one.mix.mixer_water + one.mix.foam_water == pytest.approx(0.5 * one.mix.cement)
    said = shown_batch(found)
    low, high = map(float, re.search(r"([\d.]+) to ([\d.]+)", said["Water into the mixer"]).groups())
    assert low <= heavy.mix.mixer_water < light.mix.mixer_water <= high
    assert "to" in said["Foam"]
    assert said["Cement"].startswith("80 kg")  # which the foam does not change


def test_no_time_is_told_for_the_generator_while_it_makes_no_foam():
    for code in ("joint_off_before", "packing_blown"):
        found = batch_form.worked(order(output=""), state_of_run(50.0, alarms=(alarm(code),)), Dilution(40, "1+N"))
        assert shown_batch(found)["Generator runs, from air on"].split() == ["–", "min", *KINDS[code].title.split()]
    found = batch_form.worked(order(output=""), state_of_run(50.0), Dilution(40, "1+N"))
    assert re.match(
        r"0:3\d min\s+0:2\d to 0:3\d", shown_batch(found)["Generator runs, from air on"]
    )  # some 140 L at 360 L/min


def test_what_cannot_be_read_is_told_at_its_entry():
    found = batch_form.worked(order(volume="much"), None, Dilution(40, "1+N"))
    assert found.batch is None
    assert "volume" in found.wrong
    heavy = batch_form.worked(order(density="2400"), None, Dilution(40, "1+N"))
    assert heavy.batch is None
    assert "density" in heavy.wrong


def test_a_cup_that_is_too_heavy_gets_more_foam_and_a_light_one_more_slurry():
    dilution = Dilution(40, "1+N")
    for cup, word in (("640", "of foam"), ("560", "of slurry")):
        values = order(cup=cup)
        said = text(blocks.block(values, batch_form.worked(values, None, dilution), dilution, "metric"))
        assert f"L {word}" in said


def test_the_batch_shows_the_cautions_and_where_its_foam_is_from():
    dilution = Dilution(40, "1+N")
    values = order()
    said = text(blocks.block(values, batch_form.worked(values, None, dilution), dilution, "metric"))
    assert "burns skin" in text(blocks.caution_block())
    assert "Foam density as entered" in said
    nothing = batch_form.worked(order(foam="", output=""), None, dilution)
    assert "weigh a sample" in nothing.source


def test_what_was_never_touched_is_usual_and_what_was_emptied_stays_empty():
    assert batch_form.typed({})["density"] == "600 kg/m³"
    assert batch_form.typed({"batch-density": ()})["density"] == ""
    assert batch_form.typed({"batch-density": ("450",)})["density"] == "450"
