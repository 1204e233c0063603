"""One bad file in a folder costs that file: the others are listed, condensed and shown, and its entry says the problem."""

import os
import shutil
from pathlib import Path

import pytest

from frothline.bench.library import LibraryFolder
from frothline.bench.sheet_folder import SheetFolder
from frothline.errors import InputError
from frothline.recording.catalogue import Catalogue
from frothline.trials.notebook import open_notebook

pytestmark = pytest.mark.timeout(60)

SEASON = Path(__file__).parents[2] / "recordings" / "season"
GOOD = SEASON / "04-05-first-tube.froth"
RUN = 'kind = "run"\n'


def recording(text):
    def make(folder, name):
        shutil.copy(GOOD, folder / f"{name}.froth")
        (folder / f"{name}.toml").write_text(RUN + text, "utf-8")

    return make


def link_to_itself(folder, name):
    (folder / f"{name}.froth").symlink_to(f"{name}.froth")


def link_to_nothing(folder, name):
    (folder / f"{name}.froth").symlink_to("nowhere.froth")


def metadata_link_to_itself(folder, name):
    shutil.copy(GOOD, folder / f"{name}.froth")
    (folder / f"{name}.toml").symlink_to(f"{name}.toml")


def pipe(folder, name):
    os.mkfifo(folder / f"{name}.froth")  # reading it waits until somebody writes into it


def metadata_pipe(folder, name):
    shutil.copy(GOOD, folder / f"{name}.froth")
    os.mkfifo(folder / f"{name}.toml")


def metadata_folder(folder, name):
    shutil.copy(GOOD, folder / f"{name}.froth")
    (folder / f"{name}.toml").mkdir()


def name_that_is_no_text(folder, name):
    shutil.copy(GOOD, os.fsencode(folder / f"{name}") + b"\xff\xfe.froth")


def photo_link(folder, name):
    recording('photos = ["loop.jpg", "loop/a.jpg"]')(folder, name)
    (folder / "loop.jpg").symlink_to("loop.jpg")
    (folder / "loop").symlink_to("loop")
    (folder / f"{name}.jpg").symlink_to(f"{name}.jpg")


def sheet_link(folder, name):
    recording('build = "builds/loop.toml"')(folder, name)
    (folder / "builds").mkdir(exist_ok=True)
    (folder / "builds" / "loop.toml").symlink_to("loop.toml")


def sheet_pipe(folder, name):
    recording('build = "builds/pipe.toml"')(folder, name)
    (folder / "builds").mkdir(exist_ok=True)
    os.mkfifo(folder / "builds" / "pipe.toml")


NEIGHBOURS = {
    "nested": recording("a = " + "[" * 50_000),
    "parts": recording("a" + ".a" * 20_000 + " = 1"),
    "large": recording("# " + "x" * 300_000),
    "long-title": recording(f'title = "{"x" * 5_000}"'),
    "long-build": recording(f'build = "{"x" * 5_000}"'),
    "long-sheet": recording(f'build_sheet = "{"x" * 5_000}.toml"'),
    "long-photo": recording(f'photos = ["{"x" * 5_000}.jpg"]'),
    "long-source": recording(f'air_source = "{"x" * 5_000}"'),
    "zero-byte": recording('build = "a\\u0000.toml"\nphotos = ["a\\u0000.jpg"]'),
    "wrong-kinds": recording(
        "title = 3\nphotos = 4\nbuild = 7\nsample = 3\ntags = 1\nnote = []\nwater_temperature = {}"
    ),
    "wrong-samples": recording("[[sample]]\ncontainer = [1]\nempty = {}\nfull = nan\nat = inf\ndrained = [[[], {}]]"),
    "nested-sheet": recording("build_sheet = '''\na = " + "[" * 5_000 + "\n'''"),
    "link": link_to_itself,
    "dangling": link_to_nothing,
    "metadata-link": metadata_link_to_itself,
    "pipe": pipe,
    "metadata-pipe": metadata_pipe,
    "metadata-folder": metadata_folder,
    "no-text": name_that_is_no_text,
    "photo-link": photo_link,
    "sheet-link": sheet_link,
    "sheet-pipe": sheet_pipe,
}
# Of these the recording itself is fine, or nothing but a figure is missing; the trial says so.
FINE = {"long-title", "long-build", "long-sheet", "long-photo", "long-source", "zero-byte", "wrong-kinds"}
FINE |= {"wrong-samples", "nested-sheet", "no-text", "photo-link", "sheet-link", "sheet-pipe"}


@pytest.fixture
def folder(tmp_path):
    shutil.copy(GOOD, tmp_path / "good.froth")
    shutil.copy(GOOD.with_suffix(".toml"), tmp_path / "good.toml")
    return tmp_path


def look(folder):
    """The catalogue looked at twice, the second time from its cache."""
    first = {entry.name: entry for entry in Catalogue(folder)}
    assert repr({entry.name: entry for entry in Catalogue(folder)}) == repr(first)  # nan is not equal to itself
    return first


@pytest.mark.parametrize("name", NEIGHBOURS)
def test_a_bad_file_costs_its_own_entry_alone(folder, name):
    NEIGHBOURS[name](folder, name)
    found = look(folder)
    assert found["good"].state == "closed"
    assert not found["good"].problem
    assert len(found) == 2
    bad = found[next(key for key in found if key != "good")]
    assert bool(bad.problem) == (name not in FINE)
    assert len(bad.problem) < 400
    notebook = open_notebook(folder)
    good = notebook.trial("good")
    assert good.density is not None
    others = [trial for trial in notebook.trials if trial.name != "good"]
    if name not in {"link", "dangling", "pipe", "no-text"} and not bad.problem:  # these name no kind
        assert len(others) == 1
        assert all(len(problem) < 700 for problem in others[0].problems)
        assert others[0].problems or others[0].words or name in {"long-title", "long-source"}


def test_all_of_them_together_leave_the_good_ones_on_the_page(folder):
    (folder / "builds").mkdir(exist_ok=True)
    for name, make in NEIGHBOURS.items():
        make(folder, name)
    (folder / "builds" / "good.toml").write_text("", "utf-8")
    (folder / "builds" / "dangling.toml").symlink_to("nowhere.toml")
    seen = LibraryFolder("own", folder)._look()
    assert not seen.problem
    assert {"good", "nested", "link", "long-title"} <= {entry.name for entry in seen.entries}
    assert "good" in {trial.name for trial in seen.trials}
    shown = SheetFolder()
    shown.begin(folder, simulated=False)
    assert "good.toml" in shown.found.files


def test_the_problem_says_what_is_wrong(folder):
    for name in ("nested", "link", "dangling", "pipe", "metadata-pipe"):
        NEIGHBOURS[name](folder, name)
    found = look(folder)
    assert "nested too deeply" in found["nested"].problem
    assert "link" in found["link"].problem
    assert "link" in found["dangling"].problem
    assert "not a file" in found["pipe"].problem
    assert "not a file" in found["metadata-pipe"].problem
    assert found["nested"].state == "closed"
    assert found["link"].state == found["pipe"].state == "unreadable"


def test_a_fault_in_condensing_one_trial_is_shown_as_its_problem(folder, monkeypatch):
    """Whatever a file makes of the program, the notebook shows the others."""
    from frothline.trials import notebook as module

    recording('note = "x"')(folder, "other")
    right = module.load_trial

    def fails(entry, *others, **more):
        if entry.metadata.get("note") == "x":
            raise RuntimeError("unheard of")
        return right(entry, *others, **more)

    monkeypatch.setattr(module, "load_trial", fails)
    notebook = open_notebook(folder)
    assert notebook.trial("good").density is not None
    assert any("unheard of" in problem for problem in notebook.trial("other").problems)


def test_a_plan_that_is_a_loop_or_nested_is_refused_in_words(folder):
    (folder / "plan.toml").write_text("a = " + "[" * 5_000, "utf-8")
    with pytest.raises(InputError, match="nested too deeply"):
        open_notebook(folder).next_run()
    seen = LibraryFolder("own", folder)._look()
    assert "nested" in seen.plan_problem
    assert "good" in {trial.name for trial in seen.trials}
