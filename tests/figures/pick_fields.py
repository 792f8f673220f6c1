#!/usr/bin/env python3
"""Copies ten real parcels out of the shared field files into testdata/fields, with made zones.

Coordinates are copied bit for bit. Attributes are reduced to the crop and a number of ours: the
originals carry register and case numbers of farms, which nothing here needs.

Usage: pick_fields.py FOLDER_WITH_THE_200_PARCELS
Needs: numpy, shapely, pyproj, pyogrio (tests/interop/requirements.txt).
"""

import os
import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import pyogrio
import pyproj
import shapely

import field_zones

OUT = Path(__file__).resolve().parents[2] / "testdata" / "fields"
SEED = 8  # of the first sixty, the one whose smallest piece is the largest share of its parcel (5 %)
# Row in the source file, and what the parcel shows.
NETHERLANDS = {
    67: "two holes, one of them a ditch as a 250 m slot; 329 vertices",
    84: "narrow, one hole",
    24: "plain arable field, few vertices",
    55: "deeply concave: a comb and an L",
    21: "one side along a curved water",
    49: "three metres wide, folded three times: almost all of it is edge",
}
DENMARK = {
    53: "23 ha, the largest; a slot reaches into it",
    0: "arms a few metres wide around a yard",
    4: "hole, bays, 155 vertices",
    28: "two lobes joined by a thread; 254 vertices; ragged edge",
}


def take(path, rows, crop):
    """Geometries (bit for bit), crops and the CRS of the chosen rows."""
    info = pyogrio.read_info(path)
    meta, fids, wkb, columns = pyogrio.raw.read(path, columns=[crop])
    return [wkb[row] for row in rows], [columns[0][row] for row in rows], info["crs"]


def write(path, wkb, crops, names, crs, **options):
    pyogrio.raw.write(
        path,
        geometry=np.array(wkb, object),
        field_data=[np.array(names, object), np.array(crops, object)],
        fields=np.array(["field_id", "crop"], object),
        geometry_type="Polygon",
        crs=crs,
        **options,
    )


def same_points(path, wkb):
    """Nothing moved: ring by ring the same coordinates, up to start and direction of the ring."""
    written = shapely.from_wkb(pyogrio.raw.read(path)[2])
    for a, b in zip(written, shapely.from_wkb(np.array(wkb, object)), strict=True):
        if not shapely.equals_identical(shapely.normalize(a), shapely.normalize(b)):
            sys.exit(f"{path}: writing moved a coordinate")


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    shared = Path(sys.argv[1])
    OUT.mkdir(parents=True, exist_ok=True)
    os.environ["OGR_CURRENT_DATE"] = "2026-01-01T00:00:00.000Z"  # the same bytes every time
    chosen = []

    wkb, crops, crs = take(shared / "nl_parcels_epsg28992.gpkg", NETHERLANDS, "gewas")
    names = [f"nl-{row}" for row in NETHERLANDS]
    target = OUT / "nl_epsg28992.gpkg"
    target.unlink(missing_ok=True)
    write(target, wkb, crops, names, crs, driver="GPKG", layer="parcels")
    same_points(target, wkb)
    chosen += [(name, shape, crs) for name, shape in zip(names, wkb)]

    wkb, crops, crs = take(f"/vsizip/{shared / 'dk_fields_epsg25832.shp.zip'}", DENMARK, "Afgroede")
    names = [f"dk-{row}" for row in DENMARK]
    with tempfile.TemporaryDirectory() as loose:
        shp = Path(loose) / "dk_epsg25832.shp"
        write(shp, wkb, crops, names, crs, driver="ESRI Shapefile", encoding="UTF-8")
        same_points(shp, wkb)
        with zipfile.ZipFile(OUT / "dk_epsg25832.shp.zip", "w", zipfile.ZIP_DEFLATED) as archive:
            for part in sorted(Path(loose).iterdir()):
                archive.writestr(zipfile.ZipInfo(part.name, (2026, 1, 1, 0, 0, 0)), part.read_bytes(), zipfile.ZIP_DEFLATED)
    chosen += [(name, shape, crs) for name, shape in zip(names, wkb)]

    for number, (name, shape, crs) in enumerate(chosen):
        to_degrees = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
        degrees = field_zones.change(shapely.from_wkb(shape), to_degrees)
        for layer, pieces in field_zones.layers(degrees, [SEED, number]).items():
            text = field_zones.geojson(layer, pieces)
            (OUT / f"{name}_{layer}.geojson").write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
