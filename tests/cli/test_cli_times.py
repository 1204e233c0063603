"""Times at the prompt and in reports: local time with its zone for people, UTC in JSON and files."""

import time
from datetime import UTC, datetime
from pathlib import Path

import pytest
from prompt_json import result_of

from frothline import cli
from frothline.formatting import local_day, local_time
from frothline.report.run import run_report
from frothline.trials.notebook import Notebook

SEASON = Path(__file__).parents[2] / "recordings" / "season"
RUN = "05-10-long-packing-blower"  # begun at 09:40 UTC on 10 May 2025


@pytest.fixture
def zone(monkeypatch):
    """Sets this computer's time zone; POSIX notation, so that no table of zones is needed."""
    if not hasattr(time, "tzset"):
        pytest.skip("this system takes its time zone from elsewhere")

    def put(text):
        monkeypatch.setenv("TZ", text)
        time.tzset()

    yield put
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("zone_text", "said"),
    [
        ("UTC0", "2025-05-10 09:40 UTC"),
        ("CET-1CEST,M3.5.0,M10.5.0", "2025-05-10 11:40 CEST"),
        ("<+0530>-5:30", "2025-05-10 15:10 UTC+5:30"),
        ("<-09>9", "2025-05-10 00:40 UTC-9"),
    ],
)
def test_a_time_is_local_with_its_zone(zone, zone_text, said):
    zone(zone_text)
    assert local_time(datetime(2025, 5, 10, 9, 40, tzinfo=UTC)) == said


def test_a_list_shows_local_time_and_json_is_in_utc(zone, capsys):
    zone("PST8PDT,M3.2.0,M11.1.0")
    assert cli.main(["recordings", str(SEASON), "--words", "long packing, blower"]) == 0
    assert "2025-05-10 02:40 PDT" in capsys.readouterr().out
    assert cli.main(["recordings", str(SEASON), "--words", "long packing, blower", "--json"]) == 0
    (entry,) = result_of(capsys.readouterr().out)
    assert datetime.fromtimestamp(entry["started"], UTC) == datetime(2025, 5, 10, 9, 40, tzinfo=UTC)


def test_a_day_that_is_filtered_by_is_one_of_the_local_calendar(zone, capsys):
    """A run at 09:40 UTC is one of the evening before in a zone ten hours behind."""
    zone("HST10")
    for days, count in ((["--since", "2025-05-10"], 0), (["--since", "2025-05-09", "--until", "2025-05-09"], 1)):
        assert cli.main(["recordings", str(SEASON), *days, "--json"]) == 0
        assert len(result_of(capsys.readouterr().out)) == count
    assert local_day(datetime(2025, 5, 10, 9, 40, tzinfo=UTC)) == "2025-05-09"


def test_a_report_says_local_time_and_its_figures_utc(zone):
    zone("CET-1CEST,M3.5.0,M10.5.0")
    report = run_report(Notebook(SEASON), RUN)
    assert "2025-05-10 11:40 CEST" in report.html
    assert report.data["recordings"][0]["started"] == "2025-05-10T09:40:00+00:00"
