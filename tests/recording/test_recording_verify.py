"""What is said of a recording of which something was taken away, doubled, put in, or that was interrupted."""

import dataclasses
import errno

import pytest
from recording_scenes import BoardStream, FailingDisk, SetClock

from frothline.cli import main
from frothline.errors import NotARecording
from frothline.recording.reader import verify
from frothline.recording.segments import Policy
from frothline.recording.writer import RecordingWriter
from frothline.wire import Received, StreamDecoder


def record(folder, name="a", *, seconds=100, rate=100, disk=None, **policy):
    """A recording with an anchor every 10 s and a note; several segments where ``policy`` asks for them."""
    clock, stream = SetClock(), BoardStream(rate=rate)
    writer = RecordingWriter.create(
        folder, name, clock=clock, background=False, disk=disk, policy=Policy(free_floor=0, **policy)
    )
    for second in range(seconds):
        if second % 5 == 0:
            writer.write(stream.description())
        writer.write(stream.seconds(1))
        clock.advance(1)
        if second % 10 == 9:
            writer.anchor(stream.tick)
    writer.note("note", "done", stream.tick)
    writer.close()
    return tmp_first(folder, name)


def tmp_first(folder, name):
    return folder / f"{name}.froth"


def frames_of(path):
    return [event for event in StreamDecoder().feed(path.read_bytes()) if isinstance(event, Received)]


def rewrite(path, frames):
    path.write_bytes(b"".join(frame.raw for frame in frames))


def assert_not_whole(path, *words):
    report = verify(path)
    assert report.verdict == "damaged", report.sentences()
    assert not report.whole
    assert report.exit_code == 1
    said = " | ".join(report.sentences())
    for word in words:
        assert word in said
    return report


@pytest.fixture(scope="module")
def long_one(tmp_path_factory):
    """410 s at 100 Hz: some 44,000 frames of the board."""
    return record(tmp_path_factory.mktemp("long"), seconds=410)


@pytest.fixture
def copy(long_one, tmp_path):
    path = tmp_path / "a.froth"
    path.write_bytes(long_one.read_bytes())
    return path


def is_board(frame):
    return frame.message.origin == "board"


def test_as_it_was_written_it_is_whole(copy):
    report = verify(copy)
    assert report.verdict == "whole", report.sentences()
    assert report.exit_code == 0


@pytest.mark.parametrize(
    "cut",
    [
        1,
        pytest.param(500, marks=pytest.mark.exhaustive),
        pytest.param(32_768, marks=pytest.mark.exhaustive),
        33_000,
        pytest.param(40_000, marks=pytest.mark.exhaustive),
    ],
)
def test_frames_cut_out_of_the_middle_are_counted(copy, cut):
    frames = frames_of(copy)
    board = [k for k, frame in enumerate(frames) if is_board(frame)]
    gone = set(board[2000 : 2000 + cut])
    rewrite(copy, [frame for k, frame in enumerate(frames) if k not in gone])
    report = assert_not_whole(copy, f"{cut} frame{'s' if cut > 1 else ''} of the board never arrived")
    assert report.lost == cut


def test_without_its_last_frames_it_is_not_whole(copy):
    frames = frames_of(copy)
    rewrite(copy, frames[:-20_000])
    assert_not_whole(copy, "not closed properly")
    # though its end was put back by hand
    rewrite(copy, frames[:-20_000] + frames[-1:])
    assert_not_whole(copy, "was closed at byte", "frames of the host")


def test_without_its_head_it_is_not_whole(copy):
    rewrite(copy, frames_of(copy)[1:])
    assert_not_whole(copy, "the head is missing: a.froth")


def test_without_any_frame_of_the_host_it_is_not_whole(copy):
    rewrite(copy, [frame for frame in frames_of(copy) if is_board(frame)])
    assert_not_whole(copy, "the head is missing", "not closed properly")


def test_without_one_anchor_or_note_it_is_not_whole(copy):
    frames = frames_of(copy)
    for name in ("anchor", "note"):
        k = next(k for k, frame in enumerate(frames) if frame.name == name)
        rewrite(copy, frames[:k] + frames[k + 1 :])
        assert_not_whole(copy, "1 frames of the host")


@pytest.mark.parametrize("doubled", [1, 500])
def test_frames_that_came_twice_are_counted(copy, doubled):
    frames = frames_of(copy)
    board = [k for k, frame in enumerate(frames) if is_board(frame)][3000:]
    piece = [frames[k] for k in board[:doubled]]
    end = board[doubled - 1] + 1
    rewrite(copy, frames[:end] + piece + frames[end:])
    report = assert_not_whole(copy, f"{doubled} frame{'s' if doubled > 1 else ''} of the board came twice")
    assert (report.doubled, report.lost) == (doubled, 0)


def test_another_recording_glued_on_is_named(copy, tmp_path):
    other = record(tmp_path / "other", "b", seconds=5)
    size = copy.stat().st_size
    copy.write_bytes(copy.read_bytes() + other.read_bytes())
    assert_not_whole(copy, f"another recording begins at byte {size} of a.froth")


def test_a_file_joined_to_itself_is_named_and_not_called_another_recording(copy):
    size = copy.stat().st_size
    copy.write_bytes(copy.read_bytes() * 2)
    report = assert_not_whole(copy, f"the same recording begins again at byte {size} of a.froth")
    said = " | ".join(report.sentences())
    assert "another recording" not in said
    assert "was closed at byte" not in said  # each copy has the length that its end notes


def test_another_recording_under_the_name_of_a_segment_is_named(copy, tmp_path):
    other = record(tmp_path / "other", "b", seconds=5)
    (tmp_path / "a.s001.froth").write_bytes(other.read_bytes())
    assert_not_whole(copy, "another recording of the same name is ignored: a.s001.froth")


def test_segments_are_whole_together_and_not_without_the_end_of_one_of_them(tmp_path):
    path = record(tmp_path, seconds=40, segment_bytes=30_000)
    segments = sorted(tmp_path.glob("a*.froth"))
    assert len(segments) > 3
    assert verify(path).verdict == "whole", verify(path).sentences()
    middle = tmp_path / "a.s001.froth"
    kept = middle.read_bytes()
    rewrite(middle, frames_of(middle)[:-1])
    assert_not_whole(path, "not closed properly, but another segment follows: a.s001.froth")
    middle.write_bytes(kept)
    rewrite(middle, frames_of(middle)[1:])
    assert_not_whole(path, "the head is missing: a.s001.froth")


def test_the_end_of_a_file_that_goes_on_is_no_end(copy):
    frames = frames_of(copy)
    rewrite(copy, [*frames, frames[100]])
    assert_not_whole(copy)


@pytest.mark.parametrize("call", [9, 14, 25])
def test_a_write_that_failed_and_was_made_good_is_complete(tmp_path, call):
    """The fault is in the recording with its cause; every byte of the board is there."""
    path = record(tmp_path, seconds=30, disk=FailingDisk(call, errno.EIO))
    report = verify(path)
    assert report.faults
    assert report.verdict == "complete", report.sentences()
    assert report.exit_code == 0
    assert report.sentences()[-1] == "complete: writing failed once, no data was lost"


@pytest.mark.parametrize("torn", [False, True, "joined"], ids=["between frames", "within a frame", "joined in one"])
def test_a_cable_that_was_out_34_times_is_an_interruption_with_its_figures(tmp_path, torn):
    clock, stream = SetClock(), BoardStream()
    writer = RecordingWriter.create(tmp_path, "a", clock=clock, background=False, policy=Policy(free_floor=0))
    writer.write(stream.description())
    for _ in range(34):
        writer.write(stream.seconds(1))
        if torn is True:
            writer.write(stream.line()[:20])
        writer.port("lost", "unplugged")
        clock.advance(2.5)
        stream.lines(250)
        writer.port("back")
        if torn == "joined":
            writer.write(stream.line()[20:])
    writer.write(stream.seconds(1))
    writer.close()
    report = verify(writer.path)
    assert report.verdict == "interrupted", report.sentences()
    assert report.exit_code == 1
    assert "the port was lost 34 times, for 85.0 s in total" in report.sentences()
    assert report.torn == (34 if torn else 0)


@pytest.mark.parametrize("seconds", [5, 30])
def test_a_boot_whose_first_description_is_damaged_gives_neither_lost_nor_doubled_frames(tmp_path, seconds):
    """The description of the boot before is the one that is damaged: only the second one is left to compare."""
    writer = RecordingWriter.create(tmp_path, "a", clock=SetClock(), background=False, policy=Policy(free_floor=0))
    first, second = BoardStream(boot=1), BoardStream(boot=2)
    damaged = bytearray(first.description())
    damaged[20] ^= 1 if damaged[20] != 1 else 2
    data = bytes(damaged) + first.seconds(seconds) + second.description() + second.seconds(5)
    writer.write(data)
    writer.close()
    report = verify(writer.path)
    assert (report.lost, report.doubled, len(report.damage)) == (0, 0, 1), report.sentences()
    decoder = StreamDecoder()
    decoder.feed(data)
    assert (decoder.counts.lost, decoder.counts.doubled) == (0, 0)


def test_frames_before_the_first_description_are_counted_with_those_behind_it(tmp_path):
    """The board was asked in mid-stream: its description is no boot, and a frame lost before or behind it is one."""
    writer = RecordingWriter.create(tmp_path, "a", clock=SetClock(), background=False, policy=Policy(free_floor=0))
    stream = BoardStream()
    stream.seconds(30)
    data = stream.seconds(5)
    stream.line()  # lost
    writer.write(data + stream.description() + stream.seconds(5))
    writer.close()
    assert (verify(writer.path).lost, verify(writer.path).doubled) == (1, 0)


def test_a_file_of_damage_is_counted_whole_and_listed_in_part(copy):
    """Each damaged stretch has an object in the list: 2 MB of nothing else took 353 MB, and take 74 MB."""
    whole = copy.read_bytes()
    copy.write_bytes(whole + b"\1\0" * 25_000)
    report = verify(copy)
    assert (report.stretches, report.damaged_bytes, len(report.damage)) == (25_000, 25_000, 10_000)
    assert report.damage[0].offset == len(whole)
    assert "25000 damaged stretches, 25000 bytes in total" in " | ".join(report.sentences()).replace(",000", "000")


def test_a_recording_resumed_after_a_crash_is_an_interruption(tmp_path):
    clock, stream = SetClock(), BoardStream()
    writer = RecordingWriter.create(tmp_path, "a", clock=clock, background=False, policy=Policy(free_floor=0))
    writer.write(stream.description() + stream.seconds(2) + stream.line()[:15])
    writer._segments._disk.close(writer._segments._descriptor)
    again = RecordingWriter.resume(writer.path, clock=clock, background=False, policy=Policy(free_floor=0))
    again.write(stream.seconds(2))
    again.close()
    report = verify(again.path)
    assert report.verdict == "interrupted", report.sentences()
    assert report.resumed == 1


def test_a_suspended_computer_is_told_with_the_frames_that_it_lost(tmp_path):
    """80 s at 500 Hz: 40,000 line messages and 400 slow readings."""
    stream = BoardStream(rate=500)
    writer = RecordingWriter.create(tmp_path, "a", background=False, policy=Policy(free_floor=0))
    writer.write(stream.description() + stream.seconds(20))
    stream.seconds(80)
    writer.write(stream.seconds(5))
    writer.close()
    assert assert_not_whole(writer.path, "40400 frames of the board never arrived").lost == 40_400


def test_the_exit_code_of_the_prompt_follows_the_verdict(copy, capsys):
    assert main(["verify", str(copy)]) == 0
    rewrite(copy, frames_of(copy)[1:])
    assert main(["verify", str(copy)]) == 1
    assert "damaged or incomplete" in capsys.readouterr().out


def test_the_losses_of_a_recording_are_listed_and_a_whole_one_has_none(copy):
    assert verify(copy).losses() == []
    frames = frames_of(copy)
    first = next(k for k, frame in enumerate(frames) if is_board(frame) and k > 3000)
    note = next(k for k, frame in enumerate(frames) if not is_board(frame) and k > 3000)
    changed = {
        "7 frames missing": frames[:first] + frames[first + 7 :],
        "1 frames twice": [*frames[: first + 1], frames[first], *frames[first + 1 :]],
        "1 frames of the host (notes, anchors, ends) are missing": frames[:note] + frames[note + 1 :],
        "it was not closed properly": frames[:-1],
    }
    for words, kept in changed.items():
        rewrite(copy, kept)
        report = verify(copy)
        assert words in report.losses()
        assert report.whole is False


@pytest.mark.parametrize("lost", [0, 7])
def test_a_count_of_missing_frames_that_is_the_least_is_said_to_be(copy, lost):
    report = dataclasses.replace(verify(copy), lost=lost, at_least=True)
    more = "perhaps some times 65,536 frames more are missing"
    assert any(words.startswith(more) for words in report.losses())
    assert any(words.startswith(more) for words in report.sentences())
    assert ("7 frames missing at least" in report.losses()) == (lost == 7)
    assert ("at least 7 frames of the board never arrived" in report.sentences()) == (lost == 7)
    assert report.whole is False
    assert report.as_dict()["at_least"] is True


def test_frames_that_came_twice_are_not_reported_as_a_recording_without_its_end(copy):
    frames = frames_of(copy)
    first = next(k for k, frame in enumerate(frames) if is_board(frame) and k > 3000)
    rewrite(copy, [*frames[: first + 1], frames[first], *frames[first + 1 :]])
    report = verify(copy)
    assert "1 frames twice" in report.losses()
    assert report.closed
    assert "it was not closed properly" not in report.losses()


def test_a_file_of_another_kind_is_said_to_be_no_recording(tmp_path):
    (tmp_path / "card.html").write_text("<html>")
    with pytest.raises(NotARecording, match=r"this file is not a recording; recordings end in \.froth") as raised:
        verify(tmp_path / "card.html")
    assert raised.value.where.endswith("card.html")
    with pytest.raises(NotARecording, match="does not exist"):
        verify(tmp_path / "gone")
