"""``agents``: foaming agents with their surface tension, and their comparison in blocks."""

from __future__ import annotations

import math
from argparse import Namespace
from typing import Any

from frothline.cli.notebook import notebook_of
from frothline.cli.output import Say
from frothline.foam.agent import TENSION, Agent
from frothline.foam.agent_file import new_agent
from frothline.formatting import full_text
from frothline.label_case import label_case
from frothline.rounding import counted
from frothline.units import SYSTEMS

DONE, PROBLEMS = 0, 1
NOT_MEASURED = "not measured"


def run(options: Namespace, say: Say) -> int:
    notebook = notebook_of(options, say)
    if options.new is not None:
        path = new_agent(notebook.folder, options.new)
        say.result({"file": path}, f"{path} written; fill it in, then run `frothline agents` again")
        return DONE
    if options.compare is not None:
        trials = tuple(notebook.trial(name) for name in options.trials) if options.trials else None
        found = notebook.compare_agents(options.compare, block=options.block, trials=trials)
        made = " (simulated)" if found.simulated else ""
        head = f"{found.figure.label} in {counted(len(found.found.blocks), 'block')}{made}"
        say.result(found.as_dict(), "\n".join([head, *found.lines(SYSTEMS[options.units])]))
        return DONE
    book = notebook.agents
    chosen = book.agents if options.agent is None else (book.named(options.agent),)
    problems = [*(book.problems if options.agent is None else ()), *(said for one in chosen for said in one.problems)]
    lines = [] if options.agent is not None else [f"{counted(len(chosen), 'agent')} in {notebook.folder}"]
    for one in chosen:
        lines.append(f"{one.name:28} {full_text(one.surface_tension, TENSION, reason=NOT_MEASURED)}")
        if options.agent is not None:
            lines += [f"  {label_case(label):34} {text}" for label, text in one.facts()]
    lines += [f"problem: {one}" for one in problems]
    if not book.agents and not problems:
        lines.append("An agent is a TOML file in the folder agents: `frothline agents --new NAME` writes one.")
    say.result({"agents": [_data(one) for one in chosen], "problems": problems}, "\n".join(lines))
    return PROBLEMS if problems else DONE


def _data(agent: Agent) -> dict[str, Any]:
    """An agent as plain JSON, SI."""
    numbers = {"hardness": agent.hardness, "water_temperature": agent.water_temperature, "drop_factor": agent.factor}
    return {
        "name": agent.name,
        "kind": agent.kind,
        "dilution": None if agent.dilution is None else str(agent.dilution),
        "water": agent.water_source,
        **{name: value if math.isfinite(value) else None for name, value in numbers.items()},
        "surface_tension": None if agent.surface_tension is None else agent.surface_tension.as_dict(),
        "problems": list(agent.problems),
    }
