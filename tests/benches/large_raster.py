#!/usr/bin/env python3
"""Peak memory and time of zones from a raster of 20 000 x 20 000 pixels: whole zones, and salt and pepper.

Makes the rasters (a few minutes, 150 MB), runs `twinsow zones` on each in a process of its own and says what it took;
fails above 512 MB.

Usage: large_raster.py TWINSOW FOLDER [SIDE]
Needs: numpy, rasterio (tests/interop/requirements.txt).
"""

import json
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import from_origin
from rasterio.windows import Window

X0, Y0, STRIP, MOST_MB = 560_000, 5_930_000, 256, 512


def raster(path, side, pixel, salt):
    rng = np.random.default_rng(1)
    x = np.arange(side, dtype="float32")[None, :]
    with rasterio.open(path, "w", driver="GTiff", width=side, height=side, count=1, dtype="uint8", nodata=0,
                       crs="EPSG:25832", transform=from_origin(X0, Y0 + side * pixel, pixel, pixel), tiled=True,
                       compress="deflate", ZLEVEL=1) as out:
        for row in range(0, side, STRIP):
            high = min(STRIP, side - row)
            if salt:
                values = rng.integers(1, 6, (high, side), dtype="uint8")
            else:
                y = np.arange(row, row + high, dtype="float32")[:, None]
                wave = 2.5 + 1.3 * np.sin(9 * x / side) + 1.3 * np.cos(7 * y / side + 5 * x / side)
                values = (1 + np.clip(np.floor(wave), 0, 4)).astype("uint8")
            out.write(values, 1, window=Window(0, row, side, high))


def job(folder, name, size):
    edge = 0.01 * size
    ring = [[X0 + edge, Y0 + edge], [X0 + size - edge, Y0 + 1.3 * edge], [X0 + size - 1.2 * edge, Y0 + size - edge],
            [X0 + 1.1 * edge, Y0 + size - 1.4 * edge], [X0 + edge, Y0 + edge]]
    (folder / f"{name}.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    (folder / f"{name}.toml").write_text(f"""
name = "{name}"
field = {{ name = "large", boundary = {{ file = "{name}.geojson", crs = "EPSG:25832" }} }}
drill = {{ working_width_m = 6, hopper = [{{ name = "front", usable_l = 1000 }}] }}
grid = {{ cell_m = 24 }}
[[layer]]
name = "classes"
source = {{ file = "{name}.tif" }}
values = {{ method = "as_they_are", smallest_zone_m2 = 20000 }}
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "front"
rate = {{ kg_per_ha = 100 }}
""")


def measured(twinsow, folder, name):
    """Runs in a child of its own, so that the peak is that of this run."""
    inner = ("import resource,subprocess,sys,time;t=time.time();"
             "r=subprocess.run(sys.argv[1:],capture_output=True,text=True);"
             "sys.stderr.write(r.stderr);"
             "print(r.returncode,time.time()-t,resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss/1024);"
             "print(*[l for l in r.stdout.splitlines() if 'surface.coarsened' in l],sep='\\n')")
    run = subprocess.run([sys.executable, "-c", inner, twinsow, "zones", folder / f"{name}.toml", "--out",
                          folder / f"{name}-zones-{time.time_ns()}"], capture_output=True, text=True)
    first, *said = run.stdout.splitlines()
    code, seconds, megabytes = first.split()
    return int(code), float(seconds), float(megabytes), said, run.stderr


twinsow, folder = sys.argv[1], Path(sys.argv[2])
side = int(sys.argv[3]) if len(sys.argv) > 3 else 20_000
folder.mkdir(parents=True, exist_ok=True)
bad = False
for name, salt in (("whole", False), ("salt", True)):
    if not (folder / f"{name}.tif").exists():
        raster(folder / f"{name}.tif", side, 4_000 / side, salt)
    job(folder, name, 4_000)
    code, seconds, megabytes, said, errors = measured(twinsow, folder, name)
    bad |= code > 1 or megabytes > MOST_MB
    print(f"{side} x {side}, {name}: exit {code}, {seconds:.0f} s, {megabytes:.0f} MB", *said, errors, sep="\n  ")
sys.exit(f"more than {MOST_MB} MB, or a failure" if bad else 0)
