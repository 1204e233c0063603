"""A folder of recordings that came from somebody else names no file outside of itself."""

import shutil
from pathlib import Path

import pytest
from builds import FIRST

from frothline.errors import InputError
from frothline.generator.sheet import write_sheet
from frothline.trials.notebook import open_notebook
from frothline.trials.plan_file import read_plan
from frothline.trials.trial import load_trial

SEASON = Path(__file__).parents[2] / "recordings" / "season"
RUN = "04-05-first-tube"


@pytest.fixture
def folder(tmp_path):
    """A folder with one run; a sheet that is valid is outside of it."""
    inside = tmp_path / "inside"
    (inside / "builds").mkdir(parents=True)
    for suffix in (".froth", ".toml"):
        shutil.copy(SEASON / f"{RUN}{suffix}", inside)
    (tmp_path / "secret.toml").write_text(write_sheet(FIRST))
    (inside / "builds" / "link.toml").symlink_to(tmp_path / "secret.toml")
    (inside / "builds" / "own.toml").write_text(write_sheet(FIRST))
    return inside


def trial_with(folder, build):
    entry = open_notebook(folder).catalogue.named(RUN)
    metadata = {key: value for key, value in entry.metadata.items() if key not in {"build_sheet", "build_file"}}
    return load_trial(type(entry)(**{**vars(entry), "metadata": {**metadata, "build": build}}))


@pytest.mark.parametrize(
    "named", ["../secret.toml", "{outside}/secret.toml", "builds/link.toml", "link", "builds/../../secret.toml"]
)
def test_a_build_sheet_outside_of_the_folder_is_not_read(folder, named):
    named = named.format(outside=folder.parent)
    found = trial_with(folder, named)
    assert (found.build, found.build_file) == (None, None)
    assert any("is not in the folder" in words and "Copy the sheet" in words for words in found.problems)


@pytest.mark.parametrize("named", ["builds/own.toml", "own", "{inside}/builds/own.toml"])
def test_a_build_sheet_of_the_folder_is_read(folder, named):
    assert trial_with(folder, named.format(inside=folder)).build is not None


def test_a_plan_takes_no_reference_from_outside(folder):
    path = folder / "plan.toml"
    for named in ("../secret.toml", str(folder.parent / "secret.toml"), "builds/link.toml"):
        path.write_text(f'reference = "{named}"\n[factors]\n"tube.rows" = [4, 6]\n')
        with pytest.raises(InputError, match="is not in the folder"):
            read_plan(path)
