# ---
# jupyter:
#   jupytext:
#     text_representation:
#       extension: .py
#       format_name: percent
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # A night shift, shot by day
#
# A lock-keeper reads the gauge at night, in a house that two people have borrowed for one day in
# March. When does the sun come in, how far from night is it, and what hangs where?
#
# This is a notebook in text form: Jupyter opens it with jupytext. It runs from the repository's
# root or from `docs/`.

# %%
from pathlib import Path

import sunplan

root = Path.cwd() if Path("locations").is_dir() else Path.cwd().parent
house = sunplan.read(root / "locations" / "lock-house.toml")
house

# %% [markdown]
# Each question is a function; its parameters are the command's options. What comes back is shown
# as the command's tables, with its cautions.

# %%
sun = sunplan.entry(house, "2027-03-20")
sun

# %% [markdown]
# The same as data frames, one for each kind of row. Times are those of the place, with their zone:

# %%
marks = sun.frames["marks"]
assert str(marks["from"].dt.tz) == "Europe/Amsterdam"
marks[["room", "mark", "opening", "from", "to"]]

# %% [markdown]
# Who stands at the gauge has sun for two hours and twenty minutes:

# %%
gauge = marks.query("mark == 'at the gauge'")
minutes = (gauge["to"] - gauge["from"]).sum().total_seconds() / 60
assert 130 < minutes < 150
round(minutes)

# %% [markdown]
# ## How far from the look
#
# Two windows of the house should look like dusk or night. By how many stops are they too bright,
# from the afternoon until dark? `from_` is the command's `--from`: `from` is Python's own.

# %%
gap = sunplan.gap(house, "2027-03-20", from_="15:00", to="19:30", step="15min", sky="clear")
in_frame = gap.frame.query("in_frame")
too_bright = in_frame.pivot_table(index="time", columns="opening", values="lose_stops")
too_bright.round(1).tail(6)

# %% [markdown]
# A frame knows the unit of its figures and where they come from:

# %%
assert in_frame.attrs["units"]["lose_stops"] == "stops"
in_frame.attrs["options"], in_frame.attrs["skies"]

# %%
axes = too_bright.plot(xlabel="", ylabel="too bright, stops", title="The lock house, clear sky")
_ = axes.axhline(0, color="grey")

# %% [markdown]
# ## What blocks it
#
# A flag over the roof light keeps the sun off whoever reads the gauge; points are in metres on the
# house's own plan, `x` to the right, `y` up the sheet, `z` up from the ground.

# %%
flags = sunplan.flags(house, "2027-03-20", setup="reading the gauge")
positions = flags.frames["positions"]
assert positions.attrs["units"]["centre_z"] == "m"
positions[["opening", "stock", "placement", "from", "to", "centre_x", "centre_y", "centre_z"]]

# %% [markdown]
# Frozen dataclasses are there for whoever wants the model itself, in SI units and seconds since
# 1970:

# %%
best = flags.value[0].taken[0]
best.name, best.positions[0].needs_m
