#!/usr/bin/env python3
"""The binary alone: copied to an empty folder, the build folder out of reach, and nothing to lean on.

PROJ_DATA and PROJ_LIB name a folder with a broken proj.db, HOME is empty, the working folder is empty. Coordinate
systems must then still work, from the database inside the binary. One job per CRS: a square of 200 m around a
point. Where it is and how large, in degrees and on the ellipsoid, was worked out once with pyproj 3.7.2 (PROJ 9.5.1):
Transformer.from_crs(crs, 4326) and Geod("WGS84").

Usage: alone.py PROGRAM [BUILD_FOLDER]     (the build folder is renamed while the check runs)
Needs nothing but Python.
"""

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

# CRS, centre in it, centre in degrees, geodesic area of the square in m2.
SQUARES = [
    ("EPSG:28992", (155000, 463000), (5.3872035084, 52.1551723012), 40007.151536638),
    ("EPSG:25832", (560000, 6250000), (9.9718825346, 56.3908019863), 40028.483153130),
    ("EPSG:2193", (1570000, 5180000), (172.6287183595, -43.5323403824), 40031.132541400),
    ("EPSG:3067", (385000, 6675000), (24.9257600743, 60.1955853971), 40019.041566748),
]
JOB = """
name = "alone"
[field]
name = "square"
boundary = {{ file = "square.geojson", crs = "{crs}" }}
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1000.0
[[product]]
id = "seed"
crop = "wheat"
name = "Seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = 150.0 }}
"""


def plan(program, folder, crs, centre):
    """Plans the square in `folder`, with an environment of nothing but traps; gives plan.json."""
    x, y = centre
    ring = [[x - 100, y - 100], [x + 100, y - 100], [x + 100, y + 100], [x - 100, y + 100], [x - 100, y - 100]]
    feature = {"type": "Feature", "properties": {}, "geometry": {"type": "Polygon", "coordinates": [ring]}}
    (folder / "square.geojson").write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    (folder / "job.toml").write_text(JOB.format(crs=crs))
    trap = folder / "trap"
    trap.mkdir()
    (trap / "proj.db").write_bytes(b"this is no database")
    (folder / "proj.db").write_bytes(b"nor is this")
    environment = {"PATH": "", "HOME": str(trap), "PROJ_DATA": str(trap), "PROJ_LIB": str(trap), "PROJ_NETWORK": "OFF"}
    run = subprocess.run([program, "plan", "job.toml"], cwd=folder, env=environment, capture_output=True, text=True)
    if run.returncode not in (0, 1):
        sys.exit(f"alone.py: {crs}: exit code {run.returncode}\n{run.stdout}\n{run.stderr}")
    return json.loads((folder / "job-plan" / "plan.json").read_text(encoding="utf-8"))


def main():
    if len(sys.argv) not in (2, 3):
        sys.exit(__doc__)
    build = Path(sys.argv[2]).resolve() if len(sys.argv) == 3 else None
    broken = []
    with tempfile.TemporaryDirectory() as temporary:
        program = Path(temporary) / "bin" / Path(sys.argv[1]).name
        program.parent.mkdir()
        shutil.copy2(sys.argv[1], program)
        away = build.with_name(f"{build.name}-out-of-reach-{os.getpid()}") if build else None
        if build:
            build.rename(away)
        try:
            for crs, centre, degrees, area in SQUARES:
                folder = Path(temporary) / crs.replace(":", "")
                folder.mkdir()
                result = plan(program, folder, crs, centre)
                mapped, origin = result["tally"]["mapped_m2"], result["frame"]["origin_lon_lat"]
                if abs(mapped / area - 1) > 1e-6:
                    broken.append(f"{crs}: {mapped} m2, wanted {area} m2")
                # 2e-5 degrees are 2 m: another transformation of the same CRS may be as good, a missing one is not.
                if max(abs(a - b) for a, b in zip(origin, degrees)) > 2e-5:
                    broken.append(f"{crs}: centre {origin}, wanted {degrees}")
        finally:
            if build:
                away.rename(build)
    for text in broken:
        print(f"alone.py: BROKEN: {text}")
    print(f"alone.py: {len(SQUARES) - len(broken)} of {len(SQUARES)} coordinate systems work from the binary alone")
    sys.exit(1 if broken else 0)


main()
