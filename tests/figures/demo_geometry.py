#!/usr/bin/env python3
"""Draws the map files of the built-in scenario (examples/demo/*.geojson) and checks them.

The place is invented: open water over the Dogger Bank, so that nobody takes it for a real field.
The shapes are drawn in a local plane (metres, centred on the field) from a few hand-set points,
roughened by a seeded generator, and written as WGS 84 degrees with seven decimals (about 1 cm),
as a receiver would log them. The same seed gives the same bytes.

Usage: demo_geometry.py [folder]      (default: examples/demo beside the repository root)
       demo_geometry.py --check [folder]   compares with what is there, writes nothing
Needs: numpy, shapely, pyproj (tests/interop/requirements.txt).
"""

import json
import sys
from pathlib import Path

import numpy as np
import pyproj
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon, box, mapping
from shapely.ops import split

SEED = 20260311
LON0, LAT0 = 2.5, 54.8
PLANE = pyproj.Transformer.from_crs(
    f"+proj=tmerc +lon_0={LON0} +lat_0={LAT0} +k=1 +ellps=WGS84 +units=m", "EPSG:4326", always_xy=True
)

# Corners of the field, counter-clockwise from the south-west: (x, y, how the side to the next one
# runs). "straight" is a hedge or track set out once, "crooked" an old hedge, "bank" follows water.
CORNERS = [
    (-395, -235, "straight"),
    (-170, -252, "straight"),
    (70, -266, "straight"),
    (212, -259, "straight"),
    (221, -178, "crooked"),  # the paddock cut out of the south-east: concave
    (336, -169, "crooked"),
    (341, -60, "crooked"),
    (356, 40, "crooked"),
    (349, 112, "bank"),
    (296, 168, "bank"),
    (236, 190, "bank"),
    (172, 243, "bank"),
    (98, 250, "bank"),
    (32, 287, "bank"),
    (-58, 291, "bank"),
    (-136, 320, "bank"),
    (-207, 314, "crooked"),
    (-219, 231, "crooked"),  # the copse cut out of the north-west: concave
    (-331, 214, "crooked"),
    (-352, 96, "crooked"),
    (-374, -20, "crooked"),
    (-386, -128, "crooked"),
]


def smooth_noise(rng, count, amplitude, knots):
    """`count` values of a slow random curve within about +-amplitude."""
    at = np.linspace(0, knots - 1, count)
    return np.interp(at, np.arange(knots), rng.uniform(-amplitude, amplitude, knots))


def curve(points, step):
    """A Catmull-Rom curve through `points`, a vertex about every `step` metres."""
    p = np.asarray(points, float)
    p = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    out = []
    for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:]):
        n = max(2, round(np.hypot(*(c - b)) / step))
        t = np.linspace(0, 1, n, endpoint=False)[:, None]
        out.append(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3))
    return np.vstack(out + [p[-2][None]])


def boundary(rng):
    """The ring, and the bank vertices the brook follows."""
    ring, bank = [], [c[:2] for c in CORNERS if c[2] == "bank"] + [(-207, 314)]
    bank = curve(bank, 22)
    bank = bank + rng.normal(0, 0.7, bank.shape)
    done_bank = False
    for (x, y, kind), (nx, ny, _) in zip(CORNERS, CORNERS[1:] + CORNERS[:1]):
        if kind == "bank":
            if not done_bank:
                ring.extend(bank[:-1])
                done_bank = True
            continue
        length = np.hypot(nx - x, ny - y)
        n = max(1, round(length / (70 if kind == "straight" else 27)))
        t = np.linspace(0, 1, n, endpoint=False)
        wobble = rng.normal(0, 0.25 if kind == "straight" else 1.3, n)
        along = rng.uniform(-4, 4, n) * (t > 0)
        ux, uy = (nx - x) / length, (ny - y) / length
        for f, w, s in zip(t, wobble, along):
            ring.append((x + ux * (f * length + s) - uy * w, y + uy * (f * length + s) + ux * w))
    return Polygon(ring), bank


def redrawn(rng, piece, grow, step):
    """The piece as another hand would digitise it: resized a little, own vertices, own wobble."""
    ring = piece.buffer(grow, join_style="mitre").simplify(0.4).exterior
    n = max(12, round(ring.length / step))
    at = (np.arange(n) + rng.uniform(0, 1)) / n * ring.length
    corners = [ring.project(shapely.Point(c)) for c in ring.simplify(6).coords[:-1]]
    at = np.sort(np.concatenate([at, corners]))
    at = at[np.diff(at, append=at[0] + ring.length) > 4]
    points = np.array([ring.interpolate(a).coords[0] for a in at])
    points += np.column_stack([smooth_noise(rng, len(at), 0.9, 24), smooth_noise(rng, len(at), 0.9, 24)])
    return Polygon(points)


def surveyed_outline(rng, field):
    """The outline of a soil survey: drawn on another photograph, mostly beyond the boundary, short of it here and there."""
    ring = field.buffer(2.5, join_style="mitre").exterior.segmentize(12)
    points = np.array(ring.coords[:-1])
    n = len(points)
    return Polygon(points + np.column_stack([smooth_noise(rng, n, 4.5, 40), smooth_noise(rng, n, 4.5, 40)])).buffer(0)


def wavy(points, rng, step, amplitude):
    line = curve(points, step)
    return LineString(line + rng.normal(0, amplitude, line.shape))


def soils(rng, field):
    """Five polygons that overlap and gap a little and miss the boundary by a few metres."""
    ground = surveyed_outline(rng, field)
    clay_edge = wavy([(-450, 236), (-260, 205), (-120, 226), (0, 186), (110, 120), (225, 62), (430, 12)], rng, 35, 1.5)
    sand_top = wavy([(-450, 70), (-250, 22), (-100, 62), (40, 24), (150, -52), (260, -78), (450, -110)], rng, 35, 1.5)
    sand_foot = wavy([(-450, -62), (-280, -112), (-130, -74), (0, -116), (110, -176), (190, -340)], rng, 35, 1.5)
    middle = wavy([(-96, 320), (-52, 190), (-70, 120), (-18, 60), (-36, -20)], rng, 30, 1.5)
    named = []
    for piece in split(ground, clay_edge).geoms:
        if piece.representative_point().y > 150:
            named.append(("clay", piece))
        else:
            for below in split(piece, sand_top).geoms:
                if below.centroid.y > 30:
                    for side in split(below, middle).geoms:
                        named.append(("loam" if side.centroid.x < -60 else "sandy loam", side))
                else:
                    for part in split(below, sand_foot).geoms:
                        upper = part.centroid.y > -115 or part.centroid.x > 60
                        named.append(("sand" if upper else "loam", part))
    grow = [0.9, -0.6, 0.7, -0.5, 0.5]
    step = [19, 14, 24, 17, 21]
    return [(name, redrawn(rng, piece, g, s)) for (name, piece), g, s in zip(named, grow, step, strict=True)]


def phosphate(rng, field):
    """Bands of the phosphate index from the gate (3) to the far west (0), cut from one surface:
    they share their borders and reach well over the boundary."""
    ground = box(*field.buffer(20).bounds)
    lines = [
        wavy([(96, -320), (120, -190), (188, -90), (250, 0), (262, 110), (330, 360)], rng, 30, 1.0),
        wavy([(-70, -320), (-40, -160), (30, -60), (20, 60), (90, 180), (70, 360)], rng, 30, 1.0),
        wavy([(-262, -320), (-236, -150), (-270, -40), (-196, 80), (-214, 200), (-160, 360)], rng, 30, 1.0),
    ]
    rest, bands = ground, []
    for index, line in zip((3, 2, 1), lines):
        east, west = sorted(split(rest, line).geoms, key=lambda p: -p.centroid.x)
        bands.append((index, east))
        rest = west
    bands.append((0, rest))
    # An old heap stood in the low west: a pocket of index 2 inside index 0, one feature in two parts.
    heap = Polygon(curve([(-330, -66), (-292, -78), (-276, -48), (-300, -24), (-332, -34), (-330, -66)], 12))
    out = []
    for index, band in bands:
        if index == 2:
            band = MultiPolygon([band, heap])
        elif band.intersects(heap):
            band = band.difference(heap)
        out.append((index, band))
    return out


def rounded(shape):
    """To WGS 84 degrees, seven decimals, rings by the right-hand rule (RFC 7946)."""
    shape = shapely.transform(shape, lambda xy: np.round(np.column_stack(PLANE.transform(*xy.T)), 7))
    return shapely.orient_polygons(shape) if "Polygon" in shape.geom_type else shape


def collection(features):
    """One feature a line, so that a change shows where it is."""
    rows = []
    for properties, shape in features:
        feature = {"type": "Feature", "properties": properties, "geometry": mapping(rounded(shape))}
        rows.append(json.dumps(feature, separators=(", ", ": ")))
    return '{"type": "FeatureCollection", "features": [\n' + ",\n".join(rows) + "\n]}\n"


def scenario():
    rng = np.random.default_rng(SEED)
    field, bank = boundary(rng)
    # The brook runs 4 to 6 m outside the bank, and on beyond the field at both ends.
    brook = LineString(bank).offset_curve(-5).simplify(0.3)
    along = sorted(brook.coords, key=lambda xy: -xy[0])
    above = curve([along[-1], (-238, 317), (-262, 334), (-285, 340), (-301, 362), (-330, 371)], 9)[1:]
    below = curve([(432, 30), (407, 52), (396, 78), (372, 92), along[0]], 9)[:-1]
    brook = LineString([*below, *along, *above])
    angle = np.sort(rng.uniform(0, 2 * np.pi, 26))
    radius = 1 + smooth_noise(rng, 26, 0.16, 9)
    pond = Polygon(np.column_stack([-118 + 24 * radius * np.cos(angle), 108 + 15 * radius * np.sin(angle)]))
    entrance = Polygon([(118, -270), (168, -268), (174, -240), (160, -222), (140, -216), (121, -224), (112, -243)])
    hollow = Polygon(curve([(206, 96), (248, 84), (272, 104), (258, 132), (222, 136), (206, 96)], 11))
    soil, bands = soils(rng, field), phosphate(rng, field)
    files = {
        "boundary.geojson": [({"field": "Long Shoal", "farm": "Low Dogger Farm (invented)"}, field)],
        "soil.geojson": [({"soil": name}, shape) for name, shape in soil],
        "phosphate.geojson": [({"p_index": index}, shape) for index, shape in bands],
        "pond.geojson": [({"name": "Dew pond"}, pond)],
        "brook.geojson": [({"name": "Shoal Brook"}, brook)],
        "special-areas.geojson": [({"name": "entrance"}, entrance), ({"name": "wet hollow"}, hollow)],
    }
    check(field, soil, bands, pond, brook, entrance, hollow)
    return {name: collection(features) for name, features in files.items()}


def check(field, soil, bands, pond, brook, entrance, hollow):
    """What the scenario promises, measured in the plane."""
    ha = field.area / 1e4
    union = shapely.union_all([s for _, s in soil])
    overlap = sum(s.intersection(field).area for _, s in soil) - union.intersection(field).area
    gap = field.difference(union).area
    short = field.difference(union.buffer(0.05)).intersection(field.exterior.buffer(6)).area
    beyond = union.difference(field).area
    vertices = len(field.exterior.coords) - 1
    print(f"field {ha:.3f} ha, {vertices} vertices, {field.convex_hull.area / field.area:.3f} hull/area")
    for label, shapes in (("soil", soil), ("P index", bands)):
        for name, shape in shapes:
            print(f"  {label} {name}: {shape.intersection(field).area / 1e4:.3f} ha in the field")
    print(f"soil: overlap {overlap:.0f} m2, gap {gap:.0f} m2, beyond the boundary {beyond:.0f} m2, short of it {short:.0f} m2")
    print(f"pond {pond.area:.0f} m2, entrance {entrance.intersection(field).area:.0f} m2, hollow {hollow.area:.0f} m2")
    bare = field.difference(shapely.union_all([b for _, b in bands])).area
    everything = [field, pond, entrance, hollow, *[s for _, s in soil], *[b for _, b in bands]]
    promises = {
        "25 to 45 ha": 25 < ha < 45,
        "60 to 120 vertices": 60 <= vertices <= 120,
        "all polygons valid": all(s.is_valid for s in everything),
        "five soil polygons": len(soil) == 5 and {n for n, _ in soil} == {"sand", "sandy loam", "loam", "clay"},
        "soils overlap": 100 < overlap < 0.005 * field.area,
        "soils gap, below 1 % of the field": 100 < gap < 0.01 * field.area,
        "soils miss the boundary both ways": beyond > 500 and short > 100,
        "phosphate covers the field": bare < 1e-6,
        "bands do not overlap": abs(sum(b.area for _, b in bands) - shapely.union_all([b for _, b in bands]).area) < 1e-3,
        "pond in the interior": field.buffer(-24).contains(pond),
        "brook outside the boundary": not brook.intersects(field),
        "brook along the bank": 3 < brook.distance(field) < 7,
        "hollow inside": field.contains(hollow),
        "entrance crosses the boundary": entrance.intersects(field.exterior),
    }
    broken = [name for name, holds in promises.items() if not holds]
    if broken:
        sys.exit("the scenario breaks its promises: " + "; ".join(broken))


def main():
    arguments = [a for a in sys.argv[1:] if a != "--check"]
    folder = Path(arguments[0]) if arguments else Path(__file__).resolve().parents[2] / "examples" / "demo"
    for name, text in scenario().items():
        path = folder / name
        if "--check" not in sys.argv:
            path.write_text(text, encoding="utf-8", newline="\n")
        elif json.loads(path.read_text(encoding="utf-8")) != json.loads(text):
            sys.exit(f"{path} is not what this script draws")


if __name__ == "__main__":
    main()
