#!/usr/bin/env python3
"""Plans every parcel of the two shared field files (200) in one run and checks each plan.

Per parcel: two made layers of two classes (tests/figures/field_zones.py), a seed by the one, another by the other (two
seeds, so that no limit beside the seed is asked for), a headland of one bout. The program is started once with all jobs.
Checked for each parcel:

- the run exits 0 or 1, and the plan is there;
- the boundary's area is the geodesic one (pyproj) to 1e-6, and so is the area of every class pair, against
  shapely in the field's own plane. On top of that 10 cm2 for the geodesic area: that is its own noise (one and the same
  ditch of 381 m2 gives figures 6 cm2 apart for edges cut into 0.1 m, 1 m or not at all), and 1 cm2 for the pairs;
- at least 99.99 % of the area is mapped;
- the ground sown twice is printed as a distribution over the parcels, beside a published one;
- the mass balance is closed: the kilograms recomputed from the delivered zones are those of the tally, and the
  steps of the tally add up to the order.

Usage: all_fields.py PROGRAM FOLDER_WITH_THE_200_PARCELS [FOLDER_TO_WORK_IN]
Exits 0 with a line that says so if the parcels are not there (they are not part of the repository).
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pyogrio
import pyproj
import shapely
from delivered import Plan

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "figures"))
import field_figures  # noqa: E402
import field_zones  # noqa: E402

SEED = 200
SOIL = {"light": 150, "heavy": 195}
NEED = {"low": 60, "high": 105}
JOB = """
name = "{name}"
[field]
name = "{name}"
boundary = {{ file = "{file}", only = {{ field_id = "{name}" }} }}
[headland]
bouts = 1
[drive]
[zones]
sliver_area_m2 = 0.0
[[layer]]
name = "soil"
source = {{ file = "{name}_soil.geojson" }}
class_attribute = "soil"
[[layer]]
name = "need"
source = {{ file = "{name}_need.geojson" }}
class_attribute = "need"
[drill]
working_width_m = 3.0
[[drill.hopper]]
name = "front"
usable_l = 1200.0
[[drill.hopper]]
name = "rear"
usable_l = 800.0
[[product]]
id = "seed"
crop = "wheat"
name = "Seed"
kind = "seed"
hopper = "front"
bulk_density_kg_per_l = 0.7
pack_kg = 25.0
rate = {{ kg_per_ha = {{ layer = "soil", by_class = {soil} }} }}
[[product]]
id = "starter"
crop = "rye"
name = "Second seed"
kind = "seed"
hopper = "rear"
bulk_density_kg_per_l = 1.0
pack_kg = 50.0
rate = {{ kg_per_ha = {{ layer = "need", by_class = {need} }} }}
"""


def copied(source, target, driver, prefix):
    """The file again, with a column that tells its parcels apart. Returns `[(name, polygon, crs)]`."""
    inside = f"/vsizip/{source}" if source.suffix == ".zip" else source
    crs = pyogrio.read_info(inside)["crs"]
    _, _, wkb, _ = pyogrio.raw.read(inside, columns=[])
    names = [f"{prefix}{row:03}" for row in range(len(wkb))]
    data = [np.array(names, object)]
    pyogrio.raw.write(
        target, wkb, data, np.array(["field_id"], object), geometry_type="Polygon", crs=crs, driver=driver
    )
    return [(name, shape, crs) for name, shape in zip(names, shapely.from_wkb(wkb))]


def write_job(folder, name, file, shape, crs, number):
    degrees = field_zones.change(shape, pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True))
    layers = field_zones.layers(degrees, [SEED, number])
    for layer, pieces in layers.items():
        (folder / f"{name}_{layer}.geojson").write_text(field_zones.geojson(layer, pieces), encoding="utf-8")
    toml = lambda rates: "{ " + ", ".join(f"{k} = {v}.0" for k, v in rates.items()) + " }"
    text = JOB.format(name=name, file=file, soil=toml(SOIL), need=toml(NEED))
    (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return layers


# Double-planted share of a field by its shape, 52 fields: Comput. Electron. Agric. 95 (2013) 1-10 (abstract). Other fields, other drills:
# beside it, not against it.
PUBLISHED_PERCENT = (0.1, 15.5)


def overlap_percent(folder, name, sections):
    """Ground that the interior bouts sow beyond the interior with so many sections, in percent of the field."""
    path = folder / f"{name}-plan" / "plan.json"
    if not path.exists():
        return None
    plan = json.loads(path.read_text(encoding="utf-8"))
    rows = (plan["drive"] or {}).get("switching", [])
    beyond = [r["beyond_m2"] for r in rows if r["sections"] == sections and r["rule"] == "any_part_in"]
    return 100 * beyond[0] / plan["tally"]["boundary_m2"] if beyond else None


def print_overlaps(folder, names):
    low, high = PUBLISHED_PERCENT
    for sections in (1, 2):
        shares = [s for s in (overlap_percent(folder, name, sections) for name in names) if s is not None]
        if not shares:
            continue
        q = np.percentile(shares, [0, 25, 50, 75, 100])
        inside = sum(low <= s <= high for s in shares)
        print(
            f"all_fields.py: sown twice with {sections} section(s) of a 3 m drill, % of the field: least {q[0]:.2f}, quarter {q[1]:.2f}, "
            f"median {q[2]:.2f}, three quarters {q[3]:.2f}, most {q[4]:.2f}; {inside} of {len(shares)} lie in the published {low} to {high}"
        )


def faults_of(folder, name, shape, crs, layers):
    """What is wrong with one plan; also its largest relative area error."""
    out = folder / f"{name}-plan"
    if not (out / "plan.json").exists():
        return ["no plan"], 0.0
    plan, faults = Plan(out), []
    geodesic = field_figures.geodesic_m2(shape, crs)
    near = lambda found, wanted: abs(found - wanted) <= 1e-6 * wanted + 1e-3
    boundary, mapped = plan.tally["boundary_m2"], plan.tally["mapped_m2"]
    if not near(boundary, geodesic):
        faults.append(f"boundary {boundary} m2, geodesic {geodesic} m2")
    if mapped < 0.9999 * boundary:
        faults.append(f"mapped {mapped} of {boundary} m2")
    zones = [f["properties"] for f in json.loads((out / "gis/rates.geojson").read_text(encoding="utf-8"))["features"]]
    field = field_figures.in_plane(shape, crs, plan.origin, 1.0)
    made = {k: [(c, field_figures.in_plane(s, "EPSG:4326", plan.origin, 1e-5)) for c, s in v] for k, v in layers.items()}
    for soil, a in made["soil"]:
        for need, b in made["need"]:
            wanted = field.intersection(a).intersection(b).area
            mine = [z for z in zones if (z["class_soil"], z["class_need"]) == (soil, need)]
            found = 1e4 * sum(z["area_ha"] for z in mine)
            if not abs(found - wanted) <= 1e-6 * geodesic + 1e-4:
                faults.append(f"{soil} and {need}: {found} m2, shapely has {wanted} m2")
            if any((z["seed_kg_ha"], z["starter_kg_ha"]) != (SOIL[soil], NEED[need]) for z in mine):
                faults.append(f"{soil} and {need}: wrong rates")
    for product in plan.products:
        row = plan.product(product)
        kg = sum(z["area_ha"] * z[f"{product}_kg_ha"] for z in zones)
        if abs(kg - plan.map_kg(product)) > 1e-9 * kg + 1e-6:
            faults.append(f"{product}: zones hold {kg} kg, the tally says {plan.map_kg(product)} kg")
        steps = sum(step["kg"] for step in row["steps"])
        if abs(steps - row["order_kg"]) > 1e-9 * steps + 1e-6:
            faults.append(f"{product}: steps add up to {steps} kg, the order is {row['order_kg']} kg")
        if row["packs"] is None or row["packs"] * {"seed": 25, "starter": 50}[product] < steps - 1e-6:
            faults.append(f"{product}: {row['packs']} packs do not hold {steps} kg")
    return faults, abs(boundary / geodesic - 1)


def work(program, shared, folder):
    parcels = []
    parcels += [(*p, "nl.gpkg") for p in copied(shared / "nl_parcels_epsg28992.gpkg", folder / "nl.gpkg", "GPKG", "nl")]
    parcels += [(*p, "dk.shp") for p in copied(shared / "dk_fields_epsg25832.shp.zip", folder / "dk.shp", "ESRI Shapefile", "dk")]
    layers = [write_job(folder, n, file, shape, crs, i) for i, (n, shape, crs, file) in enumerate(parcels)]
    jobs = [f"{name}.toml" for name, *_ in parcels]
    run = subprocess.run([program, "plan", *jobs], cwd=folder, capture_output=True, text=True)
    bad, worst = [], 0.0
    if run.returncode not in (0, 1):
        bad.append(f"exit code {run.returncode}\n{run.stdout[-3000:]}\n{run.stderr[-3000:]}")
    for (name, shape, crs, _), made in zip(parcels, layers):
        faults, off = faults_of(folder, name, shape, crs, made)
        worst = max(worst, off)
        bad += [f"{name}: {fault}" for fault in faults]
    for text in bad[:40]:
        print(f"all_fields.py: BROKEN: {text}")
    print_overlaps(folder, [name for name, *_ in parcels])
    failed = len({text.split(":")[0] for text in bad})
    print(
        f"all_fields.py: {len(parcels)} parcels planned, exit code {run.returncode}, {len(parcels) - min(failed, len(parcels))} "
        f"in order, largest difference to the geodesic area {worst:.1e}"
    )
    return 1 if bad or len(parcels) != 200 else 0


def main():
    if len(sys.argv) not in (3, 4):
        sys.exit(__doc__)
    program, shared = Path(sys.argv[1]).resolve(), Path(sys.argv[2])
    if not shared.is_dir():
        print(f"all_fields.py: NOT THERE: {shared}. The 200 parcels were not planned; the ten in testdata are.")
        return 0
    if len(sys.argv) == 4:
        folder = Path(sys.argv[3])
        folder.mkdir(parents=True)
        return work(program, shared.resolve(), folder)
    with tempfile.TemporaryDirectory() as folder:
        return work(program, shared.resolve(), Path(folder))


if __name__ == "__main__":
    sys.exit(main())
