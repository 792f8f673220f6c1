#!/usr/bin/env python3
"""Reference figures for the parcels in testdata/fields, by programs other than ours.

- `geodesic_m2`: area of the parcel on the WGS 84 ellipsoid: edges densified to 1 m in the parcel's own
  CRS (where they are straight), then pyproj's Geod (the GeographicLib algorithms, C. F. F. Karney,
  Algorithms for geodesics, J. Geodesy 87, 2013).
- `overlay_m2`: areas of parcel x soil class x need class by shapely (GEOS), in the field's own plane
  (transverse Mercator on WGS 84 centred on `origin`), edges densified to 1 m where they are straight.

`origin` is the middle of the bounding box to a millionth of a degree; with a folder of plan.json files
(<name>/plan.json) it is what the program took, so that both measure in the same plane.

Usage: field_figures.py [--check] [PLANS]
       writes testdata/fields/figures.json; --check compares (1e-9 relative) and writes nothing
Needs: numpy, shapely, pyproj, pyogrio (tests/interop/requirements.txt).
"""

import json
import sys
from pathlib import Path

import pyogrio
import pyproj
import shapely

import field_zones

FIELDS = Path(__file__).resolve().parents[2] / "testdata" / "fields"
SOURCES = [FIELDS / "nl_epsg28992.gpkg", FIELDS / "dk_epsg25832.shp.zip"]


def parcels(path):
    """`(name, polygon in the CRS of the file, crs)` of a GeoPackage or a zipped shapefile."""
    inside = f"/vsizip/{path}" if path.suffix == ".zip" else path
    crs = pyogrio.read_info(inside)["crs"]
    _, _, wkb, (names,) = pyogrio.raw.read(inside, columns=["field_id"])
    return [(name, shape, crs) for name, shape in zip(names, shapely.from_wkb(wkb))]


def geodesic_m2(shape, crs, step=1.0):
    """Area on the ellipsoid of a polygon whose edges are straight in `crs`."""
    to_degrees = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    dense = field_zones.change(shape.segmentize(step), to_degrees)
    area, _ = pyproj.Geod(ellps="WGS84").geometry_area_perimeter(shapely.orient_polygons(dense))
    return abs(area)


def in_plane(shape, crs, origin, step):
    """The polygon in the field's own plane, edges kept straight in `crs`."""
    to_plane = pyproj.Transformer.from_crs(crs, field_zones.plane(*origin), always_xy=True)
    return field_zones.change(shape.segmentize(step), to_plane)


def zones(name, layer):
    """`[(class, polygon in degrees)]` of a made layer."""
    features = json.loads((FIELDS / f"{name}_{layer}.geojson").read_text(encoding="utf-8"))["features"]
    return [(f["properties"][layer], shapely.geometry.shape(f["geometry"])) for f in features]


def figures(name, shape, crs, plans):
    degrees = field_zones.change(shape, pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True))
    origin = field_zones.centre(degrees)
    if plans:
        origin = tuple(json.loads((plans / name / "plan.json").read_text(encoding="utf-8"))["frame"]["origin_lon_lat"])
    field = in_plane(shape, crs, origin, 1.0)
    made = {
        layer: [(cls, in_plane(s, "EPSG:4326", origin, 1e-5)) for cls, s in zones(name, layer)]
        for layer in field_zones.CLASSES
    }
    overlay = {
        f"{a}|{b}": field.intersection(shape_a).intersection(shape_b).area
        for a, shape_a in made["soil"]
        for b, shape_b in made["need"]
    }
    lost = field.area - sum(overlay.values())
    if abs(lost) > 1e-9 * field.area + 1e-6:
        sys.exit(f"{name}: the made zones leave {lost} m2 of the parcel uncovered")
    return {
        "name": name,
        "crs": crs,
        "vertices": int(shapely.get_num_coordinates(shape)),
        "holes": int(shapely.get_num_interior_rings(shape)),
        "origin": list(origin),
        "geodesic_m2": geodesic_m2(shape, crs),
        "plane_m2": field.area,
        "overlay_m2": overlay,
    }


def close(a, b):
    """Equal but for the last digits of a number."""
    if isinstance(a, dict):
        return a.keys() == b.keys() and all(close(a[k], b[k]) for k in a)
    if isinstance(a, list):
        return len(a) == len(b) and all(close(x, y) for x, y in zip(a, b))
    if isinstance(a, float):
        return abs(a - b) <= 1e-9 * abs(a) + 1e-6
    return a == b


def main():
    arguments = [a for a in sys.argv[1:] if a != "--check"]
    plans = Path(arguments[0]) if arguments else None
    result = {
        "made_by": "tests/figures/field_figures.py",
        "tools": {
            "pyproj": pyproj.__version__,
            "PROJ": pyproj.proj_version_str,
            "shapely": shapely.__version__,
            "GEOS": shapely.geos_version_string,
        },
        "parcels": [figures(n, s, c, plans) for source in SOURCES for n, s, c in parcels(source)],
    }
    for p in result["parcels"]:
        off = p["plane_m2"] / p["geodesic_m2"] - 1
        print(f"{p['name']}: {p['geodesic_m2']:.3f} m2, plane {off:+.1e}, smallest piece {min(p['overlay_m2'].values()):.2f} m2")
    target = FIELDS / "figures.json"
    if "--check" in sys.argv:
        kept = json.loads(target.read_text(encoding="utf-8"))
        if not close(kept["parcels"], result["parcels"]):
            sys.exit(f"{target} is not what these tools give")
        return
    target.write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
