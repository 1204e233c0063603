"""Coverage-guided fuzzing of what reads files: recordings, build sheets, calibrations, photos.

    python tests/performance/fuzz.py recording 60     one target, for some seconds

A reader may refuse a file by an error of this package; any other exception is a find, and its input is saved in the
folder of the run. The fuzzer (atheris, a package with wheels; ``pip install -e .[fuzz]``) follows which lines an input
reaches and goes on from those that reach new ones; it begins with valid files.
"""

import sys
import tempfile
from contextlib import suppress
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.append(str(ROOT / "tests/sensors"))
FORMATS = ROOT / "tests/formats"


def recording(folder):
    """Valid files, and what reads one: the check, the table, the catalogue, the marks."""
    from frothline.readings.marks import marks
    from frothline.readings.table import read_table
    from frothline.recording.catalogue import Catalogue
    from frothline.recording.reader import load, verify

    path = folder / "a.froth"

    def read(data):
        path.write_bytes(data)
        list(Catalogue(folder))
        for use in (verify, read_table, lambda one: marks(load(one))):
            with suppress(errors()):
                use(path)

    return [
        (FORMATS / "format-1.froth").read_bytes()[:3000],
        (FORMATS / "format-1.s001.froth").read_bytes()[:1500],
    ], read


def sheet(_folder):
    from frothline.generator.sheet import parse_sheet, starting_sheet

    def read(data):
        parse_sheet(data.decode("utf-8", "replace"), "fuzzed")

    return [starting_sheet().encode()], read


def calibration(folder):
    from test_malformed_calibrations import WHOLE

    from frothline.sensors.calibration_file import load, save

    path = folder / "calibration.toml"
    save(path, WHOLE)
    seed = path.read_bytes()

    def read(data):
        path.write_bytes(data)
        load(path)

    return [seed], read


def photo(folder):
    import io

    from PIL import Image

    from frothline.trials import photos

    path = folder / "a.jpg"
    seeds = []
    for more in ({}, {"progressive": True}):
        written = io.BytesIO()
        Image.new("RGB", (24, 16), (200, 30, 30)).save(written, "JPEG", **more)
        seeds.append(written.getvalue())

    def read(data):
        path.write_bytes(data)
        photos._copy.cache_clear()
        photos.copy(path)

    return seeds, read


TARGETS = {one.__name__: one for one in (recording, sheet, calibration, photo)}


def errors():
    from frothline.errors import FrothlineError

    return FrothlineError


def main(name, seconds):
    import atheris

    with atheris.instrument_imports(include=["frothline"]):
        import frothline.generator.sheet
        import frothline.readings.table
        import frothline.recording.catalogue
        import frothline.sensors.calibration_file
        import frothline.trials.photos  # noqa: F401
    folder = Path(tempfile.mkdtemp())
    (folder / "work").mkdir()
    (folder / "seeds").mkdir()
    seeds, read = TARGETS[name](folder / "work")
    for k, data in enumerate(seeds):
        (folder / "seeds" / str(k)).write_bytes(data)

    def once(data):
        with suppress(errors()):
            read(data)

    options = [f"-max_total_time={seconds}", f"-artifact_prefix={folder}/", "-max_len=4000", "-print_final_stats=1"]
    atheris.Setup([sys.argv[0], *options, str(folder / "seeds")], once)
    atheris.Fuzz()


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 60)
