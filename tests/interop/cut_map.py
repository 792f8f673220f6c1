#!/usr/bin/env python3
"""Plans real parcels of testdata/fields twice, with the zones' borders and cut to the bouts, and holds the two against each
other with shapely, from the delivered files alone (gis/rates.geojson and gis/bouts.geojson of both, plan.json for what is said).

Checked for each parcel:

- both maps cover the same land, and the areas and kilograms of the cut one are those of its tally;
- kilograms wanted, cut, less and more, and the share of the land within 5 %, as overlays of the two maps give them;
- one rate across the width: cross-sections of the interior bouts, half a metre apart, meet one pair of rates, but within 0.3 m of a
  cut and on bits of less than 0.05 m;
- no piece shorter than it may be: along the middle of a straight interior bout rates change no sooner than the least length;
- headland and interior, and land where a product is off, are where they were: no kilogram where the free map has none;
- the grid along the bouts (gis/rates-turned.tif), as GDAL places it: turned to the heading, its kilograms those of plan.json, its land that of the map, and
  in every pixel that lies wholly in land of one pair of rates just these. Copies of the file that are shifted by one pixel, turned back to north, turned over or have their
  products swapped have to fail that, and the audit has to see each of them.

Usage: cut_map.py PROGRAM FIELDS FOLDER
"""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyproj
import rasterio
import shapely
from all_fields import JOB, NEED, SOIL

NL, DK = "nl_epsg28992.gpkg", "dk_epsg25832.shp.zip"
PARCELS = [
    *[(f"nl-{number}", NL) for number in (21, 24, 55, 67, 84)],
    *[(f"dk-{number}", DK) for number in (0, 4, 28, 53)],
]
# 3 m wide and folded: by its switch_rule no bout sows, and the cut is refused with that reason.
NARROW = ("nl-49", NL)
PRODUCTS = ["seed", "starter"]
FAULTS = []


def near(got, wanted, by, what):
    if not abs(got - wanted) <= by:
        FAULTS.append(f"{what}: {got} instead of {wanted} (may differ by {by})")


def read(plan, name, to_plane):
    """Features of a layer with their properties, in the field's plane."""
    features = json.loads((plan / "gis" / name).read_text(encoding="utf-8"))["features"]
    shapes = [shapely.geometry.shape(feature["geometry"]) for feature in features]
    moved = [shapely.transform(shape, lambda at: np.column_stack(to_plane.transform(*at.T))) for shape in shapes]
    return [(feature["properties"], shape) for feature, shape in zip(features, moved)]


def rates(properties):
    return tuple(properties[f"{product}_kg_ha"] for product in PRODUCTS)


def checked(name, free_plan, cut_plan, width_m):
    document = json.loads((cut_plan / "plan.json").read_text(encoding="utf-8"))
    lon, lat = document["frame"]["origin_lon_lat"]
    plane = f"+proj=tmerc +lat_0={lat!r} +lon_0={lon!r} +k=1 +ellps=WGS84 +units=m"
    to_plane = pyproj.Transformer.from_crs("EPSG:4326", plane, always_xy=True)
    free, cut = (read(plan, "rates.geojson", to_plane) for plan in (free_plan, cut_plan))
    land_m2 = sum(shape.area for _, shape in free)
    near(sum(shape.area for _, shape in cut), land_m2, 1e-6 * land_m2 + 0.1, f"{name}: area of the cut map, m2")
    both = []
    for of_free, a in free:
        for of_cut, b in cut:
            area = shapely.intersection(a, b).area
            if area > 0:
                both.append((area, rates(of_free), rates(of_cut), of_free["part"] == of_cut["part"]))
    near(sum(area for area, *_ in both), land_m2, 1e-5 * land_m2 + 0.5, f"{name}: land in both maps, m2")
    near(sum(area for area, *_, same in both if not same), 0.0, 1.0, f"{name}: land in another part, m2")
    said = {of["id"]: of for of in document["cut_map"]["products"]}
    for nth, product in enumerate(PRODUCTS):
        of, slack = said[product], 1e-5 * land_m2 / 1e4 * 200 + 0.02
        kg = lambda pick: sum(area * pick(a[nth], b[nth]) for area, a, b, _ in both) / 1e4
        near(kg(lambda a, b: a), of["wanted_kg"], slack, f"{name}: {product} wanted, kg")
        near(kg(lambda a, b: b), of["cut_kg"], slack, f"{name}: {product} on the cut map, kg")
        near(kg(lambda a, b: max(a - b, 0)), of["lost_kg"], slack, f"{name}: {product} less, kg")
        near(kg(lambda a, b: max(b - a, 0)), of["gained_kg"], slack, f"{name}: {product} more, kg")
        near(kg(lambda a, b: b if a == 0 else 0), 0.0, 0.02, f"{name}: {product} where none is wanted, kg")
        wanted = sum(area for area, a, _, _ in both if a[nth] > 0)
        within = sum(area for area, a, b, _ in both if a[nth] > 0 and abs(a[nth] - b[nth]) <= 0.05 * a[nth] + 1e-6)
        near(100 * within / wanted, of["cut_within_5_percent"], 0.02, f"{name}: {product} within 5 %, percent")
        tally = next(of for of in document["tally"]["products"] if of["id"] == product)
        own = sum(shape.area * rates(properties)[nth] for properties, shape in cut) / 1e4
        near(own, tally["steps"][0]["kg"], 1e-6 * own + 0.02, f"{name}: {product} of the cut map, kg")
    along_bouts(name, document, cut, read(cut_plan, "bouts.geojson", to_plane), width_m)
    FAULTS.extend(f"{name}: {fault}" for fault in turned(cut_plan / "gis" / "rates-turned.tif", document, cut))


def along_bouts(name, document, cut, bouts, width_m):
    interior = [(rates(properties), shape) for properties, shape in cut if properties["part"] == "interior"]
    tree = shapely.STRtree([shape for _, shape in interior])
    least_m = document["cut_map"]["least_m"]
    mixed = looked = 0
    for properties, way in bouts:
        if properties["part"] != "interior":
            continue
        start, end = np.array(way.coords[0]), np.array(way.coords[-1])
        length = np.hypot(*(end - start))
        along = (end - start) / length
        left = np.array([-along[1], along[0]]) * width_m / 2
        changes, last = [0.0], None
        for at in np.arange(0.25, length, 0.5):
            middle = start + at * along
            section = shapely.LineString([middle - 0.999 * left, middle + 0.999 * left])
            met = {}
            for nth in tree.query(section):
                pair, shape = interior[nth]
                met[pair] = met.get(pair, 0.0) + shapely.intersection(section, shape).length
            met = {pair: metres for pair, metres in met.items() if metres > 0.05}
            looked += 1
            if len(met) == 1:
                (pair,) = met
                if last is not None and pair != last:
                    changes.append(at)
                last = pair
            elif len(met) > 1:
                mixed += 1
        lengths = np.diff(changes + [length])
        if len(lengths) > 1 and lengths.min() < least_m - 1.0:
            FAULTS.append(f"{name}: bout {properties['bout']}: a piece of {lengths.min():.1f} m, at least {least_m} m")
    # A cross-section meets two pairs only where it lies within a hair of a cut.
    near(mixed / looked, 0.0, 0.005, f"{name}: cross-sections with several rates")
    print(f"{name}: {document['cut_map']['pieces']} pieces, {looked} cross-sections, {mixed} of them mixed")


def turned(path, document, cut):
    """What is wrong with the grid along the bouts."""
    found = []
    with rasterio.open(path) as raster:
        bands, place, crs = raster.read(), raster.transform, raster.crs
    lon, lat = document["frame"]["origin_lon_lat"]
    origin = pyproj.Transformer.from_crs(crs.to_wkt(), "EPSG:4326", always_xy=True).transform(0.0, 0.0)
    if not np.allclose(origin, (lon, lat), rtol=0, atol=1e-9):
        found.append(f"its plane has its origin at {origin}, the plan's at {lon}, {lat}")
    said = document["grids"]["turned"]
    heading = np.radians(document["drive"]["heading_deg"])
    across, along = said["cells"]["cell"]
    ways = [across * np.cos(heading), -along * np.sin(heading), -across * np.sin(heading), -along * np.cos(heading)]
    if not np.allclose([place.a, place.b, place.d, place.e], ways, rtol=0, atol=1e-9):
        found.append(f"it is turned by {place}, the bouts run to {document['drive']['heading_deg']} degrees")
    covered = bands[-1].astype(float)
    for nth, product in enumerate(PRODUCTS):
        kg = np.nansum(np.where(covered > 0, bands[nth], 0.0) * covered) / 1e4
        if abs(kg - said["kg"][nth]) > 1e-6 * kg + 1e-6:
            found.append(f"{product}: {kg} kg on it, {said['kg'][nth]} in plan.json")
    rows, columns = np.indices(covered.shape)
    east = lambda x, y: place.a * (columns + x) + place.b * (rows + y) + place.c
    north = lambda x, y: place.d * (columns + x) + place.e * (rows + y) + place.f
    corner = lambda x, y: np.stack([east(x, y), north(x, y)], axis=-1)
    pixels = shapely.polygons(np.stack([corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1)], axis=2))
    land = shapely.union_all([shape for _, shape in cut])
    some = covered > 0.01
    off = np.abs(shapely.area(shapely.intersection(pixels[some], land)) - covered[some]).max()
    if off > 0.01 or abs(covered.sum() - land.area) > 1e-6 * land.area:
        found.append(f"the land in a pixel is off by {off:.3f} m2, all of it by {covered.sum() - land.area:.3f} m2")
    looked = 0
    for pair in {rates(properties) for properties, _ in cut}:
        shape = shapely.union_all([shape for properties, shape in cut if rates(properties) == pair]).buffer(-0.01)
        shapely.prepare(shape)
        inside = shapely.contains(shape, pixels)
        looked += inside.sum()
        wrong = inside & ((np.abs(bands[0] - pair[0]) > 1e-4) | (np.abs(bands[1] - pair[1]) > 1e-4))
        if wrong.any():
            found.append(f"{wrong.sum()} of {inside.sum()} pixels within land of {pair} kg/ha have other rates")
    if looked < 0.4 * some.sum():
        found.append(f"{looked} of {some.sum()} pixels lie in land of one pair of rates")
    return found


def spoilt(program, plan, folder):
    """Copies of a plan, its grid along the bouts spoilt in one way each: this check and the audit have to see it."""
    document = json.loads((plan / "plan.json").read_text(encoding="utf-8"))
    lon, lat = document["frame"]["origin_lon_lat"]
    plane = f"+proj=tmerc +lat_0={lat!r} +lon_0={lon!r} +k=1 +ellps=WGS84 +units=m"
    cut = read(plan, "rates.geojson", pyproj.Transformer.from_crs("EPSG:4326", plane, always_xy=True))
    shift, matrix = rasterio.Affine.translation(1, 0), rasterio.Affine
    ways = {
        "shifted by a pixel": lambda place, bands: (place @ shift, bands),
        "turned back to north": lambda p, bands: (matrix(np.hypot(p.a, p.d), 0, p.c, 0, -np.hypot(p.b, p.e), p.f), bands),
        "turned over": lambda place, bands: (place, bands[:, ::-1]),
        "products swapped": lambda place, bands: (place, bands[[1, 0, 2]]),
    }
    for what, spoil in ways.items():
        copy = folder / "spoilt-plan"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(plan, copy)
        path = copy / "gis" / "rates-turned.tif"
        with rasterio.open(path) as raster:
            profile, bands, names, notes = raster.profile, raster.read(), raster.descriptions, raster.tags()
        profile["transform"], bands = spoil(profile["transform"], bands)
        with rasterio.open(path, "w", **profile) as raster:
            raster.write(bands)
            raster.update_tags(**notes)
            for number, name in enumerate(names, 1):
                raster.set_band_description(number, name)
        if not turned(path, document, cut):
            FAULTS.append(f"not seen here: a grid along the bouts, {what}")
        told = subprocess.run([program, "audit", path, "--plan", copy / "plan.json"], capture_output=True, text=True)
        if told.returncode == 0:
            FAULTS.append(f"not seen by the audit: a grid along the bouts, {what}: {told.stdout}{told.stderr}")


def main():
    program, fields, folder = sys.argv[1], Path(sys.argv[2]).resolve(), Path(sys.argv[3]).resolve()
    folder.mkdir(parents=True, exist_ok=True)
    toml = lambda rates: "{ " + ", ".join(f"{k} = {v}.0" for k, v in rates.items()) + " }"
    for name, file in [*PARCELS, NARROW]:
        text = JOB.format(name=name, file=fields / file, soil=toml(SOIL), need=toml(NEED))
        text = text.replace(f'"{name}_', f'"{fields}/{name}_')
        plans = []
        for kind, drive in (("free", ""), ("cut", "cut_to_bouts = true\n")):
            job = folder / f"{name}-{kind}.toml"
            job.write_text(text.replace("[drive]\n", "[drive]\n" + drive), encoding="utf-8")
            made = subprocess.run([program, "plan", job], capture_output=True, text=True)
            if (name, kind) == (NARROW[0], "cut"):
                if made.returncode != 2 or "no bout sows" not in made.stderr:
                    FAULTS.append(f"{name}: not refused with its reason: {made.stdout}{made.stderr}")
                continue
            if made.returncode not in (0, 1):
                sys.exit(f"{name}: {made.stdout}{made.stderr}")
            plans.append(folder / f"{name}-{kind}-plan")
        if name != NARROW[0]:
            checked(name, *plans, 3.0)
            last = plans[1]
    spoilt(program, last, folder)
    if FAULTS:
        sys.exit("\n".join(FAULTS))


if __name__ == "__main__":
    main()
