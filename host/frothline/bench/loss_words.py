"""Losses of a session as text, for every face."""

from __future__ import annotations

from frothline.bench.snapshot import Losses

_SINGULAR = {
    "frames missing": "frame missing",
    "frames missing at least": "frame missing at least",
    "frames damaged": "frame damaged",
    "frames dropped by the board": "frame dropped by the board",
    "ADC samples lost": "ADC sample lost",
    "rotor pulses lost": "rotor pulse lost",
    "board restarts": "board restart",
    "USB disconnects": "USB disconnect",
}
_ON_THE_BOARD = (
    ("frames dropped by the board", "frames_dropped"),
    ("ADC samples lost", "adc_overruns"),
    ("rotor pulses lost", "capture_overruns"),
)


def losses_on_board(losses: Losses) -> list[tuple[str, int]]:
    """Losses that the board itself has counted, each with its count."""
    return [(words, losses.health.get(key, 0)) for words, key in _ON_THE_BOARD]


def counted_losses(losses: Losses) -> list[tuple[str, int]]:
    """All losses on the line and on the board, each with its count."""
    return [
        ("frames missing at least" if losses.at_least else "frames missing", losses.missing),
        ("frames damaged", losses.damaged),
        *losses_on_board(losses),
        ("board restarts", losses.board_resets),
        ("USB disconnects", losses.times_lost),
    ]


def loss_text(words: str, count: int) -> str:
    """One loss with its count, as in "1 frame missing" or "3 frames missing"."""
    return f"{count} {_SINGULAR[words] if count == 1 else words}"


def losses_text(counted: list[tuple[str, int]]) -> str:
    """The counts above 0 in one line, as in "3 frames missing, 1 board restart"; empty without losses."""
    return ", ".join(loss_text(words, count) for words, count in counted if count)
