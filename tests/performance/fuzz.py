"""Coverage-guided fuzzing of what reads bytes and files: the decoders, recordings, texts of the workshop, photos.

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
sys.path += [str(ROOT / folder) for folder in ("tests/sensors", "tests/source_library", "tests/support")]
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


def decoders(_folder):
    """Any bytes: both decoders find the same frames, damage and losses."""
    from frothline.wire import StreamDecoder, decode_all

    whole = (FORMATS / "format-1.froth").read_bytes()

    def read(data):
        stream = StreamDecoder()
        stream.feed(data)
        stream.finish()
        found, counts = decode_all(data), stream.counts
        assert counts.frames == sum(map(len, found.tables.values()))
        assert (counts.lost, counts.doubled) == (int(found.losses["missing"].sum()), found.doubled)

    return [whole[:600], whole[600:1500]], read


def frames(_folder):
    """Frames whose checks are right and whose contents are any: decoded alike, and converted to SI.

    The input is cut at zeros; each piece is the payload of a frame, its first byte the number of a known message.
    """
    from frothline.sensors.converter import Converter
    from frothline.sensors.description import RigDescription
    from frothline.wire import MESSAGES, cobs, decode_all
    from frothline.wire.crc import crc32

    known = list(MESSAGES.values())
    whole = decode_all((FORMATS / "format-1.froth").read_bytes())
    described = RigDescription.from_tables(whole.tables)
    _, bytes_alike = decoders(_folder)

    def framed(piece):
        message = known[piece[0] % len(known)]
        payload = (bytes([message.id]) + piece[1:]).ljust(message.size, b"\1")[: message.size]
        return cobs.encode(payload + crc32(payload).to_bytes(4, "little")) + b"\0"

    def read(data):
        stream = b"".join(framed(piece) for piece in data.split(b"\0") if piece)
        bytes_alike(stream)
        tables = decode_all(stream).tables
        with suppress(errors()):
            Converter(described).convert(tables)

    def piece_of(row, message):
        return bytes([known.index(message)]) + row.tobytes()[1:].replace(b"\0", b"\1")

    seeds = [
        b"\0".join(piece_of(row, MESSAGES[name]) for row in table[:4])
        for name, table in whole.tables.items()
        if len(table)
    ]
    return seeds, read


def _of_season(folder, names, read_file):
    """Files of one kind in the simulated season, and what reads one."""
    path = folder / "a.toml"
    seeds = [one.read_bytes() for one in sorted((ROOT / "recordings/season").glob(names))[:6]]

    def read(data):
        path.write_bytes(data)
        read_file(path)

    return seeds, read


def generator(_folder):
    from test_generator_files import TEXT

    from frothline.sweep.generator_file import parse_generator

    return [TEXT.encode()], lambda data: parse_generator(data.decode("utf-8", "replace"), "fuzzed")


def source(_folder):
    from test_source_files import GOOD

    from frothline.sweep.source_file import parse_source

    return [GOOD.encode()], lambda data: parse_source(data.decode("utf-8", "replace"), "fuzzed")


def agent(folder):
    from frothline.foam.agent_file import read_agent

    return _of_season(folder, "agents/*.toml", read_agent)


def pour(folder):
    from frothline.pours.record import read_pour

    return _of_season(folder, "pours/*.toml", read_pour)


def jar(folder):
    from frothline.pours.jar import read_jar

    return _of_season(folder, "jars/*.toml", read_jar)


def plan(folder):
    from frothline.pours.plan_file import read_plan_file

    return _of_season(folder, "pour-plan.toml", read_plan_file)


TARGETS = {
    one.__name__: one
    for one in (decoders, frames, recording, sheet, calibration, generator, source, agent, pour, jar, plan, photo)
}


def errors():
    from frothline.errors import FrothlineError

    return FrothlineError


def main(name, seconds):
    import atheris

    with atheris.instrument_imports(include=["frothline"]):
        import frothline.foam.agent_file
        import frothline.generator.sheet
        import frothline.pours.jar
        import frothline.pours.plan_file
        import frothline.pours.record
        import frothline.readings.table
        import frothline.recording.catalogue
        import frothline.sensors.calibration_file
        import frothline.sensors.converter
        import frothline.sweep.generator_file
        import frothline.sweep.source_file
        import frothline.trials.photos
        import frothline.wire  # noqa: F401
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
