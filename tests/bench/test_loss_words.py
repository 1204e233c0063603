"""Losses of a session in words: the same for the pages and the command line."""

from frothline.bench.loss_words import counted_losses, losses_on_board, losses_text
from frothline.bench.snapshot import Losses


def test_every_loss_is_named_with_its_count():
    health = {"frames_dropped": 2, "adc_overruns": 5, "capture_overruns": 7, "bus_errors": 9}
    losses = Losses(frames=1000, missing=3, damaged=1, times_lost=4, board_resets=6, health=health)
    assert losses_text(counted_losses(losses)) == (
        "3 frames missing, 1 frame damaged, 2 frames dropped by the board, 5 ADC samples lost, 7 rotor pulses lost, "
        "6 board restarts, 4 USB disconnects"
    )
    assert losses_text(losses_on_board(losses)) == (
        "2 frames dropped by the board, 5 ADC samples lost, 7 rotor pulses lost"
    )


def test_a_count_that_is_the_least_is_said_to_be():
    assert losses_text(counted_losses(Losses(missing=3, at_least=True))) == "3 frames missing at least"
    assert losses_text(counted_losses(Losses(missing=1, at_least=True))) == "1 frame missing at least"


def test_a_session_without_losses_has_no_words():
    assert losses_text(counted_losses(Losses(frames=1000))) == ""


def test_bytes_that_a_slow_page_skipped_are_no_loss():
    """The recording has them; only the live view went on without them."""
    assert losses_text(counted_losses(Losses(frames=1000, skipped_live=500))) == ""
