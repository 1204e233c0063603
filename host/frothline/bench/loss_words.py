"""Losses of a session as text, for every face."""

from __future__ import annotations

from frothline.bench.snapshot import Losses

_ON_THE_BOARD = (
    ("frames the board had to drop", "frames_dropped"),
    ("conversions lost", "adc_overruns"),
    ("rotor pulses lost", "capture_overruns"),
)


def losses_on_board(losses: Losses) -> list[tuple[str, int]]:
    """Losses that the board itself has counted, each with its count."""
    return [(words, losses.health.get(key, 0)) for words, key in _ON_THE_BOARD]


def counted_losses(losses: Losses) -> list[tuple[str, int]]:
    """All losses on the line and on the board, each with its count."""
    return [
        ("frames missing", losses.missing),
        ("frames damaged", losses.damaged),
        *losses_on_board(losses),
        ("board restarts", losses.board_resets),
        ("times the cable was out", losses.times_lost),
    ]


def losses_text(counted: list[tuple[str, int]]) -> str:
    """The counts above 0 in one line, as in "3 frames missing, 1 board restarts"; empty without losses."""
    return ", ".join(f"{count} {words}" for words, count in counted if count)
