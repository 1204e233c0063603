"""``check``: the self-test of a rig, as a card."""

from __future__ import annotations

from argparse import Namespace

from frothline.bench.self_test import Progress, ReportCard, SelfTest
from frothline.bench.session import Session
from frothline.cli.options import checked_rate
from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of

WELL, WANTING = 0, 1


def run(options: Namespace, say: Say) -> int:

    session = Session(options.port, options.folder, rate=checked_rate(options), **sensors_of(options))
    test = SelfTest(session, level=options.level, hands=not options.at_rest, patience=options.patience)

    def tell(told: Progress) -> None:
        if told.kind == "do":
            say.note(f">> {told.words}")
        elif told.kind == "wait":
            say.progress(f"   {'.' * int(20 * told.progress):<20}")

    with session:
        session.start(wait=True)
        card = test.run(tell)
    say.result({**vars(card), "passed": card.passed}, card_text(card))
    return WELL if card.passed else WANTING


def card_text(card: ReportCard) -> str:
    """The card as text: each failed check is followed by its remedy."""
    what = "simulated rig" if card.simulated else "rig"
    lines = [f"{what} at {card.port}, level {card.level}, {card.made}", ""]
    for one in card.outcomes:
        lines.append(f"{one.verdict:<8} {one.part:<13} {one.seen}")
        if one.remedy:
            lines.append(f"{'':<22} -> {one.remedy}")
    wrong = len(card.wrong)
    asked = sum(one.verdict not in {"absent", "skipped"} for one in card.outcomes)
    lines += ["", f"all {asked} checks passed" if card.passed else f"{wrong} of {asked} checks failed"]
    return "\n".join(lines)
