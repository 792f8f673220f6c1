#!/usr/bin/env python3
"""Areas by pair of classes, worked out by general libraries in the planes that the plans name.

usage: matched.py DATA SIZE FOLDER PEER.py   (with the other side's Python)

FOLDER is what `twinsow plan` wrote for SIZE: one plan, or with FARM a folder for each field. Each field is taken into the
plane of its plan by PROJ, its zones are overlaid by GEOS in double precision, without any headland, and areas are summed by pair
of classes. Prints them as JSON: {"field_m2": ..., "class_m2": {"1,2": ...}}.
"""

import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import shapely
from pyproj import Transformer


def peer(path):
    spec = importlib.util.spec_from_file_location("peer", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def plane_of(folder):
    lon, lat = json.loads((folder / "plan.json").read_text())["frame"]["origin_lon_lat"]
    return f"+proj=tmerc +lat_0={lat!r} +lon_0={lon!r} +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"


def add(sums, pairs, areas):
    for pair, area in zip(pairs, areas):
        sums[pair] = sums.get(pair, 0.0) + float(area)


def by_pairs(field, a, class_a, b, class_b, sums):
    """Overlays two layers with a field and adds areas by pair of classes."""
    of_b = shapely.STRtree(b)
    on_field = shapely.intersection(a, field)
    ia, ib = of_b.query(on_field, predicate="intersects")
    areas = shapely.area(shapely.intersection(on_field[ia], b[ib]))
    add(sums, [f"{class_a[i]},{class_b[k]}" for i, k in zip(ia, ib)], areas)


def vector(module, data, folder):
    read = [module.read_fast(str(data / f"{name}.geojson")) for name in ("boundary", "zones_a", "zones_b")]
    layers = [module.build(*of[:4]) for of in read]
    classes = [None] + [[p["class"] for p in of[4]] for of in read[1:]]
    fields = [p.get("field_id") for p in read[0][4]]
    owners = [np.array([p.get("field_id", 0) or 0 for p in of[4]]) for of in read]
    sums, field_m2 = {}, 0.0
    for at, field_id in enumerate(fields):
        own = folder if field_id is None else folder / str(field_id)
        turn = Transformer.from_crs("EPSG:4326", plane_of(own), always_xy=True)
        place = lambda shapes: shapely.transform(shapes, lambda xy: np.column_stack(turn.transform(xy[:, 0], xy[:, 1])))
        mine = [layer if field_id is None else layer[owner == field_id] for layer, owner in zip(layers, owners)]
        field, a, b = place(mine[0][:1] if field_id is not None else layers[0][at : at + 1])[0], place(mine[1]), place(mine[2])
        pick = lambda nth: [c for c, o in zip(classes[nth], owners[nth]) if field_id is None or o == field_id]
        by_pairs(field, a, pick(1), b, pick(2), sums)
        field_m2 += float(shapely.area(field))
    return field_m2, sums


def raster(module, data, folder, class_b):
    import rasterio
    import rasterio.features

    with rasterio.open(data / "zones.tif") as file:
        values, transform, crs = file.read(1), file.transform, file.crs
        nodata = file.nodata
    shapes = list(rasterio.features.shapes(values, mask=None if nodata is None else values != nodata, transform=transform))
    turn = Transformer.from_crs(crs, plane_of(folder), always_xy=True)
    place = lambda shapes, turn: shapely.transform(
        shapes, lambda xy: np.column_stack(turn.transform(xy[:, 0], xy[:, 1]))
    )
    zones = place(np.array([shapely.geometry.shape(geometry) for geometry, _ in shapes]), turn)
    read = module.read_fast(str(data / "boundary.geojson"))
    own = Transformer.from_crs("EPSG:4326", plane_of(folder), always_xy=True)
    field = place(module.build(*read[:4]), own)[0]
    shapely.prepare(field)
    areas = shapely.area(shapely.intersection(zones, field))
    sums = {}
    add(sums, [f"{int(value)},{class_b}" for _, value in shapes], areas)
    return float(shapely.area(field)), sums


def main():
    data, size, folder, path = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3]), sys.argv[4]
    module = peer(path)
    if size == "RASTER":
        class_b = json.loads((data / "rates.json").read_text())["raster_class_b"]
        field_m2, sums = raster(module, data / size, folder, class_b)
    else:
        field_m2, sums = vector(module, data / size, folder)
    print(json.dumps({"field_m2": field_m2, "class_m2": {pair: area for pair, area in sums.items() if area > 0.0}}))


if __name__ == "__main__":
    main()
