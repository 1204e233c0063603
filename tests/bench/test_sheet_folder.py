"""The folder of build sheets: where a sheet may be saved."""

import pytest

from frothline.bench.own_build import SHEETS
from frothline.bench.sheet_folder import SheetFolder
from frothline.errors import InputError


def test_no_sheet_is_saved_through_a_link_out_of_the_folder(tmp_path):
    recordings, outside = tmp_path / "recordings", tmp_path / "outside"
    recordings.mkdir()
    outside.mkdir()
    folder = SheetFolder()
    folder.begin(recordings, simulated=False)
    assert folder.for_saving() == recordings / SHEETS  # made by the first sheet
    (recordings / SHEETS).symlink_to(outside)
    with pytest.raises(InputError, match="is a link to another place"):
        folder.for_saving()
    (recordings / SHEETS).unlink()
    (recordings / "sheets").mkdir()
    (recordings / SHEETS).symlink_to(recordings / "sheets")
    assert folder.for_saving() == recordings / SHEETS
