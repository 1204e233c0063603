"""``demo``: everything shown with a simulated rig."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from frothline.bench.session import Session
from frothline.cli.numbers import number, whole
from frothline.cli.output import Say
from frothline.cli.serving import add_page_options, serve_pages

ABOUT = (
    "Starts a simulated rig whose throttle is worked from shut-off to free delivery, records it, and serves the\n"
    "pages on loopback. No board is needed."
)


def add_options(sub: ArgumentParser) -> None:
    sub.add_argument(
        "--emulated", action="store_true", help="run the board's own firmware in the instruction simulator"
    )
    sub.add_argument("--scenario", default="sweep", help="what the simulated air source and hand do (sweep)")
    sub.add_argument("--seed", type=whole(), default=1, help="of all chance in the simulation (1)")
    sub.add_argument("--speed", type=number(low=0, high=1000), default=1.0, help="times real time (1)")
    sub.add_argument("--no-record", action="store_true", help="do not begin a sweep and its recording by itself")
    add_page_options(sub)


def run(options: Namespace, say: Say) -> int:
    kind = "emulated" if options.emulated else "modelled"
    url = f"{kind}://{options.scenario}?seed={options.seed}&speed={options.speed:g}"

    session = Session(url, options.folder)
    with session:
        session.start(wait=True)
        # Only a sweep has a hand at the throttle; on other lines the guide would wait for one in vain.
        if options.scenario.startswith("sweep") and not options.no_record:
            session.start_sweep(name="demo", metadata={"note": f"demonstration with a simulated rig, {url}"})
        return serve_pages(session, options, say)
