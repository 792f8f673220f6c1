"""A farm of many fields, made from a seed: boundaries, one zone layer for all, a job for the farm and one for a line of a stream.

Plain Python, no library. Fields lie on a lattice on WGS 84, about 10 ha each, with a border of 60 points; each has four zones
of three classes whose shared borders are the same points.
"""

import json
import math
import random

METRES_PER_DEGREE = 111_320.0
CLASSES = ("light", "medium", "heavy")

JOB = """name = "Farm"

[field]
name = "Field"
boundary = {{ file = "boundary.geojson" }}
{split}
[headland]
width_m = 10.0

[[layer]]
name = "soil"
source = {{ file = "soil.geojson" }}
class_attribute = "soil"

[drill]
name = "Six-metre drill (invented)"
working_width_m = 6.0

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
rate.kg_per_ha = {{ layer = "soil", by_class = {{ light = 140.0, medium = 160.0, heavy = 185.0 }} }}

[[product]]
id = "starter"
name = "Starter"
kind = "fertiliser"
hopper = "rear"
bulk_density_kg_per_l = 1.0
rate.kg_per_ha = {{ layer = "soil", by_class = {{ light = 120.0, medium = 100.0, heavy = 80.0 }} }}

[[own_seed_limit]]
product = "starter"
max_kg_per_ha = 200.0
crop = "wheat"
because = "made for this check"
by = "tests/interop/farm.py"
on = "2031-02-03"
"""


def feature(properties, ring):
    """A polygon from an open ring of (lon, lat)."""
    closed = [[round(x, 9), round(y, 9)] for x, y in ring + ring[:1]]
    return {"type": "Feature", "properties": properties, "geometry": {"type": "Polygon", "coordinates": [closed]}}


def field(seed, number, lon, lat):
    """Boundary and zones of a field around a place."""
    rng = random.Random(f"{seed} {number}")
    east = METRES_PER_DEGREE * math.cos(math.radians(lat))
    place = lambda x, y: (lon + x / east, lat + y / METRES_PER_DEGREE)
    waves = [(k, rng.uniform(0.0, 0.05) / k, rng.uniform(0.0, math.tau)) for k in range(2, 6)]
    border = []
    for n in range(60):
        angle = math.tau * n / 60
        radius = 175.0 * (1.0 + sum(a * math.cos(k * angle + p) for k, a, p in waves))
        border.append(place(radius * math.cos(angle), radius * math.sin(angle)))
    boundary = feature({"field_id": number}, border)
    # Three winding lines from south to north make four strips that reach past the field.
    ys = [-260.0 + 20.0 * n for n in range(27)]
    lines = []
    for middle in (-90.0, 0.0, 90.0):
        shift, phase, length = middle + rng.uniform(-20.0, 20.0), rng.uniform(0.0, math.tau), rng.uniform(80.0, 200.0)
        lines.append([place(shift + 15.0 * math.sin(y / length * math.tau + phase), y) for y in ys])
    west, east_edge = [place(-260.0, y) for y in ys], [place(260.0, y) for y in ys]
    strips = [west, *lines, east_edge]
    zones = []
    for left, right in zip(strips, strips[1:]):
        zones.append(feature({"soil": rng.choice(CLASSES)}, right + left[::-1]))
    return boundary, zones


def farm(count, seed=8):
    """Boundary and zones per field, on a lattice of 600 m around 50 degrees north."""
    side = math.ceil(math.sqrt(count))
    for n in range(count):
        row, column = divmod(n, side)
        lat = 50.0 + 600.0 * row / METRES_PER_DEGREE
        lon = 9.0 + 600.0 * column / (METRES_PER_DEGREE * math.cos(math.radians(50.0)))
        yield field(seed, n + 1, lon, lat)


def collection(features):
    return {"type": "FeatureCollection", "features": features}


def write(folder, count):
    """Writes boundary.geojson, soil.geojson, farm.toml (all fields) and one.toml (a line of the stream)."""
    folder.mkdir(parents=True, exist_ok=True)
    boundaries, soil = [], []
    for boundary, zones in farm(count):
        boundaries.append(boundary)
        soil.extend(zones)
    (folder / "boundary.geojson").write_text(json.dumps(collection(boundaries)))
    (folder / "soil.geojson").write_text(json.dumps(collection(soil)))
    (folder / "farm.toml").write_text(JOB.format(split='split_by = "field_id"\n'))
    (folder / "one.toml").write_text(JOB.format(split=""))


def requests(count):
    """A line per field that brings its boundary and its zones."""
    for boundary, zones in farm(count):
        files = {"boundary.geojson": boundary, "soil.geojson": collection(zones)}
        yield json.dumps({"id": boundary["properties"]["field_id"], "files": files})
