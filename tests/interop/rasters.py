#!/usr/bin/env python3
"""GDAL writes rasters in every compression it has; what is read of them is compared pixel by pixel.

One polygon per pixel, so that `twinsow zones` gives the value of each pixel in zonal.csv. What is not read has to be
refused in words that name the compression and say what to do. Scale and offset have to be applied.

Usage: rasters.py TWINSOW FOLDER
"""

import csv
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin

CRS, X0, Y0, ROWS, COLUMNS = "EPSG:32631", 467_000, 6_072_000, 16, 17
VALUES = 7 * np.arange(ROWS)[:, None] + np.arange(COLUMNS)[None, :]
HOLE = (2, 3)
FLOAT, BYTE = dict(dtype="float32", nodata=-9999), dict(dtype="uint8", nodata=255)
READ = {
    "none": dict(FLOAT),
    "lzw": dict(FLOAT, compress="lzw", predictor=3),
    "deflate": dict(FLOAT, compress="deflate", predictor=3),
    "packbits": dict(BYTE, compress="packbits"),
    "zstd": dict(FLOAT, compress="zstd", predictor=3),
    "zstd_tiles": dict(dtype="int16", nodata=-9999, compress="zstd", predictor=2, tiled=True, blockxsize=16, blockysize=16),
    # Lossy: a grey that GDAL itself does not give back exactly.
    "jpeg": dict(dtype="uint8", nodata=None, compress="jpeg", JPEG_QUALITY=100),
    "scaled": dict(dtype="int16", nodata=-9999, compress="deflate"),
    "sparse": dict(FLOAT, compress="deflate", SPARSE_OK=True),
}
REFUSED = {
    "lzma": ("LZMA", dict(FLOAT, compress="lzma")),
    "lerc": ("LERC", dict(FLOAT, compress="lerc")),
    "lerc_deflate": ("LERC", dict(FLOAT, compress="lerc_deflate")),
    "lerc_zstd": ("LERC", dict(FLOAT, compress="lerc_zstd")),
    "webp": ("WebP", dict(dtype="uint8", count=3, compress="webp", WEBP_LOSSLESS=True, interleave="pixel", nodata=None)),
}


def written(folder, name, options):
    profile = dict(driver="GTiff", width=COLUMNS, height=ROWS, count=1, crs=CRS, transform=from_origin(X0, Y0, 10, 10))
    profile.update(options)
    path = folder / f"{name}.tif"
    with rasterio.open(path, "w", **profile) as out:
        for band in range(1, profile["count"] + 1):
            values = VALUES.astype(profile["dtype"])
            if profile["nodata"] is not None:
                values[HOLE] = profile["nodata"]
            out.write(values, band)
        if name == "scaled":
            out.scales, out.offsets = (0.25,), (-40.5,)
    with rasterio.open(path) as back:
        values = np.where(back.read_masks(1) == 0, np.nan, back.read(1).astype(float))
        return values * back.scales[0] + back.offsets[0]


def polygons():
    features = []
    for row in range(ROWS):
        for column in range(COLUMNS):
            west, south = X0 + 10 * column, Y0 - 10 * (row + 1)
            ring = [(west, south), (west + 10, south), (west + 10, south + 10), (west, south + 10), (west, south)]
            features.append({"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}})
    return {"type": "FeatureCollection", "features": features}


def job(folder, name):
    (folder / f"{name}.toml").write_text(f"""
name = "raster"
field = {{ name = "raster", boundary = {{ file = "field.geojson", crs = "{CRS}" }} }}
drill = {{ working_width_m = 6, hopper = [{{ name = "front", usable_l = 1000 }}] }}
[[layer]]
name = "values"
source = {{ file = "pixels.geojson", crs = "{CRS}" }}
zonal = {{ source = {{ file = "{name}.tif" }}, value = "mean", decimals = 6 }}
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "front"
rate = {{ kg_per_ha = 100 }}
""")


def run(twinsow, folder, name):
    job(folder, name)
    return subprocess.run([twinsow, "zones", folder / f"{name}.toml", "--out", folder / f"{name}-zones"],
                          capture_output=True, text=True)


def differences(folder, name, wanted):
    rows = list(csv.DictReader((folder / f"{name}-zones/zonal.csv").open()))
    own = np.full(ROWS * COLUMNS, np.nan)
    for row in rows:
        own[int(row["feature"]) - 1] = float(row["mean"] or "nan")
    most = 1 if name == "jpeg" else 1e-5
    same = np.isclose(own, wanted.ravel(), rtol=0, atol=most, equal_nan=True)
    return int((~same).sum())


twinsow, folder = sys.argv[1], Path(sys.argv[2])
folder.mkdir(parents=True, exist_ok=True)
ring = [(X0, Y0), (X0 + 10 * COLUMNS, Y0), (X0 + 10 * COLUMNS, Y0 - 10 * ROWS), (X0, Y0 - 10 * ROWS), (X0, Y0)]
(folder / "field.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
(folder / "pixels.geojson").write_text(json.dumps(polygons()))
odd, kept = [], {}
for name, options in READ.items():
    kept[name] = written(folder, name, options)
    result = run(twinsow, folder, name)
    if result.returncode > 1:
        odd.append(f"{name}: {result.stderr}")
    elif differences(folder, name, kept[name]):
        odd.append(f"{name}: {differences(folder, name, kept[name])} pixels differ from what GDAL reads")
for name, (word, options) in REFUSED.items():
    written(folder, name, options)
    for command in (["describe", folder / f"{name}.tif"], None):
        result = run(twinsow, folder, name) if command is None else subprocess.run(
            [twinsow, *command], capture_output=True, text=True)
        if result.returncode != 2 or word not in result.stderr or "DEFLATE" not in result.stderr:
            odd.append(f"{name}: not refused in words that help: {result.returncode} {result.stderr}")
if odd:
    sys.exit("\n".join(odd))
if not differences(folder, "zstd", kept["zstd"] + 1e-3):
    sys.exit("values that are off by a thousandth make no difference: this check cannot fail")
print(f"{len(READ)} rasters of GDAL {rasterio.__gdal_version__} read as it reads them, {len(REFUSED)} compressions refused by name")
