#!/usr/bin/env python3
"""Plans three real parcels of testdata/fields, with the made layers beside them, and prints the folders of the plans.

Usage: report_parcels.py PROGRAM FIELDS FOLDER
"""

import subprocess
import sys
from pathlib import Path

from all_fields import JOB, NEED, SOIL

PARCELS = [("nl-21", "nl_epsg28992.gpkg"), ("nl-84", "nl_epsg28992.gpkg"), ("dk-4", "dk_epsg25832.shp.zip")]


def main():
    program, fields, folder = sys.argv[1], Path(sys.argv[2]).resolve(), Path(sys.argv[3])
    folder.mkdir(parents=True, exist_ok=True)
    toml = lambda rates: "{ " + ", ".join(f"{k} = {v}.0" for k, v in rates.items()) + " }"
    for name, file in PARCELS:
        text = JOB.format(name=name, file=fields / file, soil=toml(SOIL), need=toml(NEED))
        text = text.replace(f'"{name}_', f'"{fields}/{name}_')
        job = folder / f"{name}.toml"
        job.write_text(text, encoding="utf-8")
        made = subprocess.run([program, "plan", job], capture_output=True, text=True)
        if made.returncode not in (0, 1):
            sys.exit(f"{name}: {made.stderr}")
        print(folder / f"{name}-plan")


if __name__ == "__main__":
    main()
