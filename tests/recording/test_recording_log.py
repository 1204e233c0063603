"""The writer: what it puts into a file, where, and when."""

import re
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from recording_scenes import BoardStream, FailingDisk, SetClock

from frothline.errors import NewerFormat, NoSpace, NotARecording, RecordingUnwritable
from frothline.recording.reader import load, segments_of, verify
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.wire import LAYOUT_HASH, Received, StreamDecoder, decode_all, encode


def create(folder, name="a", **options):
    options = {"disk": FailingDisk(), "clock": SetClock(), "background": False} | options
    return RecordingWriter.create(folder, name, **options)


def messages(path):
    return [event.name for event in StreamDecoder().feed(path.read_bytes()) if isinstance(event, Received)]


def board_bytes(recorded):
    """The board's frames of a recording, host frames left out."""
    decoder = StreamDecoder()
    events = decoder.feed(recorded.data) + decoder.finish()
    return b"".join(event.raw for event in events if isinstance(event, Received) and event.message.origin == "board")


def test_the_boards_bytes_stand_in_the_file_as_they_came(tmp_path):
    stream = BoardStream()
    sent = stream.description() + stream.lines(50)
    with create(tmp_path, source="/dev/ttyUSB0") as writer:
        writer.write(sent)
    data = writer.path.read_bytes()
    assert sent in data
    assert messages(writer.path)[0] == "recording_opened"
    assert messages(writer.path)[-1] == "recording_closed"
    head = decode_all(data).tables["recording_opened"][0]
    assert (head["format"], head["layout_hash"], head["source"]) == (1, LAYOUT_HASH, b"/dev/ttyUSB0")
    closed = decode_all(data).tables["recording_closed"][0]
    assert closed["bytes"] == data.rindex(b"\0", 0, len(data) - 1) + 1
    assert closed["reason"] == b"stopped"


def test_damage_on_the_line_is_kept_too(tmp_path):
    stream = BoardStream()
    noise = b"\xff\x31\x07" + stream.line() + b"boot garbage"
    with create(tmp_path) as writer:
        writer.write(noise)
    assert noise in writer.path.read_bytes()


def test_bytes_are_in_the_file_as_soon_as_they_were_written(tmp_path):
    writer = create(tmp_path)
    chunk = BoardStream().lines(3)
    writer.write(chunk)
    assert writer.path.read_bytes().endswith(chunk)
    writer.close()


def test_a_mark_never_splits_a_frame_of_the_board(tmp_path):
    line = BoardStream().line()
    writer = create(tmp_path)
    writer.write(line[:10])
    writer.note("mark", "now", 7)
    assert "note" not in messages(writer.path)
    writer.write(line[10:])
    writer.close()
    assert messages(writer.path) == ["recording_opened", "line", "note", "recording_closed"]
    assert verify(writer.path).whole


def test_a_mark_does_not_wait_long_for_a_board_that_fell_silent(tmp_path):
    clock = SetClock()
    writer = create(tmp_path, clock=clock)
    writer.write(BoardStream().line()[:10])
    writer.note("mark", "now", 7)
    clock.advance(0.2)
    writer.idle()
    assert "note" not in messages(writer.path)
    clock.advance(0.1)
    writer.idle()
    assert "note" in messages(writer.path)
    writer.close()


def test_a_lost_port_ends_the_torn_frame_and_the_next_one_is_whole(tmp_path):
    stream = BoardStream()
    writer = create(tmp_path)
    writer.write(stream.line()[:20])
    writer.port("lost", "unplugged")
    writer.port("back")
    writer.write(stream.line())
    writer.close()
    assert messages(writer.path) == ["recording_opened", "port", "port", "line", "recording_closed"]
    report = verify(writer.path)
    assert (report.port_lost, len(report.damage), report.lost) == (1, 1, 0)


@given(st.lists(st.integers(1, 90), max_size=40), st.integers(0, 39))
@settings(max_examples=60)
def test_any_chunking_with_a_note_anywhere_keeps_every_frame(tmp_path_factory, sizes, at):
    stream = BoardStream()
    sent = stream.description() + stream.lines(20)
    writer = create(tmp_path_factory.mktemp("r"))
    start = 0
    for k, size in enumerate(sizes):
        writer.write(sent[start : start + size])
        start += size
        if k == at:
            writer.note("note", "größer " * 60, 0)
            writer.anchor(5)
    writer.write(sent[start:])
    writer.close()
    assert verify(writer.path).whole
    assert board_bytes(load(writer.path)) == sent


def test_a_long_note_is_kept_whole_in_several_frames(tmp_path):
    words = "Packung gewechselt – Δp höher. " * 20
    with create(tmp_path) as writer:
        writer.note("note", words)
    rows = decode_all(writer.path.read_bytes()).tables["note"]
    assert len(rows) > 3
    assert "".join(bytes(row["text"]).decode() for row in rows) == words


def test_a_name_that_is_taken_is_refused_and_the_first_recording_left_alone(tmp_path):
    with create(tmp_path, "same") as first:
        first.write(BoardStream().line())
    before = first.path.read_bytes()
    with pytest.raises(RecordingUnwritable, match=r"with this name exists.*Choose another name"):
        create(tmp_path, "same")
    assert first.path.read_bytes() == before


@pytest.mark.parametrize("name", ["", "../up", "a/b", ".hidden", "a:b", "x.s001"])
def test_a_name_that_would_lead_elsewhere_is_refused(tmp_path, name):
    with pytest.raises(RecordingUnwritable, match="is not a valid recording name"):
        create(tmp_path, name)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(RecordingUnwritable, match="a file has the name of the folder"):
        create(tmp_path / "file", "a")


def test_a_full_disk_is_refused_before_anything_is_written(tmp_path):
    with pytest.raises(NoSpace, match="only 49 MB are free, the minimum is 50 MB"):
        create(tmp_path, disk=FailingDisk(room=49_000_000))
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_fills_up_ends_the_recording_in_order(tmp_path):
    disk, clock = FailingDisk(), SetClock()
    writer = create(tmp_path, disk=disk, clock=clock)
    writer.write(BoardStream().lines(5))
    disk.room = 40_000_000
    clock.advance(61)
    writer.idle()
    assert writer.closed
    assert isinstance(writer.trouble, NoSpace)
    writer.write(b"more")
    assert writer.dropped == 4
    report = verify(writer.path)
    assert report.whole
    assert decode_all(writer.path.read_bytes()).tables["recording_closed"]["reason"] == b"the disk is nearly full"


def test_bytes_are_forced_to_the_medium_once_a_second_and_at_marks(tmp_path):
    clock = SetClock()
    writer = create(tmp_path, clock=clock)
    stream = BoardStream()
    writer.write(stream.lines(10))
    assert writer.kept > 0
    clock.advance(0.9)
    writer.write(stream.line())
    assert writer.kept > 0
    clock.advance(0.2)
    writer.write(stream.line())
    assert writer.kept == 0
    writer.write(stream.line())
    writer.note("mark")
    assert writer.kept == 0
    writer.write(stream.line())
    clock.advance(1.1)
    writer.idle()
    assert writer.kept == 0
    writer.close()


def test_the_thread_of_the_writer_forces_bytes_without_being_asked(tmp_path):
    policy = Policy(sync_every=0.05)
    with RecordingWriter.create(tmp_path, "a", policy=policy, disk=FailingDisk()) as writer:
        writer.write(BoardStream().lines(5))
        writer._thread.join(timeout=0.01)
        for _ in range(200):
            if not writer.kept:
                break
            writer._thread.join(timeout=0.01)
        assert writer.kept == 0
    assert not writer._thread.is_alive()


def test_notes_from_several_threads_never_split_a_frame_nor_get_lost(tmp_path):
    stream = BoardStream()
    sent = stream.description() + stream.lines(400)
    writer = RecordingWriter.create(
        tmp_path, "a", disk=FailingDisk(), policy=Policy(sync_every=0.01, hold=10.0, segment_bytes=5000)
    )

    def annotate(who):
        for k in range(25):
            writer.note("note", f"{who} {k}")
            writer.anchor(k)

    threads = [threading.Thread(target=annotate, args=(who,)) for who in range(4)]
    for thread in threads:
        thread.start()
    for start in range(0, len(sent), 23):
        writer.write(sent[start : start + 23])
    for thread in threads:
        thread.join()
    writer.close()
    recorded = load(writer.path)
    assert verify(writer.path).whole, verify(writer.path).sentences()
    assert recorded.decoded.tables["line"]["tick"].size == 400
    told = {bytes(text).decode() for text in recorded.decoded.tables["note"]["text"]}
    assert told == {f"{who} {k}" for who in range(4) for k in range(25)}


def test_a_long_recording_goes_on_in_segments_each_with_the_description(tmp_path):
    clock, stream = SetClock(), BoardStream()
    writer = create(tmp_path, clock=clock, policy=Policy(segment_bytes=2000, segment_seconds=1e9))
    sent = stream.description() + stream.lines(200)
    for start in range(0, len(sent), 37):
        writer.write(sent[start : start + 37])
    writer.close()
    paths = segments_of(tmp_path / "a")
    assert [path.name for path in paths[:2]] == ["a.froth", "a.s001.froth"]
    assert len(paths) > 4
    for path in paths[1:]:
        assert messages(path)[:8] == ["recording_opened", "description", *["channel"] * 6]
        assert verify(path).lost == 0
    recorded = load(tmp_path / "a.s002.froth")
    assert len(recorded.decoded.tables["line"]) == 200
    report = verify(tmp_path / "a")
    assert report.whole, report.sentences()
    assert report.missing_segments == ()


def test_an_hour_is_a_segment(tmp_path):
    clock, stream = SetClock(), BoardStream()
    writer = create(tmp_path, clock=clock)
    writer.write(stream.lines(2))
    clock.advance(3601)
    writer.write(stream.line())
    writer.write(stream.line())
    writer.close()
    assert [len(decode_all(path.read_bytes()).tables["line"]) for path in segments_of(writer.path)] == [3, 1]


def test_a_lost_first_segment_does_not_orphan_the_rest(tmp_path):
    stream = BoardStream()
    writer = create(tmp_path, policy=Policy(segment_bytes=2000))
    writer.write(stream.description())
    for _ in range(80):
        writer.write(stream.line())
    writer.close()
    (tmp_path / "a.froth").unlink()
    report = verify(tmp_path / "a")
    assert report.missing_segments == (0,)
    assert report.messages["description"] >= 1
    assert "missing segments: 0" in report.sentences()


def crashed(folder, tail=b""):
    """A recording whose writer died, with a torn frame at its end."""
    stream = BoardStream()
    writer = create(folder)
    writer.write(stream.description() + stream.lines(5) + tail)
    with writer.path.open("rb") as file:
        data = file.read()
    path = folder / "crashed.froth"
    path.write_bytes(data)
    writer.close()
    return path, stream


@pytest.mark.parametrize("cut", range(1, 12))
def test_after_a_crash_the_torn_frame_does_not_swallow_the_next_one(tmp_path, cut):
    path, stream = crashed(tmp_path, BoardStream().line()[:cut])
    torn = path.read_bytes()
    writer = RecordingWriter.resume(path, background=False)
    writer.write(stream.line())
    writer.close()
    data = path.read_bytes()
    assert data.startswith(torn + b"\0")  # nothing truncated, a zero first
    assert messages(path)[-3:] == ["recording_resumed", "line", "recording_closed"]
    report = verify(path)
    assert (report.resumed, len(report.damage), report.closed) == (1, 1, True)


def test_a_resumed_recording_still_knows_the_board(tmp_path):
    path, stream = crashed(tmp_path)
    writer = RecordingWriter.resume(path, background=False, policy=Policy(segment_bytes=100))
    writer.write(stream.lines(2))
    writer.write(stream.line())
    writer.close()
    assert messages(tmp_path / "crashed.s001.froth")[1] == "description"
    assert verify(path).identity == writer.identity.hex()


def test_a_recording_that_was_closed_is_not_gone_on_with(tmp_path):
    with create(tmp_path) as writer:
        pass
    with pytest.raises(RecordingUnwritable, match="closed properly"):
        RecordingWriter.resume(writer.path)


def test_what_is_no_recording_is_not_written_to(tmp_path):
    other = tmp_path / "letter.froth"
    other.write_bytes(b"Dear customer,\n")
    with pytest.raises(NotARecording):
        RecordingWriter.resume(other)
    assert other.read_bytes() == b"Dear customer,\n"


def newer(path):
    """The same file with the format number of a later version in its head."""
    data = path.read_bytes()
    head = decode_all(data).tables["recording_opened"][0]
    values = {name: head[name] for name in head.dtype.names[2:]}
    values = {name: v.tobytes() if name == "identity" else v for name, v in values.items()} | {"format": 2}
    path.write_bytes(encode("recording_opened", 0, **values) + data[data.index(b"\0") + 1 :])


def test_a_newer_format_is_neither_read_nor_written(tmp_path):
    path, _ = crashed(tmp_path)
    newer(path)
    before = path.read_bytes()
    for use in (RecordingWriter.resume, load, verify):
        with pytest.raises(NewerFormat, match="format 2"):
            use(path)
    assert path.read_bytes() == before


def test_two_writers_never_share_a_file(tmp_path):
    writer = create(tmp_path)
    writer.write(BoardStream().line())
    with pytest.raises(RecordingUnwritable, match="another program is writing"):
        RecordingWriter.resume(writer.path)
    with pytest.raises(RecordingUnwritable, match="with this name exists"):
        create(tmp_path)
    writer.close()
    assert verify(writer.path).whole


def test_a_closed_recording_takes_no_notes(tmp_path):
    writer = create(tmp_path)
    writer.close()
    writer.close()
    with pytest.raises(RecordingUnwritable, match="is closed"):
        writer.note("mark")


def test_the_promise_of_the_file_head_names_every_host_message():
    from frothline.recording import writer as recording_writer
    from frothline.wire import MESSAGES

    for message in MESSAGES.values():
        if message.origin == "host" and message.name != "alarm":
            assert re.search(rf"``{message.name}``", recording_writer.__doc__), message.name
