"""Coverage-guided fuzzing of what reads bytes and files: the decoders, recordings, texts of the workshop, photos.

    python tests/performance/fuzz.py recording 60     one target, for some seconds

A reader may refuse a file by an error of this package; any other exception is a find, and its input is saved in the
folder of the run. The fuzzer (atheris, a package with wheels; ``pip install -e .[fuzz]``) follows which lines an input
reaches and goes on from those that reach new ones; it begins with valid files.
"""

import importlib
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


def recorded(folder):
    """Recordings of frames whose checks are right and whose contents and order are any, behind a valid head.

    The input is cut at zeros; each piece is a frame without its check, in the stuffing of the wire.
    """
    from frothline.readings.marks import marks
    from frothline.readings.table import read_table
    from frothline.recording.reader import load, verify
    from frothline.sensors.spool import Spool
    from frothline.wire import cobs
    from frothline.wire.crc import crc32
    from frothline.wire.decoder import read_frame

    path, spool = folder / "a.froth", Spool.default()
    pieces = (FORMATS / "format-1.froth").read_bytes().split(b"\0")
    frames = [piece for piece in pieces if not isinstance(read_frame(piece), str)]
    bare = [cobs.encode(cobs.decode(frame)[:-4]) for frame in frames]

    def framed(piece):
        try:
            payload = cobs.decode(piece)
        except cobs.Malformed:
            payload = piece
        return cobs.encode(payload + crc32(payload).to_bytes(4, "little"))

    def read(data):
        path.write_bytes(b"\0".join([frames[0], *(framed(piece) for piece in data.split(b"\0") if piece), b""]))
        with suppress(errors()):
            verify(path)
        held = load(path)  # read once for both, with one spool: a fifth faster
        for use in (marks, lambda one: read_table(one, None, spool)):
            with suppress(errors()):
                use(held)

    return [b"\0".join(bare[1:40]), b"\0".join([*bare[1:12], *bare[-25:]])], read


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


SEGMENT = b"<seg>"  # between the parts of an input of ``segments``


def segments(folder):
    """Photos of any parts whose lengths and checks are right: JPEG (ITU-T T.81, B.1) and PNG (ISO/IEC 15948, 5.3).

    An input is cut at ``SEGMENT``. Of a JPEG each part is its marker and its contents, the last one everything from the
    scan on; of a PNG each part is the type of a chunk and its contents.
    """
    import io
    import zlib

    from PIL import Image

    from frothline.photo_file import upright_size
    from frothline.trials import photos

    def jpeg_parts(data):
        at, parts = 2, []
        while data[at + 1] != 0xDA:
            size = int.from_bytes(data[at + 2 : at + 4], "big")
            parts.append(data[at + 1 : at + 2] + data[at + 4 : at + 2 + size])
            at += 2 + size
        return [b"JPEG", *parts, data[at:]]

    def png_parts(data):
        at, parts = 8, []
        while at < len(data):
            size = int.from_bytes(data[at : at + 4], "big")
            parts.append(data[at + 4 : at + 8 + size])
            at += 12 + size
        return [b"PNG", *parts]

    def whole(data):
        kind, *parts = data.split(SEGMENT)
        if kind == b"PNG":
            chunks = (len(part[4:]).to_bytes(4, "big") + part + zlib.crc32(part).to_bytes(4, "big") for part in parts)
            return "png", b"\x89PNG\r\n\x1a\n" + b"".join(chunks)
        middle = (
            b"\xff" + part[:1] + (len(part) + 1).to_bytes(2, "big") + part[1:]
            for part in parts[:-1]
            if len(part) < 65_000
        )
        return "jpg", b"\xff\xd8" + b"".join(middle) + b"".join(parts[-1:])

    def read(data):
        kind, written = whole(data)
        path = folder / f"a.{kind}"
        path.write_bytes(written)
        photos._copy.cache_clear()
        photos.trouble(path)
        for use in (upright_size, photos.copy):
            with suppress(errors()):
                use(path)

    def drawn(mode, kind, **more):
        written, exif = io.BytesIO(), Image.Exif()
        exif[0x0112], exif[0x010F] = 6, "camera"
        Image.linear_gradient("L").resize((24, 16)).convert(mode).save(written, kind, exif=exif, **more)
        return written.getvalue()

    profile = bytes(range(64)) * 3
    pictures = [
        jpeg_parts(drawn("RGB", "JPEG", icc_profile=profile)),
        jpeg_parts(drawn("CMYK", "JPEG", progressive=True)),
        png_parts(drawn("P", "PNG", transparency=3)),
        png_parts(drawn("RGBA", "PNG", icc_profile=profile)),
    ]
    return [SEGMENT.join(parts) for parts in pictures], read


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
    for one in (
        decoders,
        frames,
        recording,
        recorded,
        sheet,
        calibration,
        generator,
        source,
        agent,
        pour,
        jar,
        plan,
        photo,
        segments,
    )
}


def errors():
    from frothline.errors import FrothlineError

    return FrothlineError


def main(name, seconds):
    import atheris

    watched = ["frothline", "PIL"]  # of the imaging library what is Python: markers, chunks, EXIF
    with atheris.instrument_imports(include=watched):
        import frothline.foam.agent_file
        import frothline.generator.sheet
        import frothline.photo_file
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

        for module in ("ImageOps", "JpegImagePlugin", "PngImagePlugin", "TiffImagePlugin"):
            importlib.import_module(f"PIL.{module}")
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
