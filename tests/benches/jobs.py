#!/usr/bin/env python3
"""Job files for the synthetic fields of the comparison: usage jobs.py DATA [FIELDS]

DATA holds S, M, L and FARM (boundary, zones_a, zones_b as GeoJSON with the attribute `class`; FARM with
`field_id`), RASTER (boundary as GeoJSON, zones.tif with classes 1 to 5) and rates.json, which the peer reads. The peer looks rates up by pair of classes; a job takes a rate by
class of one layer and percentages by class of the other. So rates.json is written anew with such rates, the same for
both. FIELDS is how many fields of FARM get a job each, for comparing jobs with `split_by` (none without it).
"""

import json
import sys
from pathlib import Path

CLASSES_A, CLASSES_B = range(1, 6), range(1, 5)


def kg_by_a(a):
    return 80.0 + 17.5 * a


def percent_by_b(b):
    return 100.0 + 4.0 * b


def seed_kg_by_a(a):
    return 120.0 + 8.0 * a


LAYERS = """[[layer]]
name = "a"
source = { file = "FOLDERzones_a.geojson" }
class_attribute = "class"

[[layer]]
name = "b"
source = { file = "FOLDERzones_b.geojson" }
class_attribute = "class"
"""

RASTER_LAYER = """[[layer]]
name = "a"
source = { file = "zones.tif" }
values = { method = "as_they_are" }
"""


def table(keys, value):
    return "{ " + ", ".join(f'"{k}" = {value(k)}' for k in keys) + " }"


def raster_job(name, class_b):
    """One raster; all land has class_b of the other layer, which the peer does the same way."""
    text = job(name, "").replace(LAYERS.replace("FOLDER", ""), RASTER_LAYER)
    percent = f'percent = {percent_by_b(class_b)}\n'
    by_class = text.index("[product.adjust.percent]")
    return text[:by_class] + percent


def job(name, folder, boundary_more=""):
    return f"""name = "{name}"

[field]
name = "{name}"
boundary = {{ file = "{folder}boundary.geojson"{boundary_more} }}
SPLIT
[headland]
width_m = 10.0
around_exclusions = true

{LAYERS.replace("FOLDER", folder)}
[zones]
sliver_area_m2 = 0.01

[grid]
cell_m = 5.0
most_cells = 10000000

[drill]
name = "Six-metre drill (invented)"
working_width_m = 6.0
speed_km_per_h = 10.0

[[drill.hopper]]
name = "front"
usable_l = 2000.0

[[drill.hopper]]
name = "rear"
usable_l = 2000.0

[[product]]
id = "seed"
crop = "wheat"
name = "Seed"
kind = "seed"
hopper = "front"
bulk_density_kg_per_l = 0.7
pack_kg = 500.0

[product.rate.kg_per_ha]
layer = "a"
by_class = {table(CLASSES_A, seed_kg_by_a)}

[[product]]
id = "starter"
name = "Starter"
kind = "fertiliser"
hopper = "rear"
bulk_density_kg_per_l = 1.0
pack_kg = 600.0

[product.rate.kg_per_ha]
layer = "a"
by_class = {table(CLASSES_A, kg_by_a)}

[[product.adjust]]
because = "class of the other layer"
[product.adjust.percent]
layer = "b"
by_class = {table(CLASSES_B, percent_by_b)}
"""


def main():
    data = Path(sys.argv[1])
    fields = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    rates = json.loads((data / "rates.json").read_text())
    rates["rates"] = [
        {
            "class_a": a,
            "class_b": b,
            "rate_1": kg_by_a(a) * percent_by_b(b) / 100.0,
            "rate_2": seed_kg_by_a(a),
        }
        for a in CLASSES_A
        for b in CLASSES_B
    ]
    (data / "rates.json").write_text(json.dumps(rates, indent=1) + "\n")
    for name in ("S", "M", "L"):
        if (data / name).is_dir():
            (data / name / "job.toml").write_text(job(name, "").replace("SPLIT", ""))
    if (data / "RASTER").is_dir():
        text = raster_job("RASTER", rates["raster_class_b"])
        (data / "RASTER" / "job.toml").write_text(text.replace("SPLIT", ""))
    if (data / "FARM").is_dir():
        split = 'split_by = "field_id"\n'
        (data / "FARM" / "job.toml").write_text(job("FARM", "").replace("SPLIT", split))
        (data / "FARM" / "jobs").mkdir(exist_ok=True)
        for n in range(1, fields + 1):
            text = job("FARM", "../", f', only = {{ field_id = "{n}" }}')
            (data / "FARM" / "jobs" / f"{n}.toml").write_text(text.replace("SPLIT", ""))


if __name__ == "__main__":
    main()
