# The demo from Python, cell by cell: opens as a notebook in editors that know "# %%", runs as a script without.
# Needs: pip install twinsow[gis]

# %% Write the built-in scenario and plan it. All of it is invented.
import sys
import tempfile
from pathlib import Path

import numpy as np
import twinsow

folder = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(tempfile.mkdtemp())
plan = twinsow.demo(folder / "demo")
print(plan, f"{plan.mapped_ha:.2f} ha")

# %% Totals: from the map to the order
for product in plan.products:
    print(f"{product.name}: {product.map_kg:.0f} kg on the map, order {product.order_kg:.0f} kg in {product.packs} packs")
print("held back:", plan.held_back or "nothing")

# %% Zones: a table with geometry, for whatever works with those
zones = plan.zones()
rate_columns = [column for column in zones.columns if column.endswith("_kg_ha")]
print(zones[["zone", "part", "area_ha", *rate_columns]].to_string(index=False))

# %% Rates as arrays; kilograms come out of them again
grid = plan.grid()
for product in plan.products:
    rate = grid.kg_per_ha[product.id]
    kg = float(np.nansum(rate.astype(float) * grid.covered_m2)) / 10_000
    print(f"{product.name}: {kg:.1f} kg from {np.isfinite(rate).sum()} cells")

# %% One more seed rate, and what it changes: the job file is text
job = folder / "demo" / "job.toml"
text = job.read_text(encoding="utf-8")
changed = job.with_name("more-barley.toml")
changed.write_text(text.replace("plants_per_m2 = 280.0", "plants_per_m2 = 300.0"), encoding="utf-8")
more = twinsow.plan(changed)
for before, after in zip(plan.products, more.products):
    print(f"{after.name}: {after.map_kg - before.map_kg:+.0f} kg on the map")
assert more.products[0].map_kg > plan.products[0].map_kg
