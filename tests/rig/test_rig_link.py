"""A link that lasts: commands and their answers, cables pulled, boards that start anew, bytes that are spoilt on the way."""

import os
import threading
import time

import pytest
from fake_board import FakeBoard, FaultPort, PtyBoard, SocketBoard
from waiting import until

from frothline.errors import BoardRefused, PortBusy, PortLost, PortSilent
from frothline.rig import BoardIdentity, Reader, Rig, ask, open_rig, reader
from frothline.rig.handshake import Chunk
from frothline.rig.port import Line
from frothline.wire import decode_all

BEHIND = [pytest.param(SocketBoard, id="socket")]
if os.name != "nt":
    BEHIND.append(pytest.param(PtyBoard, id="pseudo-terminal"))


def put_behind(kind, board, tmp_path):
    return kind(board, tmp_path) if kind is not SocketBoard else kind(board)


class Listener:
    """Keeps what a rig hands on."""

    def __init__(self):
        self.batches, self.events, self.log = [], [], bytearray()

    def lines(self):
        return sum(len(batch.tables["line"]) for batch in self.batches)

    def kinds(self):
        return [event.kind for event in self.events]

    def listen(self, rig, **more):
        rig.reader.attach(self.log.extend)
        return rig.run(self.batches.append, self.events.append, **more)


@pytest.mark.parametrize("kind", BEHIND)
def test_a_rig_streams_once_it_is_opened_and_answers_commands(kind, tmp_path):
    board, heard = FakeBoard(label="left"), Listener()
    with put_behind(kind, board, tmp_path) as there, open_rig(there.url) as rig:
        heard.listen(rig, rate=200)
        until(lambda: heard.lines() > 20, "the stream")
        assert board.rate == 200
        assert rig.command("set_rate", rate=50).result == "ok"
        assert board.rate == 50
        assert rig.counts.missing == 0
        assert sum(rig.counts.damage.values()) == 0


def test_a_refused_command_says_which_and_why():
    board = FakeBoard(refuses={"set_rate"})
    with (
        SocketBoard(board) as there,
        open_rig(there.url).run() as rig,
        pytest.raises(BoardRefused, match="set_rate: bad value"),
    ):
        rig.command("set_rate", rate=9999)


def test_a_command_that_was_not_heard_is_sent_once_more():
    board = FakeBoard()
    with SocketBoard(board) as there, open_rig(there.url).run(stream=False) as rig:
        board.ignores = ["stop"]
        assert rig.command("stop", within=0.3).result == "ok"
        assert board.heard.count("stop") == 2


def test_a_command_that_is_never_answered_says_so():
    board = FakeBoard()
    with SocketBoard(board) as there, open_rig(there.url).run(stream=False) as rig:
        board.ignores = ["stop"] * 5
        with pytest.raises(PortSilent, match="did not answer stop"):
            rig.command("stop", within=0.2)
        assert board.heard.count("stop") == 2


def test_two_commands_at_once_each_get_their_own_answer():
    board = FakeBoard(refuses={"read_settings"})
    with SocketBoard(board) as there, open_rig(there.url).run() as rig:
        outcomes = {}

        def give(name, **fields):
            try:
                outcomes[name] = rig.command(name, **fields).result
            except BoardRefused:
                outcomes[name] = "refused"

        threads = [
            threading.Thread(target=give, args=("set_rate",), kwargs={"rate": 20}),
            threading.Thread(target=give, args=("read_settings",)),
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert outcomes == {"set_rate": "ok", "read_settings": "refused"}


def test_a_command_from_within_a_callback_is_refused_rather_than_hanging():
    board, found = FakeBoard(), []

    def take(batch):
        try:
            rig.command("stop")
        except RuntimeError as error:
            found.append(str(error))

    with SocketBoard(board) as there, open_rig(there.url) as rig:
        rig.run(take)
        until(lambda: found)
    assert "live thread" in found[0]


@pytest.mark.parametrize("kind", BEHIND)
def test_a_pulled_cable_pauses_and_the_same_log_goes_on_when_it_is_back(kind, tmp_path):
    board, heard = FakeBoard(streaming=True), Listener()
    with put_behind(kind, board, tmp_path) as there, open_rig(there.url) as rig:
        heard.listen(rig)
        until(lambda: heard.lines() > 30)
        with there.lock:
            there.unplug()
        until(lambda: heard.kinds() == ["lost"], "noticing")
        assert rig.away
        before = heard.lines()
        time.sleep(0.3)
        with there.lock:
            there.plug_in()
        until(lambda: heard.kinds() == ["lost", "back"], "coming back")
        until(lambda: heard.lines() > before + 30, "the stream")
        assert not rig.away
        log = bytes(heard.log)
    found = decode_all(log)
    assert len(found.tables["line"]) == heard.lines()  # nothing that was seen live is missing from the log
    assert len(found.damage) <= 1  # the frame in which the cable was pulled
    ticks = found.tables["line"]["tick"].astype(int)
    assert (ticks[1:] > ticks[:-1]).all()
    gaps = (ticks[1:] - ticks[:-1]) / 2e6
    assert (gaps > 0.2).sum() == 1  # one gap, the one we made


def test_a_board_that_comes_back_reset_is_told_to_stream_again():
    board, heard = FakeBoard(), Listener()
    with SocketBoard(board) as there, open_rig(there.url) as rig:
        heard.listen(rig, rate=250)
        until(lambda: heard.lines() > 10)
        there.unplug()
        until(lambda: "lost" in heard.kinds())
        with there.lock:
            board.reset()
            board.rate = 100
        there.plug_in()
        until(lambda: "back" in heard.kinds())
        before = heard.lines()
        until(lambda: heard.lines() > before + 20, "the stream after the reset")
        assert board.rate == 250
        assert "board_reset" in heard.kinds()


def test_a_board_that_resets_while_connected_goes_on_by_itself_and_the_reset_is_told():
    board, heard = FakeBoard(first_tick=5_000_000), Listener()
    with SocketBoard(board) as there, open_rig(there.url) as rig:
        heard.listen(rig, rate=200)
        until(lambda: heard.lines() > 20)
        with there.lock:
            board.first_tick = 0
            board.reset("watchdog")
        until(lambda: "board_reset" in heard.kinds(), "noticing the reset")
        before = heard.lines()
        until(lambda: heard.lines() > before + 20, "the stream after the reset")
    assert next(event for event in heard.events if event.kind == "board_reset").words.endswith("(watchdog)")
    assert "lost" not in heard.kinds()
    assert rig.counts.missing == 0  # a new boot counts anew; that is no loss


def test_a_reset_whose_description_was_lost_is_found_by_the_tick_that_went_back():
    board, heard = FakeBoard(first_tick=50_000_000), Listener()
    with SocketBoard(board) as there, open_rig(there.url) as rig:
        heard.listen(rig)
        until(lambda: heard.lines() > 20)
        with there.lock:
            board.first_tick = 0
            board.reset("brown_out")
            board.out.clear()  # its first words are lost
            board.streaming = True
        until(lambda: "board_reset" in heard.kinds(), "noticing the reset")


def test_another_board_at_the_same_port_is_not_taken_for_the_first(monkeypatch):
    board, heard = FakeBoard(label="mine"), Listener()
    with SocketBoard(board) as there, open_rig(there.url) as rig:
        heard.listen(rig)
        until(lambda: heard.lines() > 5)
        there.unplug()
        until(lambda: "lost" in heard.kinds())
        board.heard.clear()
        board.label = "somebody else's"
        there.plug_in()
        until(lambda: board.heard.count("describe") >= 2, "being asked")
        time.sleep(0.3)
        assert "back" not in heard.kinds()
        board.label = "mine"
        until(lambda: "back" in heard.kinds())


def replaced(board, there, heard, **by):
    """Pull the cable and plug in a board that differs by these."""
    there.unplug()
    until(lambda: "lost" in heard.kinds())
    board.heard.clear()
    for name, value in by.items():
        setattr(board, name, value)
    there.plug_in()


def test_another_board_with_the_same_label_is_named_and_not_taken_for_the_first():
    board, heard = FakeBoard(label="shed", identity=0x11), Listener()
    with SocketBoard(board) as there, open_rig(there.url) as rig:
        heard.listen(rig)
        until(lambda: heard.lines() > 5)
        replaced(board, there, heard, identity=0x22)
        until(lambda: "other_board" in heard.kinds())
        until(lambda: board.heard.count("describe") >= 3, "being asked again")
        assert "back" not in heard.kinds()
        assert heard.kinds().count("other_board") == 1  # said once, not at every look
        (words,) = [event.words for event in heard.events if event.kind == "other_board"]
        assert "'shed' (00000022) answers" in words
        assert "'shed' (00000011) is expected" in words
        board.identity = 0x11
        until(lambda: "back" in heard.kinds())


def test_a_board_whose_label_was_changed_is_still_the_same_board():
    board, heard = FakeBoard(label="shed", identity=0x11), Listener()
    with SocketBoard(board) as there, open_rig(there.url) as rig:
        heard.listen(rig)
        until(lambda: heard.lines() > 5)
        replaced(board, there, heard, label="yard")
        until(lambda: "back" in heard.kinds())
        assert "other_board" not in heard.kinds()


def test_a_board_that_changes_in_the_middle_of_the_stream_is_named():
    board, heard = FakeBoard(label="shed", identity=0x11), Listener()
    with SocketBoard(board) as there, open_rig(there.url) as rig:
        heard.listen(rig)
        until(lambda: heard.lines() > 5)
        with there.lock:
            board.identity = 0x22
            board.describe()
        until(lambda: "other_board" in heard.kinds())


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ((1, "shed", 5), (1, "shed", 5), True),
        ((1, "shed", 5), (1, "yard", 5), True),
        ((1, "shed", 5), (1, "shed", 6), False),
        ((1, "shed", 0), (1, "shed", 6), True),  # older firmware before it was flashed anew
        ((1, "shed", 0), (1, "yard", 6), False),
        ((1, "shed", 0), (2, "shed", 0), False),
        ((1, "", 0), (1, "", 0), True),
    ],
)
def test_boards_are_told_apart_by_their_numbers_and_without_them_by_kind_and_label(one, other, same):
    assert BoardIdentity(*one).is_same_board(BoardIdentity(*other)) is same
    assert BoardIdentity(*other).is_same_board(BoardIdentity(*one)) is same


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
def test_a_board_that_comes_back_under_another_port_name_is_found_by_its_answer(tmp_path, monkeypatch):
    from frothline.rig import finder

    board, heard = FakeBoard(), Listener()
    with PtyBoard(board, tmp_path, "ttyUSB0") as there, open_rig(there.url) as rig:
        heard.listen(rig)
        until(lambda: heard.lines() > 5)
        with there.lock:
            there.unplug()
        until(lambda: "lost" in heard.kinds())
        there.url = str(tmp_path / "ttyUSB1")
        with there.lock:
            there.plug_in()
        monkeypatch.setattr(finder, "candidates", lambda: [finder.PortCandidate(there.url, "USB serial")])
        until(lambda: "back" in heard.kinds())
        assert rig.url.endswith("ttyUSB1")


@pytest.mark.skipif(os.name == "nt", reason="pseudo-terminals are POSIX")
def test_a_second_program_cannot_open_the_rig_and_the_first_goes_on(tmp_path):
    board, heard = FakeBoard(), Listener()
    with PtyBoard(board, tmp_path) as there, open_rig(there.url) as rig:
        heard.listen(rig)
        until(lambda: heard.lines() > 5)
        with pytest.raises(PortBusy):
            open_rig(there.url)
        before = heard.lines()
        until(lambda: heard.lines() > before + 10)
        assert heard.kinds() == []


FAULTS = {
    "split": {"split": True},
    "delayed": {"split": True, "delay": 0.2},
    "dropped": {"drop": 0.001},
    "flipped": {"flip": 0.001},
    "repeated": {"duplicate": 0.02},
    "all of it": {"split": True, "delay": 0.05, "drop": 0.0005, "flip": 0.0005, "duplicate": 0.01},
}


@pytest.mark.parametrize("faults", FAULTS.values(), ids=FAULTS)
def test_a_spoilt_line_costs_frames_but_neither_the_link_nor_a_byte_of_the_log(faults):
    board, heard = FakeBoard(rate=500), Listener()
    port = FaultPort(board, seed=1)
    line = Line("fault://bench", port)
    answer = ask(line)
    rig = Rig(Reader(line, answer, lambda: None), answer)
    begin = len(port.delivered)
    port.split, port.delay = faults.get("split", False), faults.get("delay", 0.0)
    port.drop, port.flip, port.duplicate = (faults.get(name, 0.0) for name in ("drop", "flip", "duplicate"))
    heard.listen(rig)
    until(lambda: board.sent_lines > 150)
    rig.close()
    delivered = bytes(port.delivered[begin:])
    assert bytes(heard.log) in (delivered, bytes(port.delivered))
    live = rig.counts
    assert live.frames > 80
    whole = bytes(port.delivered[: port.delivered.rfind(0) + 1])
    again = decode_all(whole)  # the vectorised decoder as the second opinion
    assert heard.lines() == len(again.tables["line"])
    assert sum(live.damage.values()) == len(again.damage)
    if faults.keys() <= {"split", "delay"}:
        assert sum(live.damage.values()) == 0
        assert live.missing == 0
    elif faults.keys() <= {"duplicate"}:
        assert live.missing == 0
        assert live.frames > board.sent_lines  # some came twice, and none of that counts as a loss
    else:
        assert sum(live.damage.values()) > 0
        assert live.missing > 0


def test_a_listener_that_fails_does_not_end_the_link():
    board, seen = FakeBoard(), []

    def take(batch):
        seen.append(batch)
        raise ZeroDivisionError("a page fell over")

    with SocketBoard(board) as there, open_rig(there.url) as rig:
        rig.run(take)
        until(lambda: len(seen) > 5)
        assert "fell over" in rig.trouble


@pytest.mark.parametrize("closing", [False, True])
def test_a_listener_that_finds_the_port_closed_is_an_error_only_while_the_link_is_open(closing):
    """A simulated operator may turn a throttle at the moment at which the program is stopped."""
    board, seen, goes_on = FakeBoard(), threading.Event(), threading.Event()

    def take(batch):
        seen.set()
        goes_on.wait()
        raise PortLost("no port is open", where="port")

    with SocketBoard(board) as there, open_rig(there.url) as rig:
        rig.run(take)
        seen.wait()
        if closing:
            threading.Timer(0.0, rig.close).start()
            until(lambda: not rig.reader.is_alive())
        goes_on.set()
        if not closing:
            until(lambda: rig.trouble)
    assert rig.trouble == ("" if closing else "port: no port is open")


def test_a_listener_that_is_slow_loses_live_bytes_but_no_byte_of_the_log():
    from frothline.rig import reader

    hand_over = reader.HandOver(most=1000)
    for number in range(50):
        hand_over.put(reader.Chunk.now(bytes(100)))
        if number == 20:
            hand_over.put("lost")
    items = hand_over.take(0)
    assert sum(len(item.data) for item in items if item != "lost") == 1000
    assert "lost" in items  # what happened to the link is never dropped
    assert hand_over.skipped == 4000


def test_closing_does_not_wait_until_the_port_has_been_looked_for(monkeypatch):
    """It is looked for every 0.2 to 2 s, and asked for 3.5 s; here 100 s, so that a busy machine is not taken for it."""
    monkeypatch.setattr(reader, "ASK_AGAIN_PATIENCE", 100.0)
    monkeypatch.setattr(reader, "FIRST_PAUSE", 100.0)
    board = FakeBoard()
    with SocketBoard(board) as there:
        rig = open_rig(there.url).run()
        there.unplug()
        until(lambda: rig.away)
        began = time.monotonic()
        rig.close()
        assert time.monotonic() - began < 50.0


def test_a_batch_in_which_the_board_booted_gives_no_arrival_of_the_boot_before():
    """An anchor made of it would tie the old boot's tick to a moment of the new one."""
    board, old = FakeBoard(boot_count=4), FakeBoard(boot_count=3, streaming=True)
    old.last_line -= 0.2
    old.step()
    lines = old.take()
    board.describe()
    description = board.take()
    board.streaming, board.last_line = True, time.monotonic() - 0.1
    board.step()
    seen = []
    with SocketBoard(FakeBoard(boot_count=3)) as there, open_rig(there.url) as rig:
        rig._on_batch = seen.append
        old.describe()
        rig._decode([Chunk.now(old.take())])
        rig._decode([Chunk.now(lines)])
        assert seen[-1].last_tick is not None
        rig._decode([Chunk.now(lines + description)])
        assert seen[-1].last_tick is None
        rig._decode([Chunk.now(lines), Chunk.now(description), Chunk.now(board.take())])
        assert seen[-1].last_tick == int(seen[-1].tables["line"]["tick"][-1])
        assert seen[-1].last_tick is not None
