"""No text that is typed or read from a file can stop the process: reading takes time proportional to its length."""

import time

import pytest

from frothline.bench.recorder import sweep_metadata
from frothline.cli.whatif import _change
from frothline.errors import InputError
from frothline.foam.dilution import read_dilution
from frothline.generator.sheet import edit_sheet, parse_sheet, starting_sheet
from frothline.generator.stock_sizes import read_bore
from frothline.quantities import LONGEST, read_number, read_quantity, read_temperature
from frothline.recording.summary import read_metadata
from frothline.sensors import calibration_file
from frothline.sensors.spool import Spool
from frothline.toml_text import LARGEST, TomlUnreadable, check_limits, hide_texts, read_toml
from frothline.trials.plan_file import entry_kind, read_plan
from frothline.trials.sample_sidecar import read_sample, read_time
from frothline.trials.which_helped import two_builds

pytestmark = pytest.mark.timeout(60)  # generous: today's patterns need hours

N = 100_000
TYPED = {
    "spaces before": " " * N + "x",
    "spaces inside": "1" + " " * N + "x",
    "spaces behind": "1 mm" + " " * N,
    "digits": "1" * N,
    "digits and spaces": "1 " * N,
    "commas": "1," * N,
    "fractions": "1/" * N,
    "schedules": "1 in" + " ,-" * N + "sch",
    "schedule again": "1 in " + "sch " * N,
    "degrees": "1" + " °" * N,
    "minutes": "1 min " * N,
    "colons": "1:" * N,
    "one in": "1" + " " * N + "in" + " " * N + "x",
    "plus": "1" + " " * N + "+" + " " * N,
    "signs": "−" * N,
    "lines": "\n" * N + "1 x",
}
READERS = {
    "length": lambda text: read_quantity(text, "length"),
    "mass": lambda text: read_quantity(text, "mass"),
    "density": lambda text: read_quantity(text, "density"),
    "bore": read_bore,
    "temperature": read_temperature,
    "time": read_time,
    "dilution": read_dilution,
    "number": read_number,
}


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("text", TYPED)
def test_a_hundred_thousand_characters_are_answered_in_a_short_sentence(text, reader):
    if text == "spaces behind" and reader in {"length", "bore"}:
        assert READERS[reader](TYPED[text]) == pytest.approx(0.001)
        return
    with pytest.raises(ValueError, match=r".") as answered:
        READERS[reader](TYPED[text])
    assert len(str(answered.value)) < 300


@pytest.mark.parametrize("reader", READERS)
def test_the_longest_text_that_is_read_takes_no_time_to_refuse(reader):
    # exponential patterns need 10 s for 74 characters; each of these takes microseconds
    for text in ("1" + " " * (LONGEST - 2) + "x", "1 " * (LONGEST // 2), "1 in" + " ,-" * 20 + "sc", "\\" * LONGEST):
        began = time.process_time()
        with pytest.raises(ValueError, match=r"."):
            READERS[reader](text)
        assert time.process_time() - began < 1.0


def refusal(call):
    """The words of the refusal, empty if there was none; any other error is a fault."""
    try:
        call()
    except InputError as error:
        return str(error)
    return ""


SHEET = starting_sheet()
SHEETS = {
    "a header of spaces": "[" + " " * 20_000,
    "a comment of quotes and backslashes": SHEET + '# """' + "\\\\" * 5_000,
    "a long text of backslashes": SHEET.replace('notes = ""', 'notes = """' + "\\\\" * 10_000 + '"""'),
    "a long text that does not end": 'notes = """' + "\\\\" * 10_000,
    "a text of quotes": "notes = '''" + '"""\\' * 5_000 + "'''",
    "quotes": '"' * 25_000,
    "a key of ten thousand parts": "a" + ".a" * 10_000 + " = 1",
    "a header of ten thousand parts": "[" + "a." * 10_000 + "a]",
    "quoted parts": '"a"' + '."a"' * 5_000 + " = 1",
    "a key written twice": ('"' + " " * 12_000 + '" = 1\n') * 2,
    "lists in lists": "a = " + "[" * 25_000,
    "tables in tables": "a = " + "{a = " * 5_000,
    "a number of digits": "a = " + "1" * 25_000,
    "a number of figures and lines": "a = 1" + "_1" * 12_000,
    "numbers one short of long": "a = [" + ("1" * 999 + ",") * 25 + "1" * 5_000 + "]",
    "a part of twenty thousand letters": "[" + "x" * 20_000 + "]",
    "more than a page": "# " + "x" * N,
}


@pytest.mark.parametrize("text", SHEETS)
def test_a_sheet_made_to_stop_the_reader_is_read_or_refused_in_words(text):
    sheet = parse_sheet(SHEETS[text], "worst.toml")
    assert all(len(str(problem)) < 600 for problem in sheet.problems)
    assert (sheet.build is not None) == (text in {"a comment of quotes and backslashes", "a long text of backslashes"})
    assert len(refusal(lambda: edit_sheet(SHEETS[text], {"outlet.bore": "50x3.7"}))) < 600


def test_the_worst_sheets_are_still_read_in_linear_time():
    """Twice the length takes about twice the work: the tokeniser never goes back over a character."""
    for unit in ('"""\\\\', "'''x", '"\\', "['\"", ' " ', "\\", "#\n", "''"):
        times = []
        for n in (20_000, 80_000):
            began = time.process_time()
            for _ in range(3):
                hide_texts(unit * n)
            times.append(time.process_time() - began)
        assert times[1] < 12 * times[0] + 0.5, unit  # 4 by the length; a quadratic pattern needs 16, and hours here


def test_the_limits_are_told_with_the_line():
    with pytest.raises(TomlUnreadable, match="line 3: this key has more than 32 parts"):
        read_toml("a = 1\n\n" + "b." * 40 + "b = 1")
    with pytest.raises(TomlUnreadable, match=f"the limit is {LARGEST}"):
        read_toml("#" * (LARGEST + 1))
    with pytest.raises(TomlUnreadable, match="nested too deeply"):
        read_toml("a = " + "[" * 5_000)
    with pytest.raises(TomlUnreadable, match=r"line 2: .*far too long"):
        read_toml("a = 1\nb = " + "7" * 5_000)


def test_what_only_looks_like_a_long_key_is_no_key():
    text = (
        'a = "' + "x." * 100 + '"  # ' + "y." * 100 + "\nb = [" + "1.5, " * 100 + "]\nc = '''\n" + "z." * 100 + "'''\n"
    )
    check_limits(text)
    assert len(read_toml(text)["b"]) == 100


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ('a = """x\ny = 1\n"""\nb = 2', 'a = ""\n\n\nb = 2'),
        ('a = """x""""\nb = 2', 'a = ""\nb = 2'),  # TOML 1.0: one or two quotes may stand before the closing ones
        ("a = '''x\n'''''\nb = 2", 'a = ""\n\nb = 2'),
        ('a = "# no comment" # comment', 'a = "# no comment" '),
        ('a = "\\"" # """', 'a = "\\"" '),
        ("a = '\\' # b", "a = '\\' "),
    ],
)
def test_texts_of_several_lines_are_hidden_and_the_lines_keep_their_numbers(text, left):
    assert hide_texts(text) == left


def test_what_is_read_beside_a_recording_keeps_the_limits(tmp_path):
    for number, text in enumerate(SHEETS.values()):
        file = tmp_path / f"{number}.toml"
        file.write_text(text, "utf-8")
        read_metadata(file)
        for read in (read_plan, calibration_file.load, Spool.load):
            assert len(refusal(lambda read=read, file=file: read(file))) < 2_000


def test_a_sample_with_a_text_of_a_hundred_thousand_spaces_is_refused():
    with pytest.raises(InputError, match="sample: full"):
        read_sample({"container": "2 L", "empty": "184 g", "full": "1" + " " * N + "x"})


def test_a_message_repeats_only_the_beginning_of_a_long_text():
    """100,000 characters as a change, an entry, a state of a sweep, a figure and a plan's entry."""
    long = "x" * N
    calls = (
        lambda: _change(long),
        lambda: _change(f"{long}=1"),
        lambda: sweep_metadata(long),
        lambda: two_builds((), "a", "b", long),
        lambda: entry_kind(long),
        lambda: entry_kind(f"packing.{long}"),
    )
    for call in calls:
        with pytest.raises(InputError) as caught:
            call()
        assert "xxx…" in str(caught.value)
        assert len(str(caught.value)) < 600
