#!/usr/bin/env python3
"""Plans real parcels of testdata/fields with drives of every kind, and prints the folders of the plans for drive.py.

Straight bouts and bouts along a curve (an arc across the parcel, made here), the headland first and last, one section and
several, closed rows, a third product with a unit of its own, and each of the three things that a drill does with the flow to shut outlets.

Usage: drive_parcels.py PROGRAM FIELDS FOLDER
"""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyogrio
import pyproj
import shapely
from all_fields import JOB, NEED, SOIL

NL, DK = "nl_epsg28992.gpkg", "dk_epsg25832.shp.zip"
ROWS = "row_spacing_m = 0.125\nrows = 24\nsections_m = [1.0, 0.75, 1.25]\n"
TRAMLINE = "[tramline]\nsprayer_width_m = 12\ntrack_width_m = 1.8\ntyre_width_m = 0.3\n"
# A third product that a unit of its own spreads, 4 m wide behind a drill of 3 m.
THIRD = """[[product]]
id = "pellets"
name = "Pellets"
kind = "fertiliser"
hopper = "box"
surface_applied = true
bulk_density_kg_per_l = 0.7
rate = { kg_per_ha = 6.0 }
"""
BOX = '[[drill.hopper]]\nname = "box"\nusable_l = 150.0\nspreads_width_m = 4.0\n[[drill.hopper]]\nname = "front"'
# Parcel, its file, more of [drill], more of [drive], more tables.
DRIVES = [
    ("nl-24", NL, ROWS + 'shut_flow = "redistributed"\n', "", TRAMLINE + THIRD),
    ("nl-21", NL, ROWS + 'shut_flow = "returned"\n', 'along = { file = "{arc}" }\n', TRAMLINE),
    ("nl-67", NL, "sections_m = [1.5, 1.5]\n", 'along = { file = "{arc}" }\nheadland = "last"\n', ""),
    ("dk-4", DK, ROWS, 'switch_rule = "half_in"\nheadland = "last"\n', TRAMLINE),
]


def arc(fields, file, name, path):
    """A line that bends by 40 degrees across the box of a parcel, in WGS 84."""
    source = f"/vsizip/{fields / file}" if file.endswith(".zip") else fields / file
    meta, _, geometry, (ids,) = pyogrio.raw.read(source, columns=["field_id"])
    shape = shapely.from_wkb(geometry[list(ids).index(name)])
    west, south, east, north = shape.bounds
    radius = 1.5 * max(east - west, north - south)
    angle = np.radians(np.linspace(-20, 20, 21))
    middle = np.array([(west + east) / 2, (south + north) / 2 - radius])
    points = middle + radius * np.column_stack([np.sin(angle), np.cos(angle)])
    to_degrees = pyproj.Transformer.from_crs(meta["crs"], 4326, always_xy=True)
    lon, lat = to_degrees.transform(*points.T)
    line = {"type": "Feature", "properties": {}, "geometry": {"type": "LineString", "coordinates": np.column_stack([lon, lat]).tolist()}}
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [line]}), encoding="utf-8")


def main():
    program, fields, folder = sys.argv[1], Path(sys.argv[2]).resolve(), Path(sys.argv[3]).resolve()
    folder.mkdir(parents=True, exist_ok=True)
    toml = lambda rates: "{ " + ", ".join(f"{k} = {v}.0" for k, v in rates.items()) + " }"
    for name, file, drill, drive, more in DRIVES:
        curve = folder / f"{name}-arc.geojson"
        arc(fields, file, name, curve)
        text = JOB.format(name=name, file=fields / file, soil=toml(SOIL), need=toml(NEED))
        text = text.replace(f'"{name}_', f'"{fields}/{name}_')
        text = text.replace("working_width_m = 3.0\n", "working_width_m = 3.0\n" + drill)
        text = text.replace("[drive]\n", "[drive]\n" + drive.replace("{arc}", str(curve))) + more
        if THIRD in more:
            text = text.replace('[[drill.hopper]]\nname = "front"', BOX)
        job = folder / f"{name}.toml"
        job.write_text(text, encoding="utf-8")
        made = subprocess.run([program, "plan", job], capture_output=True, text=True)
        if made.returncode not in (0, 1):
            sys.exit(f"{name}: {made.stdout}{made.stderr}")
        print(folder / f"{name}-plan")


if __name__ == "__main__":
    main()
