"""The clock of a playback, and a replayed recording that is paused, sped up and started again."""

import pytest
from waiting import until

from frothline.bench.playback_control import PlaybackControl
from frothline.bench.session import Session
from frothline.errors import InputError
from frothline.recording.writer import RecordingWriter
from frothline.rig.playback import Playback
from frothline.simulation.modelled import stream


class Clock:
    now = 100.0

    def __call__(self):
        return self.now


@pytest.fixture
def played(tmp_path):
    clock = Clock()
    return Playback(tmp_path / "evening.froth", 1000, 1.0, clock=clock), clock


def test_board_time_goes_with_the_clock_and_stands_while_paused(played):
    playback, clock = played
    clock.now += 10
    assert playback.due() == pytest.approx(10)
    playback.pause(True)
    clock.now += 3600
    assert playback.due() == pytest.approx(10)
    playback.pause(False)
    clock.now += 5
    assert playback.due() == pytest.approx(15)


def test_another_speed_counts_from_now_on(played):
    playback, clock = played
    clock.now += 10
    playback.set_speed(4.0)
    assert playback.due() == pytest.approx(10)
    clock.now += 2
    assert playback.due() == pytest.approx(18)
    playback.pause(True)
    playback.set_speed(0.5)  # while it is paused
    clock.now += 60
    assert playback.due() == pytest.approx(18)
    playback.pause(False)
    clock.now += 2
    assert playback.due() == pytest.approx(19)


def test_as_fast_as_it_is_read_goes_on_from_where_it_is(tmp_path):
    clock = Clock()
    playback = Playback(tmp_path / "evening.froth", 1000, 0.0, clock=clock)
    assert playback.unpaced
    playback.note(42.0, 500, ended=False)
    playback.pause(True)
    assert not playback.unpaced
    assert playback.due() == pytest.approx(42.0)
    playback.pause(False)
    assert playback.unpaced
    playback.set_speed(1.0)
    clock.now += 1
    assert playback.due() == pytest.approx(43.0)


@pytest.mark.parametrize("speed", [0.0, -1.0, 61.0, float("nan"), float("inf")])
def test_a_speed_that_cannot_be_is_refused(played, speed):
    playback, _ = played
    with pytest.raises(InputError, match="speed"):
        playback.set_speed(speed)
    assert playback.state().speed == 1.0


def test_the_state_says_how_far_it_has_come(played):
    playback, _ = played
    playback.note(12.5, 250, ended=False)
    state = playback.state()
    assert (state.file, state.played, state.share, state.ended) == ("evening.froth", 12.5, 0.25, False)
    playback.note(50.0, 980, ended=True)  # heads and notes are not played
    assert playback.state().share == 1.0


@pytest.fixture
def recording(tmp_path):
    writer = RecordingWriter.create(tmp_path, "evening", background=False)
    writer.write(stream("modelled://steady?seed=2", 60.0)[0])
    writer.close()
    return writer.path


@pytest.mark.parametrize("own_process", [pytest.param(True, marks=pytest.mark.exhaustive), False])
def test_a_replay_is_paused_sped_up_and_started_again(recording, tmp_path, own_process):
    with Session(f"replay://{recording}", tmp_path, own_process=own_process) as session:
        session.start(wait=True)
        control = PlaybackControl(session)
        until(lambda: control.state().played > 0.2, "the first frames")
        control.do("pause", "")
        assert control.state().paused
        assert session.catch_up(60.0)
        frames = session.snapshot().losses.frames
        played = control.state().played
        until(lambda: session.catch_up(60.0))
        assert control.state().played == played
        assert session.snapshot().losses.frames == frames
        control.do("speed", "60")
        control.do("go", "")
        until(lambda: control.state().ended, "the end of the recording")
        assert control.state().share == 1.0
        assert session.snapshot().losses.missing == 0
        control.do("again", "")
        until(lambda: 0.0 < control.state().played < 59.0 and not control.state().ended, "the second time")


@pytest.mark.parametrize("own_process", [pytest.param(True, marks=pytest.mark.exhaustive), False])
def test_a_replay_jumps_forward_and_back_and_keeps_its_speed_and_pause(recording, tmp_path, own_process):
    with Session(f"replay://{recording}?speed=4", tmp_path, own_process=own_process) as session:
        session.start(wait=True)
        control = PlaybackControl(session)
        control.do("speed", "16")
        control.do("jump", "75")
        state = control.state()
        assert state.speed == 16.0
        assert 0.74 < state.share < 0.9
        assert 44.0 < state.played < 55.0
        until(lambda: session.snapshot().latest.get("line_pressure"), "readings")
        assert session.snapshot().losses.missing == 0
        control.do("pause", "")
        control.do("jump", "25")
        assert control.state().paused
        assert control.state().share == pytest.approx(0.25, abs=0.02)
        assert control.state().played == pytest.approx(15.0, abs=1.5)
        control.do("again", "")
        assert control.state().share < 0.02
        with pytest.raises(InputError, match="not a number"):
            control.do("jump", "half")
        with pytest.raises(InputError, match="120 %"):
            control.do("jump", "120")


def test_with_a_board_there_is_nothing_to_pause(tmp_path):
    with Session("modelled://steady?seed=2", tmp_path, own_process=False) as session:
        session.start(wait=True)
        control = PlaybackControl(session)
        assert control.state() is None
        with pytest.raises(InputError, match="not a replay"):
            control.do("pause", "")


def test_the_bar_says_that_it_is_a_replay(played):
    from frothline.web.elements import words_of
    from frothline.web.replay_bar import pieces

    playback, _ = played
    playback.note(75.0, 250, ended=False)
    (bar,) = pieces(playback.state())
    words = words_of(bar)
    assert words.startswith("Replay evening.froth")
    assert "1:15, real time" in words
    assert "Pause" in words
    playback.pause(True)
    assert "Go on" in words_of(pieces(playback.state())[0])
    assert pieces(None) == []
