"""Recording under faults: killed, full, gone, read-only, wrong clock, damaged, joined.

The everyday tests try a sample of each table, see ``test_recording_faults.py``.
"""

import contextlib
import errno
import mmap
import os
import random
import resource
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter
from pathlib import Path

import numpy as np
import tomlkit  # noqa: F401  before the children are forked, so that they begin to record at once

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests/support"), str(ROOT / "tests/performance")]

from recording_scenes import BoardStream, FailingDisk, SetClock  # noqa: E402
from results_page import Part  # noqa: E402

from frothline.errors import FrothlineError  # noqa: E402
from frothline.readings.table import read_table  # noqa: E402
from frothline.recording.catalogue import Catalogue  # noqa: E402
from frothline.recording.reader import load, segments_of, verify  # noqa: E402
from frothline.recording.segments import Policy  # noqa: E402
from frothline.recording.sidecar import write_metadata  # noqa: E402
from frothline.recording.writer import RecordingWriter  # noqa: E402
from frothline.wire import decode_all  # noqa: E402

KILLS, DAMAGED_FRAMES = 500, 10_000_000
LONGEST_LIFE = 0.08  # s of a child before it is killed; a recording begins within 10 ms
POLICY = Policy(free_floor=0, segment_bytes=60_000, hold=0.01)


# --- killed -------------------------------------------------------------------------------------------------------


def _record_until_killed(folder, name, handed):
    """Begin a recording as the recorder does, then write as fast as it goes; ``handed`` counts the bytes written."""
    stream = BoardStream()
    write_metadata(folder / f"{name}.toml", {"recording": name})
    handed[0:8] = struct.pack("<q", 0)  # the next step makes the file
    writer = RecordingWriter.create(folder, name, policy=POLICY, background=False)
    total, k = 0, 0
    data = stream.description()
    while True:
        writer.write(data)
        total += len(data)
        handed[0:8] = struct.pack("<q", total)  # after ``write`` has returned: from now on it must be in the file
        k += 1
        if k % 50 == 0:
            writer.note("mark", str(k))
        data = stream.lines(3)


def killed_recordings(folder, count, seed):
    """Kill ``count`` recording processes, each at a random moment; what each left, counted."""
    draw, found = random.Random(seed), Counter()
    for k in range(count):
        place = folder / str(k)
        place.mkdir(parents=True)
        handed = mmap.mmap(-1, 8)  # shared with the child
        handed[0:8] = struct.pack("<q", -1)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # of a fork beside threads: the child is killed
            child = os.fork()
        if not child:
            with contextlib.suppress(BaseException):
                _record_until_killed(place, "a", handed)
            os._exit(1)
        while k % 4 and handed[0:8] == struct.pack("<q", -1):  # three of four begin at the recording, one before
            time.sleep(0.0002)
        # The square gives the begin, the shortest step, its share of the moments.
        time.sleep(LONGEST_LIFE * draw.random() ** 2)
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        found["ended by itself"] += not os.WIFSIGNALED(status)
        found += _what_was_left(place, struct.unpack("<q", handed[0:8])[0])
        shutil.rmtree(place)
    return found


def _what_was_left(place, handed):
    found = Counter({"killed": 1, "bytes handed over": max(0, handed)})
    segments = sorted(place.glob("*.froth"))
    if not segments:
        found["before the recording began"] = 1
        found["bytes lost"] = max(0, handed)
        return found
    found["left a recording"] = 1
    found["empty files"] = sum(not path.stat().st_size for path in segments)
    found["without TOML"] = not (place / "a.toml").exists()
    try:
        (entry,) = Catalogue(place)
        found["listed with a problem"] = bool(entry.problem)
        report = verify(segments[0])
        recorded = load(segments[0])
    except FrothlineError:
        found["refused in words"] = 1
        found["bytes lost"] = max(0, handed)
        return found
    except Exception:
        found["tracebacks"] = 1
        return found
    found["opened"] = 1
    found["without a head"] = len(report.host.headless)
    found["frames lost"] = report.lost
    found["bytes lost"] = max(0, handed - board_bytes(recorded))
    try:
        with RecordingWriter.resume(segments_of(segments[0])[-1], policy=POLICY, background=False) as writer:
            writer.write(BoardStream().line())
        found["continued"] = verify(segments[0]).closed
    except FrothlineError:
        found["not continued, in words"] = 1
    except Exception:
        found["tracebacks"] += 1
    return found


def board_bytes(recorded):
    """Bytes of the board in a recording: all but the frames of the host, and descriptions repeated in a segment."""
    from frothline.recording.host_frames import BoardFrames
    from frothline.wire import Received, StreamDecoder

    total = 0
    for k, start in enumerate(recorded.starts):
        end = recorded.starts[k + 1] - 1 if k + 1 < len(recorded.starts) else len(recorded.data)
        decoder, board = StreamDecoder(), BoardFrames()
        data = recorded.data[start:end]
        board.see(data)
        repeated = len(board.description()) if k else 0
        host = sum(
            len(event.raw)
            for event in decoder.feed(data)
            if isinstance(event, Received) and event.message.origin == "host"
        )
        total += len(data) - host - repeated
    return total


# --- a disk that fails --------------------------------------------------------------------------------------------


def _written(folder, disk):
    """Record 40 lines with marks on a failing disk; the writer, and the lines that were handed to it."""
    folder.mkdir(parents=True)
    clock, stream = SetClock(), BoardStream()
    writer = RecordingWriter.create(
        folder, "a", disk=disk, clock=clock, background=False, policy=Policy(segment_bytes=4000)
    )
    writer.write(stream.description())
    for k in range(40):
        writer.write(stream.line())
        clock.advance(0.6)
        if k % 9 == 4:
            writer.note("mark", f"mark {k}")
    return writer


def failing_disk(folder, number, *, for_ever=False, step=1):
    """One failure at each call that the disk gets; counts of what became of the recording."""
    good = FailingDisk()
    _written(folder / "good", good).close()
    found = Counter()
    for call in range(1, good.calls + 1, step):
        found["cases"] += 1
        place = folder / f"{number}-{for_ever}-{call}"
        try:
            writer = _written(place, FailingDisk(call, number, for_ever=for_ever))
            lost = None
            try:
                writer.close()
            except FrothlineError:
                found["reported at the end"] += 1
                lost = True
            there = len(load(place / "a").decoded.tables["line"])
            if lost is None:
                found["lines lost without a word"] += 40 - there
                found["complete"] += there == 40
            else:
                found["readable up to the failure"] += 1
        except FrothlineError:
            found["refused in words"] += 1
        except Exception:
            found["tracebacks"] += 1
    return found


def small_disk(folder, size=200_000):
    """Record on a file system of ``size`` bytes until it is full, or None where this user may mount none."""
    folder.mkdir(parents=True)
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if mounted.returncode:
        return None
    try:
        return _filled(folder / "recordings")
    finally:
        subprocess.run(["umount", "-l", str(folder)], check=True)


def small_file(folder, size=100_000):
    """As ``small_disk``, with the limit of the system on one file instead: each segment ends there."""
    folder.mkdir(parents=True)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        return _filled(folder)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, ignored)


def _filled(folder):
    clock, stream, found = SetClock(), BoardStream(), Counter(cases=1)
    writer = RecordingWriter.create(folder, "a", clock=clock, background=False, policy=Policy(free_floor=0))
    writer.write(stream.description())
    handed = 0
    for _ in range(100):
        writer.write(stream.lines(100))
        handed += 100
        clock.advance(1.0)
    found["write faults"] = writer.status().write_faults
    try:
        writer.close()
        found["complete"] = 1
    except FrothlineError:
        found["reported at the end"] = 1
    report = verify(folder / "a")
    found["lines handed over"], found["lines in the file"] = handed, report.messages.get("line", 0)
    found["lines lost inside"] = report.lost
    return found


def folder_faults(folder):
    """Deleted, moved, replaced by a file, read-only, and a clock that is set back, each while it is recorded."""
    found = []
    for name, harm in (
        ("folder deleted", shutil.rmtree),
        ("folder moved", lambda place: place.rename(place.with_name("moved"))),
        ("file deleted", lambda place: (place / "a.froth").unlink()),
        ("folder replaced by a file", lambda place: (shutil.rmtree(place), place.write_text("in the way"))),
        ("clock set back a day", None),
    ):
        place = folder / name.replace(" ", "-") / "recordings"
        place.mkdir(parents=True)
        clock, stream = SetClock(), BoardStream()
        writer = RecordingWriter.create(place, "a", clock=clock, background=False, policy=Policy(free_floor=0))
        writer.write(stream.description() + stream.lines(500))
        clock.advance(5.0)
        writer.anchor(stream.tick)
        writer.sync()  # once a second
        writer.write(stream.lines(100))
        clock.advance(1.0)
        if harm is None:
            clock.unix -= 86_400
        else:
            harm(place)
        clock.advance(1.1)
        writer.idle()  # once a second
        writer.write(stream.lines(400))
        clock.advance(4.0)
        if place.is_file():
            place.unlink()
        writer.idle()
        writer.anchor(stream.tick)
        writer.close()
        files = [place / "a.froth", place / "a.s001.froth", place.with_name("moved") / "a.froth"]
        lines = {
            number
            for file in files
            if file.exists()
            for number in load([file]).decoded.tables["line"]["sequence"].tolist()
        }
        (entry,) = Catalogue(place)
        length = "" if harm is not None else f", length {entry.seconds:.1f} s of 11.1 s"
        found.append((name, len(lines), 1000, f"{verify(place / 'a').verdict}{length}"))
    return found


# --- damaged bytes ------------------------------------------------------------------------------------------------


def damaged_files(folder, count, seed):
    """Flip bits, cut tails, join files; every frame that no harm touched must be read. Returns counts."""
    draw, found = np.random.default_rng(seed), Counter()
    folder.mkdir(parents=True)
    writer = RecordingWriter.create(folder, "whole", clock=SetClock(), background=False, policy=Policy(free_floor=0))
    stream = BoardStream()
    writer.write(stream.description() + stream.seconds(10))
    writer.close()
    whole = np.frombuffer(writer.path.read_bytes(), dtype=np.uint8)
    ends = np.flatnonzero(whole == 0)
    for _ in range(count):
        data = whole.copy()
        flipped = draw.integers(0, data.size, draw.integers(1, 40))
        data[flipped] ^= (1 << draw.integers(0, 8, flipped.size)).astype(np.uint8)
        cut = int(draw.integers(data.size // 2, data.size + 1))
        changed = np.flatnonzero(data != whole)
        touched = set(np.searchsorted(ends, changed).tolist())
        # a delimiter that was turned over also takes the frame behind it
        touched |= {int(np.searchsorted(ends, one)) + 1 for one in changed if whole[one] == 0}
        untouched = {k for k in range(ends.size) if ends[k] < cut} - touched
        joined = draw.random() < 0.3
        content = data[:cut].tobytes() + (b"\0" + whole.tobytes() if joined else b"")
        there = decode_all(content)
        starts = np.sort(np.concatenate(list(there.offsets.values())))
        begins = np.concatenate([[0], ends[:-1] + 1])
        read = int(np.isin(begins[sorted(untouched)], starts).sum())
        found["files"] += 1
        found["frames not touched"] += len(untouched) + (ends.size if joined else 0)
        found["of them read"] += read + (int((starts > cut).sum()) if joined else 0)
        place = folder / "bad.froth"
        place.write_bytes(content)
        for use in (verify, read_table, lambda path: list(Catalogue(path.parent))):
            try:
                use(place)
            except FrothlineError:
                found["refused in words"] += 1
            except Exception:
                found["tracebacks"] += 1
    return found


def damaged_frames(count, seed, chunk=200_000):
    """Decode ``count`` frames that each have 1 to 40 wrong bits; returns those decoded and those taken for valid.

    Half have single wrong bits, half a burst of up to 64 bits of noise. The zero behind a frame stays.
    """
    draw, valid, done = np.random.default_rng(seed), 0, 0
    stream = BoardStream()
    while done < count:
        n = min(chunk, count - done)
        frames = [np.frombuffer(stream.line(), dtype=np.uint8) for _ in range(64)]
        length = max(len(one) for one in frames)
        same = np.array([one for one in frames if len(one) == length])
        rows = same[draw.integers(0, len(same), n)].copy()
        half = n // 2
        for _ in range(int(draw.integers(1, 41))):
            column = draw.integers(0, length - 1, half)
            rows[np.arange(half), column] ^= (1 << draw.integers(0, 8, half)).astype(np.uint8)
        first = draw.integers(0, length - 9, n - half)
        for k in range(int(draw.integers(1, 9))):
            rows[np.arange(half, n), first + k] = draw.integers(1, 256, n - half)
        intact = (rows[:, None, :] == same[None, :, :]).all(axis=2).any(axis=1) if n <= 2000 else _intact(rows, same)
        rows = rows[~intact]
        valid += decode_all(rows.tobytes()).frames
        done += len(rows)
    return done, valid


def _intact(rows, same):
    known = {one.tobytes() for one in same}
    return np.fromiter((row.tobytes() in known for row in rows), dtype=np.bool_, count=len(rows))


# --- the page -----------------------------------------------------------------------------------------------------


def measure(seed):
    rows = []
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        kills = killed_recordings(folder / "killed", KILLS, seed)
        rows.append(
            [
                f"SIGKILL at {kills['killed']} moments",
                str(kills["killed"]),
                (
                    f"{kills['before the recording began']} before a recording began, {kills['opened']} open, "
                    f"{kills['refused in words']} refused in words; {kills['continued']} continued in the same files"
                ),
                (
                    f"{kills['bytes lost']} bytes of {kills['bytes handed over'] / 1e6:.1f} MB handed over; "
                    f"{kills['empty files']} empty files, {kills['without a head']} without a head, "
                    f"{kills['without TOML']} without their TOML"
                ),
                str(kills["tracebacks"]),
            ]
        )
        for title, number, for_ever in (
            ("ENOSPC once, at every call to the disk", errno.ENOSPC, False),
            ("EIO once, at every call", errno.EIO, False),
            ("EROFS (read-only) from any call on", errno.EROFS, True),
            ("ENOSPC from any call on", errno.ENOSPC, True),
        ):
            found = failing_disk(folder / f"{number}{for_ever}", number, for_ever=for_ever)
            rows.append(
                [
                    title,
                    str(found["cases"]),
                    (
                        f"{found['refused in words']} refused at the start, {found['complete']} complete, "
                        f"{found['readable up to the failure']} readable up to the failure"
                    ),
                    f"{found['lines lost without a word']} lines without a message",
                    str(found["tracebacks"]),
                ]
            )
        for title, run in (("disk of 200 kB fills", small_disk), ("files end at 100 kB", small_file)):
            found = run(folder / title.replace(" ", "-"))
            if found is not None:
                rows.append(
                    [
                        title,
                        "1",
                        f"{found['lines in the file']} of {found['lines handed over']} lines in the file, "
                        + ("closed in order" if found["complete"] else "the rest reported at the end"),
                        f"{found['lines lost inside']} lines missing between others",
                        "0",
                    ]
                )
        for name, lines, of, told in folder_faults(folder / "folders"):
            rows.append([name, "1", told, f"{of - lines} of {of} lines", "0"])
        harmed = damaged_files(folder / "damaged", 300, seed)
        rows.append(
            [
                "flipped bits, cut tails, joined files",
                str(harmed["files"]),
                f"{harmed['of them read']} of {harmed['frames not touched']} undamaged frames read",
                f"{harmed['frames not touched'] - harmed['of them read']} frames",
                str(harmed["tracebacks"]),
            ]
        )
    done, valid = damaged_frames(DAMAGED_FRAMES, seed)
    rows.append(["damaged frames", f"{done:,}", f"{valid} accepted", f"expected by chance {done / 2**32:.4f}", "0"])
    return Part(
        "Recording under faults",
        ["fault", "cases", "what is left", "lost", "tracebacks"],
        rows,
        before=(
            "A process that records as fast as it can is killed at a random moment; bytes count as handed over when "
            "`write` has returned. A disk fails at each of its calls in turn. In a deleted folder the bytes since the "
            "last second are gone with the file; the recording goes on in a new segment. The check of a frame has 32 bits: "
            "of 10,000,000 damaged frames 0.0023 are expected to pass by chance."
        ),
        after=(
            "A power cut is not tried here: bytes are forced to the medium once a second, which is what such a cut costs. "
            "The next step is a virtual machine whose disk is cut off."
        ),
        order=50,
    )
