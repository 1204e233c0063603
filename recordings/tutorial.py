# %% [markdown]
# # Frothline in ten cells
#
# Read a recording, fit an air source, predict a change of the generator, compare trials, mix a batch. All recordings of
# this page are simulated and are in `recordings/season`. An editor that knows percent cells shows the cells one by one;
# `python recordings/tutorial.py` runs all of them.

# %% [markdown]
# ## 1 Read a recording
#
# One row a message of the board, SI units. `attrs["units"]` has the unit of every column.

# %%
import tempfile
from pathlib import Path

import frothline as fl

SEASON = Path(__file__).parent / "season" if "__file__" in globals() else Path("recordings/season")

sweep = fl.read(SEASON / "03-29-sweep-shop-motor.froth")
print(sweep[["time", "line_pressure", "standard_flow"]].describe().round(3))
print("units:", {name: sweep.attrs["units"][name] for name in ("time", "line_pressure", "standard_flow")})
print("recording:", fl.verify(SEASON / "03-29-sweep-shop-motor.froth"))

# %% [markdown]
# ## 2 Fit the air source
#
# The same steady points and the same curve as the source page and `frothline curve`. A figure is an `Estimate`: it has
# a value, a 95 % interval and a unit.

# %%
motor = fl.fit_source(SEASON / "03-29-sweep-shop-motor.froth")
print(motor)
print(f"shut-off pressure {motor.shut_off.to('kPa'):.3}")
print(f"in inches of water {motor.shut_off.to('inH2O'):.3}")

# %% [markdown]
# ## 3 Plot it
#
# `.plot()` gives a Plotly figure in metric units. The band is the 95 % interval of the curve, the bars are those of the
# points.

# %%
picture = motor.plot()
print([trace.name for trace in picture.data])

# %% [markdown]
# ## 4 Compare two recordings
#
# Two air sources. Their recordings are independent, but their sensors are not: both were read with one rig. The
# correlation of the two figures has to be stated, and 0 is on the safe side here: it makes the interval of a difference
# wider than a common error does.

# %%
blower = fl.fit_source(SEASON / "03-29-sweep-garden-blower.froth")
difference = motor.shut_off.minus(blower.shut_off, correlation=0.0).to("kPa")
print(f"shut-off pressure, motor less blower: {difference}")
points = fl.tables.concat({"motor": motor.table(), "blower": blower.table()})
print(points[points["used"]].groupby("table")[["flow", "pressure"]].max().round(4))

# %% [markdown]
# ## 5 Predict the generator on it
#
# The build sheet describes the generator. Without a sweep through it, its pressure drop is calculated from the sheet,
# and the intervals are wide.

# %%
tube = fl.build(SEASON / "builds" / "first-tube.toml")
before = fl.predict(tube, motor)
print(before)
print(f"foam output {before.now.foam_rate.to('L/min')}")

# %% [markdown]
# ## 6 What if the outlet were narrower?
#
# Entries are written as in the sheet. The change of the flow has an interval of its own: errors that both builds share
# do not count twice.

# %%
narrower = fl.what_if(tube, motor, {"outlet.bore": "26 mm"})
print(narrower)
print(f"change of the flow {narrower.change.flow_change.to('L/s')}")
print(narrower.table()[["state", "pressure", "flow", "air_rate"]].round(4))

# %% [markdown]
# ## 7 Open the notebook of a folder
#
# Every run of the folder is a trial, with the foam that was weighed.

# %%
notebook = fl.notebook(SEASON)
print(notebook)
print(notebook.table()[["trial", "density", "u_density", "drainage"]].round(2).to_string(index=False))
print(notebook.compare("04-05-first-tube", "04-12-long-packing"))

# %% [markdown]
# ## 8 Which change helped?
#
# Effects of everything that changed on the drainage time. What the trials cannot tell apart comes first.

# %%
effects = notebook.which_helped("drainage")
print(*effects.words, sep="\n")
print(effects.table()[["factor", "value", "lower", "upper"]].round(1).to_string(index=False))

# %% [markdown]
# ## 9 Mix a batch from the foam of a trial
#
# The density to expect has an interval: the foam's density, its volume and the share that survives mixing are
# uncertain.

# %%
batch = fl.batch("600 kg/m3", "120 L", notebook.trial("04-12-long-packing"), notebook=notebook)
print(batch)
print(f"cast density {batch.cast_density:.3}, run time {batch.run_time:.3}")

# %% [markdown]
# ## 10 Save a table with its units
#
# Parquet and CSV keep the units; `fl.tables.read` puts them back into `attrs`.

# %%
with tempfile.TemporaryDirectory() as folder:
    restored = fl.tables.read(fl.tables.write(points, Path(folder) / "points.csv"))
print(len(restored), "rows, flow in", restored.attrs["units"]["flow"])
