#!/usr/bin/env python3
"""Measures the setback strips of delivered folders anew: no product where it must be off.

For every setback of the job whose file is GeoJSON, the strip (distance + half the working width + position error
+ run-on) is drawn by shapely in the field's own plane, and every map is held against it: polygons, metric grid
and the grid in degrees. Cells outside the field count as well: the edge rim must not reach in.

Usage: setbacks.py [--inputs FOLDER_OF_THE_JOB_FILE] FOLDER...      (without: the folder that holds FOLDER)
"""

import sys
from pathlib import Path

import numpy as np
import rasterio
import shapely
from delivered import Plan, run, zones_of
from isoxml.util.isoxml_io import isoxml_from_path


def strips(checks, plan, jobs_folder):
    """`(setback name, product, strip in the plane)`"""
    drill = plan.json["job"]["drill"]
    widen = drill["working_width_m"] / 2 + drill["position_error_m"] + drill["run_on_m"]
    for setback in plan.json["job"].get("setback", []):
        path = jobs_folder / setback["source"]["file"]
        if not checks.that(path.suffix in (".geojson", ".json"), f"setback {setback['name']}: {path} is no GeoJSON"):
            continue
        only = setback["source"].get("only", {})
        shapes = [s for p, s in zones_of(path) if all(str(p.get(k)) == v for k, v in only.items())]
        # 5 mm less: arcs are drawn with corners on both sides.
        strip = shapely.union_all(plan.to_plane(np.array(shapes))).buffer(setback["distance_m"] + widen - 0.005, quad_segs=64)
        for product in setback["products"]:
            yield setback["name"], product, strip


def check(folder, checks):
    plan = Plan(folder)
    jobs_folder = Path(JOBS) if JOBS else folder.parent
    zones = [(p, plan.to_plane(shape)) for p, shape in zones_of(folder / "gis" / "rates.geojson")]
    with rasterio.open(folder / "gis" / "rates.tif") as raster:
        t, bands = raster.transform, raster.read(masked=True)
        r, c = np.indices((raster.height, raster.width)).reshape(2, -1)
    metric = shapely.box(t.c + c * t.a, t.f + (r + 1) * t.e, t.c + (c + 1) * t.a, t.f + r * t.e)
    data, binaries = isoxml_from_path(folder / "terminal" / "TASKDATA")
    grid = data.tasks[0].grids[0]
    raw = np.frombuffer(binaries[grid.filename], "<i4").reshape(-1, len(plan.products))
    r, c = np.indices((grid.maximum_row, grid.maximum_column)).reshape(2, -1)
    south, west = float(grid.minimum_north_position), float(grid.minimum_east_position)
    high, wide = float(grid.cell_north_size), float(grid.cell_east_size)
    degrees = plan.to_plane(shapely.box(west + c * wide, south + r * high, west + (c + 1) * wide, south + (r + 1) * high))
    strict = 0
    for name, product, strip in strips(checks, plan, jobs_folder):
        number = plan.products.index(product)
        shapely.prepare(strip)
        inside = sum(shape.intersection(strip).area for p, shape in zones if p[plan.column[product]] > 0)
        checks.near(inside, 0, 0.5, f"{name}: {product} on the polygon map inside the strip, m2")
        touched = shapely.intersects(strip, metric)
        strict += int(touched.sum())
        on = bands[number].filled(0).reshape(-1) > 0
        checks.equal(int((on & touched).sum()), 0, f"{name}: metric cells that touch the strip and carry {product}")
        touched = shapely.intersects(strip, degrees)
        strict += int(touched.sum())
        checks.equal(int(((raw[:, number] > 0) & touched).sum()), 0, f"{name}: terminal cells that touch the strip and carry {product}")
        others = [i for i in range(len(plan.products)) if i != number]
        keeps_on = any((bands[i].filled(0).reshape(-1) > 0)[shapely.intersects(strip, metric)].any() for i in others)
        checks.that(keeps_on or not others, f"{name}: no other product goes on inside the strip")
    if plan.json["job"].get("setback"):
        checks.that(strict > 0, "no cell touches any strip: the setbacks were not where the maps are")
    # Water and other exclusions: nothing at all, neither by the rim nor by a neighbour.
    for exclusion in plan.json["job"].get("exclusion", []):
        shapes = [s for _, s in zones_of(jobs_folder / exclusion["source"]["file"])]
        land = shapely.union_all(plan.to_plane(np.array(shapes))).buffer(exclusion["buffer_m"] - 0.005)
        shapely.prepare(land)
        inside = sum(shape.intersection(land).area for _, shape in zones)
        checks.near(inside, 0, 0.5, f"{exclusion['name']}: land on the map inside, m2")
        for what, boxes, carries in (
            ("metric", metric, (bands[: len(plan.products)].filled(0) > 0).any(axis=0).reshape(-1)),
            ("terminal", degrees, (raw > 0).any(axis=1)),
        ):
            drowned = shapely.contains(land, boxes)
            checks.equal(int((drowned & carries).sum()), 0, f"{exclusion['name']}: {what} cells wholly inside that carry a rate")


JOBS = None
if "--inputs" in sys.argv:
    at = sys.argv.index("--inputs")
    JOBS = sys.argv[at + 1]
    del sys.argv[at : at + 2]
run("setbacks.py", check, __doc__)
