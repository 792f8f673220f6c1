#!/usr/bin/env python3
"""Draws the input files of examples/three-inputs: soil polygons, phosphate samples, a yield raster.

Everything is invented; the place is open water over the Dogger Bank. Samples lie one to a hectare, as advice
for soil sampling has it. The same seed gives the same bytes.

Usage: three_inputs.py            writes examples/three-inputs
       three_inputs.py --check    compares with what is there, writes nothing
Needs: numpy, pyproj (tests/interop/requirements.txt).
"""

import json
import sys
from pathlib import Path

import numpy as np
import pyproj

SEED = 20260412
FOLDER = Path(__file__).resolve().parents[2] / "examples/three-inputs"
TO_DEGREES = pyproj.Transformer.from_crs("EPSG:32631", "EPSG:4326", always_xy=True)
X0, Y0 = 468_000, 6_073_000
FIELD = [(0, 0), (560, 24), (540, 410), (250, 432), (12, 380), (0, 0)]
# Two winding lines from south to north cut the field into sand, loam and clay; a third cuts across.
WEST = [(180, -40), (165, 60), (190, 150), (172, 260), (200, 350), (188, 480)]
EAST = [(390, -40), (405, 90), (372, 200), (398, 300), (380, 480)]
OUTER = {"west": -40, "east": 600, "south": -40, "north": 480}


def degrees(ring):
    return [[round(v, 7) for v in TO_DEGREES.transform(X0 + x, Y0 + y)] for x, y in ring]


def polygons(properties, rings):
    lines = [json.dumps({"type": "Feature", "properties": own,
                         "geometry": {"type": "Polygon", "coordinates": [degrees(ring)]}})
             for own, ring in zip(properties, rings)]
    return '{"type": "FeatureCollection", "features": [\n' + ",\n".join(lines) + "\n]}\n"


def soil():
    west = [(OUTER["west"], -40), *WEST, (OUTER["west"], 480), (OUTER["west"], -40)]
    middle = [*WEST, *reversed(EAST), WEST[0]]
    # The eastern part in two: a knoll of sand in the north.
    cut = EAST.index((372, 200))
    south = [*EAST[:cut + 1], (600, 230), (600, -40), EAST[0]]
    north = [*EAST[cut:], (600, 480), (600, 230), EAST[cut]]
    names = ["sandy loam", "loam", "clay", "sandy loam"]
    return polygons([{"soil": name} for name in names], [west, middle, south, north])


def phosphate(rng):
    lines = ["sample;easting;northing;P mg/l"]
    for row in range(4):
        for column in range(6):
            x, y = 45 + 94 * column + rng.uniform(-12, 12), 55 + 95 * row + rng.uniform(-12, 12)
            value = 7 + 22 * (x / 560) + 5 * np.sin(y / 120) + rng.normal(0, 1.2)
            value = f"{max(value, 3):.1f}".replace(".", ",")
            lines.append(f"{row * 6 + column + 1};{X0 + x:.0f};{Y0 + y:.0f};{value}")
    return "\n".join(lines) + "\n"


def harvest(rng):
    """Rows from north to south; no value in a strip along the western edge, where the header was not full."""
    cell, columns, rows = 20, 31, 25
    lines = [f"ncols {columns}", f"nrows {rows}", f"xllcorner {X0 - 20}", f"yllcorner {Y0 - 40}", f"cellsize {cell}",
             "NODATA_value -9999"]
    for row in range(rows):
        y = -40 + cell * (rows - row - 0.5)
        line = []
        for column in range(columns):
            x = -20 + cell * (column + 0.5)
            value = 5.2 + 2.4 * np.exp(-((x - 290) / 170) ** 2) + 0.4 * np.cos(y / 90) + rng.normal(0, 0.25)
            line.append("-9999" if x < 20 else f"{value:.2f}")
        lines.append(" ".join(line))
    return "\n".join(lines) + "\n"


def made():
    rng = np.random.default_rng(SEED)
    return {
        "boundary.geojson": polygons([{"field": "Gull Bank", "farm": "Low Dogger Farm (invented)"}], [FIELD]),
        "soil.geojson": soil(),
        "phosphate.csv": phosphate(rng),
        "yield.asc": harvest(rng),
        "yield.prj": pyproj.CRS("EPSG:32631").to_wkt("WKT1_ESRI") + "\n",
    }


files = made()
if "--check" in sys.argv:
    odd = [name for name, text in files.items() if (FOLDER / name).read_text() != text]
    sys.exit(f"three_inputs.py gives other files than {FOLDER.name} has: {odd}" if odd else 0)
for name, text in files.items():
    (FOLDER / name).write_text(text)
