#!/usr/bin/env python3
"""Peak memory and time of a harvest of a million yield points, read and cleaned.

Makes a field of 2 km x 2 km with passes of 9 m and a reading every 0.44 m (a CSV of 45 MB), plans it and runs `twinsow harvest` in a
process of its own; says what it took, and fails above 10 s or 500 MB.

Usage: large_harvest.py TWINSOW FOLDER [POINTS]
"""

import json
import math
import os
import random
import subprocess
import sys
import time
from pathlib import Path

X0, Y0, SIDE, WIDE, STEP = 560_000, 5_930_000, 2_000.0, 9.0, 0.44
MOST_S, MOST_MB = 10.0, 500


def job(folder):
    ring = [[X0, Y0], [X0 + SIDE, Y0], [X0 + SIDE, Y0 + SIDE], [X0, Y0 + SIDE], [X0, Y0]]
    (folder / "field.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    (folder / "job.toml").write_text("""
name = "large"
field = { name = "large", boundary = { file = "field.geojson", crs = "EPSG:25832" } }
drill = { working_width_m = 6, hopper = [{ name = "front", usable_l = 1000 }] }
grid = { cell_m = 24 }
[[product]]
id = "wheat"
name = "wheat"
kind = "seed"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
rate.kg_per_ha = 150
""")


def points(path, wanted):
    rng = random.Random(1)
    left = wanted
    with path.open("w") as out:
        out.write("easting,northing,yield,moisture,seconds\n")
        seconds = 0.0
        nth = 0
        while left > 0 and (nth + 0.5) * WIDE < SIDE:
            x = X0 + (nth + 0.5) * WIDE
            steps = int((SIDE - 4) / STEP)
            for step in range(min(steps, left)):
                along = 2 + step * STEP
                y = Y0 + (along if nth % 2 == 0 else SIDE - along)
                value = 8.0 + math.sin(x / 310) * math.cos(y / 430) + rng.gauss(0, 0.4)
                out.write(f"{x:.2f},{y:.2f},{value:.3f},{14.5 + rng.gauss(0, 0.3):.2f},{seconds:.2f}\n")
                seconds += 0.25
            left -= min(steps, left)
            seconds += 20
            nth += 1
    return wanted - left


def main():
    twinsow, folder = Path(sys.argv[1]).resolve(), Path(sys.argv[2])
    wanted = int(sys.argv[3]) if len(sys.argv) > 3 else 1_000_000
    folder.mkdir(parents=True, exist_ok=True)
    job(folder)
    made = points(folder / "yield.csv", wanted)
    subprocess.run([twinsow, "plan", "job.toml", "--out", "plan", "--only", "geopackage"], cwd=folder, check=False,
                   capture_output=True)
    start = time.monotonic()
    command = [twinsow, "harvest", "plan", "yield.csv", "--crs", "EPSG:25832", "--column", "yield=yield:t/ha", "--column",
               "moisture=moisture", "--column", "time=seconds", "--width", str(WIDE), "--yield-at", "14.5",
               "--moisture-basis", "14.5", "--out", "harvest"]
    process = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    took = time.monotonic() - start
    megabytes = usage.ru_maxrss / 1024
    print(f"{made} points: {took:.1f} s, {megabytes:.0f} MB, exit {os.waitstatus_to_exitcode(status)}")
    sys.exit(0 if os.waitstatus_to_exitcode(status) < 2 and took <= MOST_S and megabytes <= MOST_MB else 1)


if __name__ == "__main__":
    main()
