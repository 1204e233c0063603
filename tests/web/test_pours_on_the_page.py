"""The batch page shows what became of the foam in concrete."""

from pathlib import Path

import pytest

from frothline.bench.library import FolderView
from frothline.trials.notebook import open_notebook
from frothline.web.pages.batch import labels, pours

SEASON = Path(__file__).parents[2] / "recordings" / "season"


def text(item):
    """All text of a block."""
    if isinstance(item, str):
        return item
    return " ".join(text(child) for child in (item[2:] if item and isinstance(item[0], str) else item or ()))


@pytest.fixture(scope="module")
def seen():
    notebook = open_notebook(SEASON)
    return FolderView("season", SEASON, 1, ready=True, trials=notebook.trials, pours=notebook.pours)


@pytest.mark.parametrize(("system", "own", "other"), [("metric", "MPa", "psi"), ("inch-pound", "psi", "MPa")])
def test_the_newest_pour_comes_first_with_its_figures_in_the_readers_units(seen, system, own, other):
    said = text(pours.block(seen, system))
    assert said.index("Window sill") < said.index("Planter")
    assert "Foot of the bench" not in said  # the newest four
    assert own in said
    assert other not in said
    assert labels.SIMULATED_POURS in said


def test_a_folder_without_pours_says_how_one_is_recorded(tmp_path):
    said = text(pours.block(FolderView("own", tmp_path, 1, ready=True), "metric"))
    assert "frothline pours --new" in said


def test_what_a_pour_leaves_open_is_on_the_page(seen, tmp_path):
    (tmp_path / "pours").mkdir()
    (tmp_path / "pours" / "kerb.toml").write_text(
        'trial = "x"\n[[specimen]]\nedge = "100 mm"\nload = "5 kN"\n', "utf-8"
    )
    notebook = open_notebook(tmp_path)
    said = text(pours.block(FolderView("own", tmp_path, 1, ready=True, pours=notebook.pours), "metric"))
    assert "the age is missing" in said
    assert "no trial is called “x”" in said
