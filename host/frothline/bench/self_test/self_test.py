"""The self-test: tests a rig part by part and gives one result per part.

First it tests everything at rest, where each sensor's reading is known in advance. Then it tests the parts that need a
person. Each of these has a time limit; a part without a reaction by then is faulty. On a simulated rig the test moves
the parts.

Nothing is printed here and no keyboard is read: ``run`` gives instructions through a callback and checks them by the
sensors. Limits with their reasons are at the head of ``at_rest.py`` and ``by_hand.py``.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from frothline.errors import InputError

if TYPE_CHECKING:
    from frothline.bench.session import Session

from frothline.bench.self_test import at_rest, by_hand
from frothline.bench.self_test.result import FAULTY, PartResult, Progress, ReportCard
from frothline.bench.self_test.rig_view import RigView


def _nothing(_: Progress) -> None:
    return


class SelfTest:
    """One self-test of the rig of an open session.

    Parameters
    ----------
    session : started; the test neither opens nor closes it.
    level : 1, 2 or 3 of the parts list. A missing part up to this level is a fault; a fitted part above it is tested
        too.
    hands : False skips all tests that need a person.
    patience : s, time limit of each step done by hand.
    """

    def __init__(self, session: Session, *, level: int = 2, hands: bool = True, patience: float = 30.0) -> None:
        if level not in {1, 2, 3}:
            raise InputError(f"unknown level {level}", where="level", remedy="Give 1, 2 or 3, as in the parts list")
        if not 0 < patience <= 600:
            raise InputError(f"--patience {patience:g} s is out of range", where="patience", remedy="Give 1 to 600 s")
        self.session = session
        self.level = level
        self.hands = hands
        self.patience = patience

    def run(self, tell: Callable[[Progress], None] = _nothing) -> ReportCard:
        """Run the self-test; takes about 10 s at rest plus the time of the steps by hand. Raises PortLost."""
        made = datetime.now().astimezone().isoformat(timespec="seconds")
        view = RigView(self.session, tell, level=self.level, hands=self.hands, patience=self.patience)
        results = [_told(view, at_rest.link)]
        if results[0] is not None and results[0].verdict != FAULTY:
            at_rest.come_to_rest(view)
            results += [_told(view, part) for part in PARTS]
        now = view.now()
        board = now.board
        return ReportCard(
            made,
            now.link.port,
            board.label if board else "",
            board.firmware if board else "",
            now.simulated,
            self.level,
            tuple(one for one in results if one is not None),
        )


# in test order: at rest, by hand, losses
PARTS = (
    at_rest.supply,
    at_rest.pressure,
    at_rest.difference,
    at_rest.temperature,
    at_rest.ambient,
    at_rest.scale_at_rest,
    by_hand.breath,
    by_hand.rotor,
    by_hand.button,
    by_hand.weight,
    at_rest.losses,
)


def _told(view: RigView, part: Callable[[RigView], PartResult | None]) -> PartResult | None:
    """Test one part and report its result at once; None if the rig has no such part."""
    result = part(view)
    if result is not None:
        view.tell(Progress("outcome", result.seen, 1.0, result))
    return result
