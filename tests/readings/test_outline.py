"""A recording that is read a part at a time gives the time axis and the values of the whole recording."""

import numpy as np
import pytest
from recording_scenes import TICK_HZ, BoardStream, SetClock

from frothline.errors import NotARecording, RecordingUnwritable
from frothline.readings import outline as module
from frothline.readings import overview, time_axis
from frothline.readings.outline import batches, outlined
from frothline.readings.series import convert_pieces
from frothline.recording.files import files_of
from frothline.recording.reader import load, segments_of
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.wire import Tables

WRAP = 2**32


class Scene:
    """A recording of a board at 100 Hz, whose clock wraps after 3 s, with an anchor each second."""

    def __init__(self, folder, **policy):
        self.clock, self.stream = SetClock(), BoardStream(tick=WRAP - 3 * TICK_HZ)
        policy = Policy(free_floor=0, sync_every=1e6, **policy)
        self.writer = RecordingWriter.create(folder, "a", clock=self.clock, background=False, policy=policy)
        self.writer.write(self.stream.description())

    def run(self, seconds, *, scale=False):
        for second in range(seconds):
            data = self.stream.lines(50) + self.stream.slow() + self.stream.lines(50)
            if scale and second % 2:
                data += self.stream.send("scale", tick=self.stream.tick % WRAP, counts=5 + second, flags=3)
            told = self.stream.tick % WRAP
            self.writer.write(data + self.stream.lines(20))
            self.clock.advance(1.2)
            self.writer.anchor(told)  # late, as the host writes it from another thread
            self.writer.write(self.stream.lines(20))
            self.clock.advance(0.2)

    def away(self, seconds):
        self.writer.port("lost", "unplugged")
        self.clock.advance(seconds)
        self.stream.tick += round(seconds * TICK_HZ)
        self.writer.port("back")

    def boot(self, *, described=True):
        late = (self.stream.tick - 7 * TICK_HZ // 100) % WRAP
        self.stream = BoardStream(boot=self.stream.boot + 1)
        self.clock.advance(5)
        self.writer.write(self.stream.description() if described else b"")
        self.writer.write(self.stream.lines(30))
        self.writer.anchor(late)  # of the boot before
        self.writer.note("mark", "foam", late)

    def done(self):
        self.writer.close()
        return self.writer.path


def eventful(folder, **policy):
    """Each kind of break once or more: a lost port, a boot, a boot without its description, lost frames, a late scale."""
    scene = Scene(folder, **policy)
    scene.run(6)
    scene.away(4)
    scene.run(3)
    scene.away(0.5)
    scene.run(3)
    scene.boot()
    scene.run(3)
    scene.stream.lines(500)  # never arrive
    scene.clock.advance(5)
    scene.run(3, scale=True)
    scene.boot(described=False)
    scene.run(3)
    scene.away(2500)  # longer than the range of the counter
    scene.run(2)
    return scene.done()


def same_as_the_whole(path, size, rows):
    """The pieces, and the series that are converted by batches, are those of the whole recording."""
    recorded, files = load(path), files_of(segments_of(path))
    outline = outlined(files, size)
    parts = time_axis.pieces(outline)
    assert parts == time_axis.pieces(recorded)
    for name in ("anchor", "note"):
        table, offsets = recorded.decoded.tables[name], recorded.decoded.offsets.get(name, np.empty(0, int))
        if "tick" in table.dtype.names:
            told = [time_axis.place_told(one, table["tick"], offsets, parts) for one in (recorded, outline)]
            assert np.array_equal(*told, equal_nan=True)
            assert np.array_equal(
                *(time_axis.owners(one, parts, table["tick"], offsets) for one in (recorded, outline))
            )
    assert outline.line_messages == len(recorded.decoded.tables["line"])
    whole = convert_pieces(recorded, parts, None, None)
    found, converters = {}, {}
    for piece, tables in batches(files, parts, rows, size):
        assert isinstance(tables, Tables)
        assert len(tables["line"]) <= rows
        if piece.begin not in converters:
            converters[piece.begin] = overview.converter_of(outline, parts, piece, None, None)
        for name, series in converters[piece.begin].convert(tables).items():
            found.setdefault(name, []).append((series.time + piece.start, series.value))
    assert set(found) == set(whole)
    for name, series in found.items():
        time, value = (np.concatenate(column) for column in zip(*series, strict=True))
        assert np.array_equal(time, whole[name].time), name
        assert np.allclose(value, whole[name].value, rtol=1e-12, atol=0, equal_nan=True), name
    return outline


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return eventful(tmp_path_factory.mktemp("outline"))


@pytest.mark.parametrize(("size", "rows"), [(300, 64), (4001, 100), (1 << 22, 1 << 16)])
def test_parts_of_a_recording_with_breaks_have_the_axis_and_the_values_of_the_whole(path, size, rows, monkeypatch):
    monkeypatch.setattr(module, "_LATE", 500)  # line messages: a part has few of them
    outline = same_as_the_whole(path, size, rows)
    assert len(time_axis.pieces(outline)) >= 5


def test_few_line_messages_are_kept_for_the_axis(path, monkeypatch):
    monkeypatch.setattr(module, "_LATE", 500)
    outline = outlined(files_of([path]))
    # one each second has the tick of an anchor, and each host frame has two neighbours
    assert len(outline.decoded.tables["line"]) < outline.line_messages / 10


def test_parts_of_several_segments_are_those_of_the_whole(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "_LATE", 500)
    path = eventful(tmp_path, segment_bytes=20_000)
    assert len(segments_of(path)) > 3
    same_as_the_whole(path, 3000, 200)


def bare(folder, *parts):
    """A file of a board's frames alone, without any frame of the host."""
    path = folder / "bare.froth"
    path.write_bytes(b"".join(parts))
    return path


def test_a_long_stretch_of_line_messages_alone_stays_on_its_axis(tmp_path):
    """25 minutes, longer than half the range of the counter."""
    stream = BoardStream(rate=1)
    outline = same_as_the_whole(bare(tmp_path, stream.description(), stream.lines(1500)), 1 << 22, 1000)
    assert len(outline.decoded.tables["line"]) < 10


def test_two_silences_between_a_few_line_messages_are_both_measured(tmp_path):
    """Together they are longer than half the range of the counter, which lasts 1,074 s."""
    stream = BoardStream()
    parts = [stream.description(), stream.lines(20)]
    for _ in range(2):
        stream.tick += 600 * TICK_HZ
        parts.append(stream.lines(20))
    (piece,) = time_axis.pieces(same_as_the_whole(bare(tmp_path, *parts), 1 << 22, 1000))
    assert piece.seconds == pytest.approx(1200.59)


@pytest.mark.parametrize("after", [3, 4])
def test_a_boot_that_nothing_announces_is_found(tmp_path, after):
    stream, again = BoardStream(), BoardStream()
    parts = [stream.description(), stream.lines(100 + after), again.lines(60)]
    assert len(time_axis.pieces(same_as_the_whole(bare(tmp_path, *parts), 1 << 22, 1000))) == 2


def test_a_boot_whose_counter_has_passed_that_of_the_boot_before_is_found_by_its_description(tmp_path):
    stream, again = BoardStream(), BoardStream(boot=2, tick=TICK_HZ // 2)
    parts = [stream.description(), stream.lines(21), again.description(), again.lines(20)]
    first, _ = time_axis.pieces(same_as_the_whole(bare(tmp_path, *parts), 1 << 22, 1000))
    assert first.seconds == pytest.approx(0.20)  # 21 messages


@pytest.mark.parametrize("turning", [0, 2])
def test_a_rotor_that_turns_for_a_moment_is_known_to_turn(tmp_path, turning):
    """Before it turned it was at rest, where a rotor that never turns gives no value."""
    stream = BoardStream(tick=5 * TICK_HZ)  # behind the time after a boot in which a rotor may be at rest or absent
    names = ("pressure_sum", "pressure_n", "differential_sum", "differential_n", "thermal_sum", "thermal_n", "pulses")
    still = dict.fromkeys((*names, "edge_tick"), 0)
    parts = [stream.description()]
    for k in range(90):
        stream.tick += TICK_HZ // 100
        parts.append(stream.send("line", tick=stream.tick, flags=turning if 41 <= k < 44 else 0, **still))
    path = bare(tmp_path, *parts)
    same_as_the_whole(path, 1 << 22, 1000)
    series = convert_pieces(load(path), time_axis.pieces(load(path)), None, None)
    assert np.isfinite(series["rotor_frequency"].value[10]) == bool(turning)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_damaged_parts_are_those_of_the_whole(path, tmp_path, seed, monkeypatch):
    monkeypatch.setattr(module, "_LATE", 500)
    rng = np.random.default_rng(seed)
    data = np.frombuffer(path.read_bytes(), dtype=np.uint8).copy()
    places = rng.integers(600, data.size, 40)
    data[places] ^= rng.integers(1, 256, 40).astype(np.uint8)
    long = int(rng.integers(10_000, data.size - 10_000))
    data[long : long + 2000] = 7  # a stretch longer than any frame
    bad = tmp_path / "bad.froth"
    bad.write_bytes(data[: int(rng.integers(data.size // 2, data.size))].tobytes())
    same_as_the_whole(bad, 700, 150)


def test_the_recordings_of_earlier_formats_and_of_the_season(recordings, formats):
    for path in (*formats, *recordings[:3]):
        same_as_the_whole(path, 20_011, 1000)


@pytest.mark.exhaustive
def test_every_recording_of_the_season(recordings):
    for path in recordings:
        same_as_the_whole(path, 2003, 300)


@pytest.fixture(scope="module")
def recordings(request):
    return sorted((request.config.rootpath / "recordings" / "season").glob("*.froth"))


@pytest.fixture(scope="module")
def formats(request):
    found = sorted((request.config.rootpath / "tests" / "formats").glob("*.froth"))
    return [one for one in found if ".s0" not in one.name]


@pytest.mark.parametrize("size", [1, 7, 300, 1 << 22])
def test_a_part_ends_with_a_frame_and_all_parts_are_the_file(path, size):
    data = path.read_bytes()[:3000]
    short = path.with_name("short.froth")
    short.write_bytes(data)
    parts = list(files_of([short]).parts(size))
    short.unlink()
    assert b"".join(part for _, part in parts) == data
    assert all(part.endswith(b"\0") for _, part in parts[:-1])
    assert [begin for begin, _ in parts] == np.cumsum([0, *(len(part) for _, part in parts[:-1])]).tolist()


def test_a_file_without_any_zero_is_not_held_in_memory(path, tmp_path):
    file = tmp_path / "a.froth"
    file.write_bytes(b"\x07" * 100_000)
    parts = list(files_of([file]).parts(1000))
    assert sum(len(part) for _, part in parts) < 1000
    assert parts[-1][0] + len(parts[-1][1]) == 100_000
    with pytest.raises(NotARecording, match="no valid data"):
        outlined(files_of([file]), 1000)
    file.write_bytes(b"")
    with pytest.raises(NotARecording, match="empty"):
        outlined(files_of([file]))


def test_a_file_that_vanishes_meanwhile_is_said_in_plain_words(path, tmp_path):
    file = tmp_path / "a.froth"
    file.write_bytes(path.read_bytes())
    files = files_of([file])
    file.unlink()
    with pytest.raises(RecordingUnwritable, match="cannot be read"):
        outlined(files)


def test_progress_goes_from_nothing_to_all(path):
    said = []
    found = overview._calculated(files_of([path]), None, None, said.append)
    assert found.seconds > 2500
    assert said == sorted(said)
    assert said[-1] == 1.0
    assert 0.5 in said
