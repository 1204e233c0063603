"""``demo``: a demonstration with a simulated rig."""

from __future__ import annotations

from argparse import Namespace

from frothline.bench.session import Session
from frothline.cli.output import Say
from frothline.cli.serving import serve_pages


def run(options: Namespace, say: Say) -> int:
    kind = "emulated" if options.emulated else "modelled"
    url = f"{kind}://{options.scenario}?seed={options.seed}&speed={options.speed:g}"

    session = Session(url, options.folder)
    with session:
        session.start(wait=True)
        # Only a sweep scenario has a simulated hand at the throttle; the guide would wait for one in other scenarios.
        if options.scenario.startswith("sweep") and not options.no_record:
            session.start_sweep(name="demo", metadata={"note": f"demonstration with a simulated rig, {url}"})
        return serve_pages(session, options, say)
