#!/usr/bin/env python3
"""Numbers of rasters under polygons against exactextract, a general-purpose library for exact zonal statistics.

Makes a raster and irregular polygons (Voronoi cells, one with a hole, some reaching beyond the field and beyond
the raster), lets `twinsow zones` find every number, and compares: mean to 1e-6 of itself, lowest and highest
exactly; median and share with what exactextract says that each pixel counts for. A polygon that is made 2 m
larger must be seen.

Usage: zonal.py TWINSOW FOLDER
"""

import csv
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import rasterio
import shapely
from exactextract import exact_extract
from rasterio.transform import from_origin

CRS = "EPSG:25832"
X0, Y0 = 560_000, 5_930_000
VALUES = ["mean", "median", "lowest", "highest", "share_percent"]
BETWEEN = [18.0, 24.0]


def collection(shapes):
    return {"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": {"id": n}, "geometry": shapely.geometry.mapping(shape)}
        for n, shape in enumerate(shapes)]}


def inputs(folder):
    rng = np.random.default_rng(20261125)
    values = (20 + 4 * rng.standard_normal((97, 121))).astype("float32")
    values[10:14, 60:75] = -9
    with rasterio.open(folder / "values.tif", "w", driver="GTiff", width=121, height=97, count=1, dtype="float32",
                       crs=CRS, transform=from_origin(X0 + 40.5, Y0 + 790.25, 7.0, 7.0), nodata=-9) as out:
        out.write(values, 1)
    field = shapely.Polygon([(X0, Y0 + 30), (X0 + 830, Y0), (X0 + 900, Y0 + 640), (X0 + 320, Y0 + 700), (X0 + 20, Y0 + 610)])
    seeds = shapely.MultiPoint(rng.uniform((X0, Y0), (X0 + 900, Y0 + 700), (40, 2)))
    cells = list(shapely.voronoi_polygons(seeds, extend_to=field.buffer(60)).geoms)
    cells[3] = shapely.difference(cells[3], cells[3].centroid.buffer(11))
    (folder / "field.geojson").write_text(json.dumps(collection([field])))
    (folder / "cells.geojson").write_text(json.dumps(collection(cells)))
    return field, cells


def job(folder):
    layers = "".join(f"""
[[layer]]
name = "{value}"
source = {{ file = "cells.geojson", crs = "{CRS}" }}
class_of_gaps = "0"
zonal = {{ source = {{ file = "values.tif" }}, value = "{value}"{f', between = {BETWEEN}' if value == 'share_percent' else ''} }}
""" for value in VALUES)
    (folder / "job.toml").write_text(f"""
name = "zonal"
field = {{ name = "zonal", boundary = {{ file = "field.geojson", crs = "{CRS}" }} }}
drill = {{ working_width_m = 6, hopper = [{{ name = "front", usable_l = 1000 }}] }}
{layers}
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "front"
rate = {{ kg_per_ha = 100 }}
""")


def found(twinsow, folder, out):
    run = subprocess.run([twinsow, "zones", folder / "job.toml", "--out", folder / out], capture_output=True, text=True)
    if run.returncode > 1:
        sys.exit(run.stderr)
    rows = {value: {} for value in VALUES}
    for row in csv.DictReader((folder / out / "zonal.csv").open()):
        rows[row["layer"]][int(row["feature"]) - 1] = row
    return rows


def wanted(folder, field, cells):
    """Per polygon: the numbers of exactextract, and the pixels behind them."""
    on_field = [shapely.intersection(cell, field) for cell in cells]
    numbered = [(n, shape) for n, shape in enumerate(on_field) if not shape.is_empty]
    features = collection([shape for _, shape in numbered])["features"]
    result = exact_extract(folder / "values.tif", features, ["mean", "min", "max", "count", "values", "coverage"])
    numbers = {}
    for (n, shape), row in zip(numbered, result):
        own = row["properties"]
        parts = np.asarray(own["coverage"], float)
        values = np.ma.masked_invalid(np.ma.masked_equal(np.ma.asarray(own["values"], float), -9))
        keep = ~np.ma.getmaskarray(values)
        order = np.argsort(values.data[keep], kind="stable")
        numbers[n] = own, values.data[keep][order], parts[keep][order], shape
    return numbers


def differences(rows, numbers):
    odd, most = [], 0.0
    for n, (own, values, parts, shape) in numbers.items():
        for value in VALUES:
            row = rows[value].get(n)
            if row is None:
                odd.append(f"polygon {n}: no row for {value}")
                continue
            if own["count"] < 1e-6:
                if row["mean"]:
                    odd.append(f"polygon {n}: {row['mean']} from no pixel")
                continue
            most = max(most, abs(float(row["mean"]) / own["mean"] - 1))
            if abs(float(row["mean"]) / own["mean"] - 1) > 1e-6:
                odd.append(f"polygon {n}: mean {row['mean']} {own['mean']}")
            if (float(row["lowest"]), float(row["highest"])) != (own["min"], own["max"]):
                odd.append(f"polygon {n}: {row['lowest']} to {row['highest']}, not {own['min']} to {own['max']}")
            share = 100 * own["count"] / (shape.area / 49.0)
            if abs(float(row["valued_percent"]) - share) > 1e-3:
                odd.append(f"polygon {n}: a value on {row['valued_percent']} %, not {share}")
            below = np.cumsum(parts)
            middle = values[np.searchsorted(below, below[-1] / 2 - 1e-6)]
            if float(row["median"]) != middle:
                odd.append(f"polygon {n}: median {row['median']} {middle}")
        row = rows["share_percent"][n]
        if row["share_percent"]:
            inside = (values >= BETWEEN[0]) & (values <= BETWEEN[1])
            share = 100 * parts[inside].sum() / parts.sum()
            if abs(float(row["share_percent"]) - share) > 1e-4:
                odd.append(f"polygon {n}: share {row['share_percent']} {share}")
        for value in VALUES:
            row = rows[value][n]
            column = value if row[value] else None
            if column and abs(float(row["class"]) - float(row[column])) > 0.00501:
                odd.append(f"polygon {n}: class {row['class']} is not its {value} {row[column]}")
    return odd, most


twinsow, folder = sys.argv[1], Path(sys.argv[2])
folder.mkdir(parents=True, exist_ok=True)
field, cells = inputs(folder)
job(folder)
rows = found(twinsow, folder, "zones")
odd, most = differences(rows, wanted(folder, field, cells))
if odd:
    sys.exit("\n".join(odd))
cells[5] = cells[5].buffer(2)
spoilt, _ = differences(rows, wanted(folder, field, cells))
if not spoilt:
    sys.exit("a polygon 2 m larger makes no difference: this check cannot fail")
print(f"{len(rows['mean'])} polygons: every number agrees with exactextract; means to {most:.0e}")
