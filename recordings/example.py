"""A folder of trials from Python: tidy tables with units, which change helped, what next, a batch, a report.

``python recordings/example.py [folder]``; without a folder it takes the simulated season beside it. In a notebook the
objects show themselves: put ``notebook``, ``trial``, ``helped`` or ``ahead`` alone on the last line of a cell.
"""

from __future__ import annotations

import sys
from pathlib import Path

from frothline.foam.batch_order import BatchOrder, MeasuredFoam
from frothline.foam.concrete_batch import mix_batch
from frothline.report.batch import batch_card
from frothline.trials.notebook import open_notebook


def main(folder: Path, card: Path | None = None) -> None:
    """Prints what it finds; writes the card for the wall where ``card`` says."""
    notebook = open_notebook(folder)
    if notebook.simulated:
        print("These trials are simulated.")

    # one row a trial, SI; each figure has its standard uncertainty beside it, and its unit in attrs
    table = notebook.table()
    columns = ["trial", "density", "u_density", "drainage", "u_drainage"]
    print(table[columns].round(2).to_string(index=False))
    print("units:", {name: table.attrs["units"][name] for name in columns[1:]})

    # one trial: every figure is an Estimate, or None with its reason
    trial = notebook.trials[0]
    density = trial.density
    if density is None:
        print(trial.title, "has no density:", trial.why["density"])
    else:
        print(f"{trial.title}: {density.value:.1f} {density.unit} ({density.lower:.1f} to {density.upper:.1f})")

    # which change helped; what cannot be told apart comes first
    helped = notebook.which_helped("drainage")
    print(*helped.words, sep="\n")

    # what changed from the first trial to the last, and what to try next
    print(notebook.compare(trial.name, notebook.trials[-1].name).words)
    if notebook.plan is not None:
        ahead = notebook.next_run()
        print(ahead.reason)

    # a batch from the foam of the last trial that was weighed
    weighed = [one for one in notebook.trials if one.density is not None]
    foam = MeasuredFoam(weighed[-1].density, weighed[-1].output)
    batch = mix_batch(BatchOrder(density=700.0, volume=0.1, water_cement=0.5), foam)
    print(
        f"cement {batch.mix.cement:.1f} kg, water {batch.mix.mixer_water:.1f} kg, foam {batch.foam_volume * 1e3:.0f} L"
    )
    if card is not None:
        batch_card(batch, foam, trial=weighed[-1]).write(card)


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "season")
