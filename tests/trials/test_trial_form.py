"""What a person writes beside a recording: read with its units, refused with its place, kept whatever else is wrong."""

import tomllib

import pytest

from frothline.errors import InputError
from frothline.foam.sample import Weighing
from frothline.trials.sample_sidecar import append_sample, read_sample, read_time, sample_entry

JUG = {"container": "2 L", "empty": "184 g", "full": "331 g"}


@pytest.mark.parametrize(
    ("written", "seconds"), [("75 s", 75), ("1 min 15 s", 75), ("1:15", 75), ("2 min", 120), (8.5, 8.5), ("8,5", 8.5)]
)
def test_a_time_is_read_as_people_write_it(written, seconds):
    assert read_time(written) == seconds


@pytest.mark.parametrize("written", ["", "soon", "1:75", "5 h"])
def test_what_is_no_time_is_asked_back(written):
    with pytest.raises(ValueError, match="is not a time"):
        read_time(written)


def test_a_sample_in_other_units_is_the_same_sample():
    # NIST SP 811, appendix B: 1 oz = 28.349523125 g, 1 US gallon = 3.785411784 L
    metric = read_sample({"container": "3.785411784 L", "empty": "283.49523125 g", "full": "567 g"}).weighing
    ounces = read_sample({"container": "1 gal", "empty": "10 oz", "full": "20 oz"}).weighing
    assert ounces.container_volume == pytest.approx(metric.container_volume, rel=1e-9)
    assert ounces.empty == pytest.approx(metric.empty, rel=1e-9)


def test_a_scale_that_shows_five_grams_is_taken_at_its_word():
    # JCGM 100:2008, 4.3.7: a rectangle of half-width a has u = a/sqrt(3); twice with half a division, added linearly
    # for zero and weight at worst: 2 x 2.5 g / sqrt(3)
    u = read_sample(JUG | {"scale_division": "5 g"}).weighing.u_mass
    assert u == pytest.approx(2 * 2.5e-3 / 3**0.5)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"ful": "331 g"}, "Did you mean “full”"),
        ({"container": "2 kg"}, "sample: container"),
        ({"full": "150 g"}, "not heavier than empty"),
        ({"drained": [["1 min", "9 mL"], ["30 s", "12 mL"]]}, "in order of time"),
        ({"drained": "9 mL"}, "pairs"),
        ({"fill_time": "quick"}, "fill_time"),
    ],
)
def test_a_sample_that_cannot_be_is_refused_at_its_entry(changes, said):
    with pytest.raises(InputError) as caught:
        read_sample(JUG | changes)
    assert said in str(caught.value)


def test_a_sample_without_its_container_says_so():
    with pytest.raises(InputError, match="“container” is missing"):
        read_sample({"empty": "1 g", "full": "2 g"})


def test_what_is_written_is_read_back():
    weighing = Weighing(5e-3, 0.231, 0.612, 2.9, ((60.0, 14e-6), (120.0, 27e-6)), 0.21, note="second jug")
    noted = read_sample(sample_entry(weighing, 45.0))
    assert noted.weighing == weighing
    assert noted.at == 45.0


def test_a_sample_is_put_behind_the_others_and_comments_stay(tmp_path):
    beside = tmp_path / "run.toml"
    beside.write_text('# windy day\nkind = "run"  # foam\n\n[[sample]]\ncontainer = "2 L"\nempty = 184\nfull = 331\n')
    append_sample(beside, Weighing(0.06, 2.3, 6.6, 8.1), at=30.0)
    text = beside.read_text()
    assert "# windy day" in text
    assert "# foam" in text
    samples = tomllib.loads(text)["sample"]
    assert [one["container"] for one in samples] == ["2 L", "60 L"]
    assert read_sample(samples[1]).weighing.fill_time == 8.1


def test_a_file_that_cannot_be_read_is_left_as_it_is(tmp_path):
    beside = tmp_path / "run.toml"
    beside.write_text("kind = run\n")
    with pytest.raises(InputError, match="cannot be read"):
        append_sample(beside, Weighing(0.06, 2.3, 6.6))
    assert beside.read_text() == "kind = run\n"
