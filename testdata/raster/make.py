#!/usr/bin/env python3
"""Writes the small rasters in this folder with GDAL (through rasterio), and what they hold.

The same 24 x 18 values every time: v = 7 * row + column, no value at (2, 3). Another program reads
each file back, and what it reads goes to expected.json. Needs: rasterio, numpy.
Usage: make.py [folder]
"""

import json
import sys
from pathlib import Path

import numpy as np
import rasterio
import rasterio.shutil
from rasterio.transform import Affine

OUT = Path(sys.argv[1] if len(sys.argv) > 1 else Path(__file__).parent)
ROWS, COLUMNS = 18, 24
VALUES = 7 * np.arange(ROWS)[:, None] + np.arange(COLUMNS)[None, :]
HOLE = (2, 3)
# 10 m pixels in the North Sea, UTM zone 31 (no field lies there).
UTM = Affine(10, 0, 467_000, 0, -10, 6_072_000)
DEGREES = Affine(1e-4, 0, 2.5, 0, -1e-4, 54.8)

FILES = {
    "none_striped_u8": dict(dtype="uint8", nodata=255),
    "deflate_striped_i16": dict(dtype="int16", nodata=-9999, compress="deflate"),
    "deflate_p2_tiled_i32": dict(dtype="int32", nodata=-1, compress="deflate", predictor=2, tiled=True),
    "deflate_p3_tiled_f32": dict(dtype="float32", nodata=-3.4028234663852886e38, compress="deflate", predictor=3, tiled=True),
    "lzw_striped_u16": dict(dtype="uint16", nodata=65535, compress="lzw", blockysize=5),
    "lzw_p2_tiled_u16": dict(dtype="uint16", nodata=65535, compress="lzw", predictor=2, tiled=True),
    "packbits_striped_u8": dict(dtype="uint8", nodata=255, compress="packbits"),
    "none_tiled_f64_nan": dict(dtype="float64", nodata=float("nan"), tiled=True),
    "big_deflate_u32": dict(dtype="uint32", nodata=0xFFFFFFFF, compress="deflate", BIGTIFF="YES"),
    "big_endian_i16": dict(dtype="int16", nodata=-9999, ENDIANNESS="BIG"),
    "bands_pixel_f32": dict(dtype="float32", nodata=-9999, count=3, compress="deflate", interleave="pixel"),
    "bands_band_tiled_i16": dict(dtype="int16", nodata=-9999, count=3, compress="lzw", interleave="band", tiled=True),
    "degrees_f32": dict(dtype="float32", nodata=-9999, crs="EPSG:4326", transform=DEGREES, compress="deflate"),
    "zstd_f32": dict(dtype="float32", nodata=-9999, compress="zstd"),
    "rotated_i16": dict(dtype="int16", nodata=-9999, transform=UTM * Affine.rotation(10)),
}


def main():
    expected = {"made_by": f"rasterio {rasterio.__version__}, GDAL {rasterio.__gdal_version__}", "files": {}}
    for name, options in FILES.items():
        profile = dict(driver="GTiff", width=COLUMNS, height=ROWS, count=1, crs="EPSG:32631", transform=UTM)
        profile.update(options)
        if profile.get("tiled"):
            profile.update(blockxsize=16, blockysize=16)
        path = OUT / f"{name}.tif"
        with rasterio.open(path, "w", **profile) as file:
            for band in range(1, profile["count"] + 1):
                values = (VALUES + 100 * (band - 1)).astype(profile["dtype"])
                values[HOLE] = profile["nodata"]
                file.write(values, band)
    # Pixel is point: the same land, its tie point in the middle of the pixel.
    with rasterio.Env(GTIFF_POINT_GEO_IGNORE=False):
        with rasterio.open(OUT / "point_i16.tif", "w", driver="GTiff", width=COLUMNS, height=ROWS, count=1,
                           dtype="int16", nodata=-9999, crs="EPSG:32631", transform=UTM) as file:
            file.update_tags(AREA_OR_POINT="Point")
            values = VALUES.astype("int16")
            values[HOLE] = -9999
            file.write(values, 1)
    # AAIGrid can only copy.
    with rasterio.open(OUT / "deflate_striped_i16.tif") as source:
        rasterio.shutil.copy(source, OUT / "grid.asc", driver="AAIGrid")
    for left_over in OUT.glob("*.aux.xml"):
        left_over.unlink()
    for path in sorted([*OUT.glob("*.tif"), *OUT.glob("*.asc")]):
        with rasterio.open(path) as file:
            bands = [np.where(file.read_masks(n) == 0, np.nan, file.read(n).astype(float)) for n in file.indexes]
            expected["files"][path.name] = {
                "crs": file.crs.to_string(),
                "transform": list(file.transform)[:6],
                "bands": [[None if np.isnan(v) else v for v in band.ravel()] for band in bands],
            }
    text = json.dumps(expected, separators=(",", ":")).replace('},"', '},\n"').replace("],[", "],\n[")
    (OUT / "expected.json").write_text(text + "\n")


main()
