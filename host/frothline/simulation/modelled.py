"""The modelled rig: board and world in one process, in pure Python."""

from __future__ import annotations

from typing import Any

from frothline.simulation.board import ModelledBoard
from frothline.simulation.line_noise import Damager
from frothline.simulation.options import Options, read_url
from frothline.simulation.random_streams import chance
from frothline.simulation.realtime import Simulation
from frothline.simulation.world import STEP, World, WorldAnswers


class ModelledRig(WorldAnswers):
    """World and board stepped together.

    Parameters
    ----------
    options
        As in the URL.
    """

    def __init__(self, options: Options) -> None:
        self.options = options
        self.world = World(options.scenario, options.seed, options.errors, **options.changes())
        self.board = ModelledBoard(
            self.world,
            chance(options.seed, "converter"),
            first_tick=options.tick,
            rate=options.rate,
            label=options.label,
            adc_levels=options.adc_levels,
        )
        self._damage = Damager(options.damage, chance(options.seed, "damage"))
        self._motor_on_at = -1.0
        if options.zero > 0.0:
            self.world.control("motor", value=False)
            self._motor_on_at = options.zero
        if options.streaming:
            self.board.start()

    @property
    def time(self) -> float:
        return self.world.time

    def run(self, seconds: float) -> bytes:
        """Advance by ``seconds``, in whole steps; returns the bytes sent by the board."""
        world, board = self.world, self.board
        for _ in range(max(1, round(seconds / STEP))):
            if 0.0 < self._motor_on_at <= world.time:
                world.control("motor", value=True)
                self._motor_on_at = -1.0
            world.step()
            board.step()
        sent = bytes(board.sent)
        board.sent.clear()
        return self._damage(sent)

    def receive(self, data: bytes) -> None:
        self.board.receive(data)

    def reset(self, cause: str) -> None:
        """Reset the board; the world continues."""
        self.board.sent.clear()
        self.board.boot(cause)
        if self.options.streaming:
            self.board.start()

    def control(self, name: str, value: Any = None) -> None:
        self.world.control(name, value)


def simulate(url: str) -> Simulation:
    """A running simulation of ``modelled://<scenario>?…``; raises InputError."""
    options = read_url(url)
    return Simulation(url, ModelledRig(options), speed=options.speed, late=options.late)


def stream(url: str, seconds: float) -> tuple[bytes, World]:
    """Bytes sent by the rig of ``url`` in ``seconds`` s of streaming, as fast as possible, and its world.

    There is no clock and no thread: the same URL gives the same bytes.
    """
    rig = ModelledRig(read_url(url))
    rig.board.start()
    return rig.run(seconds), rig.world
