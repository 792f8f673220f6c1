#!/usr/bin/env python3
"""Shows that the checks can fail: spoils copies of a delivered folder, one thing each, and runs the check on it.

Usage: spoil.py --inputs FOLDER_OF_THE_JOB_FILE FOLDER
"""

import json
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import rasterio

HERE = Path(__file__).resolve().parent


def edit_json(path, change):
    data = json.loads(path.read_text(encoding="utf-8"))
    change(data)
    path.write_text(json.dumps(data), encoding="utf-8")


def edit_sql(path, *statements):
    database = sqlite3.connect(path)
    # Functions of a GIS that the triggers of the index call; no statement here changes a geometry.
    for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
        database.create_function(name, 1, lambda geometry: 0)
    for statement in statements:
        database.execute(statement)
    database.commit()
    database.close()


def edit_tiff(path, change):
    with rasterio.open(path) as source:
        profile, bands, names = source.profile, source.read(), source.descriptions
    profile, bands = change(profile, bands)
    with rasterio.open(path, "w", **profile) as target:
        target.write(bands)
        for number, name in enumerate(names, 1):
            target.set_band_description(number, name or "")


def edit_text(path, pattern, new):
    text = path.read_text(encoding="utf-8")
    changed, count = re.subn(pattern, new, text, count=1)
    if count != 1:
        sys.exit(f"spoil.py: {pattern!r} is not in {path}")
    path.write_text(changed, encoding="utf-8")


def edit_cells(folder, change):
    xml = (folder / "TASKDATA.XML").read_text(encoding="utf-8")
    grid = re.search(r"<GRD [^>]*>", xml).group(0)
    columns, rows = (int(re.search(rf' {a}="(\d+)"', grid).group(1)) for a in "EF")
    binary = next(folder.glob("GRD*"))
    cells = np.frombuffer(binary.read_bytes(), "<i4").reshape(rows, columns, -1).copy()
    binary.write_bytes(change(cells).astype("<i4").tobytes())


def without(path, ending):
    with zipfile.ZipFile(path) as old:
        kept = [(n, old.read(n)) for n in old.namelist() if not n.endswith(ending)]
    with zipfile.ZipFile(path, "w") as new:
        for name, data in kept:
            new.writestr(name, data)


def reverse_ring(data):
    data["features"][0]["geometry"]["coordinates"][0][0].reverse()


def more(data):
    properties = data["features"][0]["properties"]
    key = next(k for k in properties if k.endswith("_kg_ha"))
    properties[key] += 0.5


def fill_a_strip(profile, bands):
    # Wherever the last product is off although another goes on: let it run.
    off = (bands[-2] == 0) & (bands[0] > 0)
    bands[-2][off] = 50
    return profile, bands


def shifted(profile, bands):
    profile["transform"] = profile["transform"] @ rasterio.Affine.translation(0.5, 0)
    return profile, bands


def fill_the_grid(cells):
    cells[..., -1][(cells[..., -1] == 0) & (cells[..., 0] > 0)] = 5000
    return cells


GIS, DRIVE, TASK, STRIP, FORMS = "gis.py", "drive.py", "taskdata_py.py", "setbacks.py", "taskdata_forms.py"
OLDER, NUMBERS = "terminal/fallback/task-data-3.3/TASKDATA", "terminal/fallback/task-data-4.3-zone-numbers/TASKDATA"
SPOILT = [
    (GIS, "GeoJSON ring the wrong way round", lambda f: edit_json(f / "gis/rates.geojson", reverse_ring)),
    (GIS, "GeoJSON rate half a kilogram higher", lambda f: edit_json(f / "gis/rates.geojson", more)),
    (GIS, "GeoJSON without its last zone", lambda f: edit_json(f / "gis/rates.geojson", lambda d: d["features"].pop())),
    (GIS, "GeoPackage without application id", lambda f: edit_sql(f / "gis/rates.gpkg", "PRAGMA application_id = 0")),
    (GIS, "GeoPackage index short of a row", lambda f: edit_sql(f / "gis/rates.gpkg", "DELETE FROM rtree_rates_geom WHERE id = 1")),
    (GIS, "GeoPackage with a wrong extent", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE gpkg_contents SET min_x = min_x - 1")),
    (GIS, "GeoPackage with a colour less", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE layer_styles SET styleQML = replace(styleQML, '<category symbol=\"1\"', '<none')")),
    (GIS, "GeoPackage with kilograms of another zone", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE rates SET barley_kg = barley_kg + 1 WHERE fid = 1")),
    (GIS, "GeoPackage without a unit", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE gpkg_data_columns SET title = 'Barley' WHERE column_name = 'barley_kg_ha'")),
    (GIS, "metadata of another place", lambda f: edit_text(f / "gis/metadata.xml", r"(<gmd:westBoundLongitude><gco:Decimal>)", r"\g<1>1")),
    (GIS, "GeoTIFF of one product upside down", lambda f: edit_tiff(f / "gis/rates-barley.tif", lambda p, b: (p, b[:, ::-1]))),
    (GIS, "Shapefile without its code page", lambda f: without(f / "gis/rates.shp.zip", ".cpg")),
    (GIS, "KML with two colours of one rate", lambda f: edit_text(f / "gis/rates.kml", "#product-1-", "#product-2-")),
    (GIS, "KML with another rate", lambda f: edit_text(f / "gis/rates.kml", r'(name="barley_kg_ha">)\d', r"\g<1>9")),
    (GIS, "GeoTIFF upside down", lambda f: edit_tiff(f / "gis/rates.tif", lambda p, b: (p, b[:, ::-1]))),
    (GIS, "GeoTIFF half a cell to the east", lambda f: edit_tiff(f / "gis/rates.tif", shifted)),
    (GIS, "GeoTIFF with its products swapped", lambda f: edit_tiff(f / "gis/rates.tif", lambda p, b: (p, b[[1, 0, *range(2, len(b))]]))),
    (GIS, "GeoTIFF of the balance upside down", lambda f: edit_tiff(f / "gis/balance.tif", lambda p, b: (p, b[:, ::-1]))),
    (GIS, "GeoPackage without a zone of the balance", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE balance SET starter_balance_kg_ha = 0")),
    (STRIP, "GeoTIFF with product in the strip", lambda f: edit_tiff(f / "gis/rates.tif", fill_a_strip)),
    (DRIVE, "bouts with a kilogram more", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE bouts SET barley_kg = barley_kg + 1 WHERE bout = 9")),
    (DRIVE, "a section that stays on for ten metres more", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE sections SET on_to_m = on_to_m + 10 WHERE bout = 20")),
    (DRIVE, "tramline rows short of one", lambda f: edit_sql(f / "gis/rates.gpkg", "DELETE FROM tramline_rows WHERE fid = 1")),
    (DRIVE, "a refill of a hundred kilograms less", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE refills SET barley_fill_kg = barley_fill_kg - 100 WHERE stop = 2")),
    (DRIVE, "difference map with another rate", lambda f: edit_sql(f / "gis/rates.gpkg", "UPDATE difference SET barley_sown_kg_ha = barley_sown_kg_ha + 1 WHERE passes = 1")),
    (DRIVE, "GeoJSON of the refills without its last", lambda f: edit_json(f / "gis/refills.geojson", lambda d: d["features"].pop())),
    (TASK, "grid upside down", lambda f: edit_cells(f / "terminal/TASKDATA", lambda c: c[::-1])),
    (TASK, "grid with its products swapped", lambda f: edit_cells(f / "terminal/TASKDATA", lambda c: c[..., ::-1])),
    (TASK, "grid with product after product instead of interleaved", lambda f: edit_cells(f / "terminal/TASKDATA", lambda c: np.moveaxis(c, 2, 0))),
    (TASK, "grid one cell to the north", lambda f: edit_cells(f / "terminal/TASKDATA", lambda c: np.roll(c, 1, axis=0))),
    (TASK, "rates ten times too small on the display", lambda f: edit_text(f / "terminal/TASKDATA/TASKDATA.XML", r'(<VPN [^>]*C=")0\.010*"', r'\g<1>0.001"')),
    (TASK, "default zone that is not there", lambda f: edit_text(f / "terminal/TASKDATA/TASKDATA.XML", r'(<TSK [^>]*H=")\d+"', r'\g<1>77"')),
    (TASK, "wrong length attribute", lambda f: edit_text(f / "terminal/TASKDATA/TASKDATA.XML", r'(<GRD [^>]*H=")\d+"', r'\g<1>8"')),
    (FORMS, "version 3.3 upside down", lambda f: edit_cells(f / OLDER, lambda c: c[::-1])),
    (FORMS, "version 3.3 with its products swapped", lambda f: edit_cells(f / OLDER, lambda c: c[..., ::-1])),
    (FORMS, "zone numbers with another rate", lambda f: edit_text(f / NUMBERS / "TASKDATA.XML", r'(<TZN A="6"[^>]*>\s*<PDV [^>]*B=")\d+"', r'\g<1>77"')),
    (STRIP, "terminal cells with product in the strip", lambda f: edit_cells(f / "terminal/TASKDATA", fill_the_grid)),
]


def main():
    if len(sys.argv) != 4 or sys.argv[1] != "--inputs":
        sys.exit(__doc__)
    inputs, folder = Path(sys.argv[2]).resolve(), Path(sys.argv[3])
    unseen = []
    with tempfile.TemporaryDirectory() as temporary:
        for number, (script, what, spoil) in enumerate(SPOILT):
            copy = Path(temporary) / str(number)
            shutil.copytree(folder, copy)
            spoil(copy)
            extra = ["--inputs", str(inputs)] if script == STRIP else []
            result = subprocess.run([sys.executable, HERE / script, *extra, copy], capture_output=True, text=True)
            seen = result.returncode == 1 and "BROKEN" in result.stdout
            if not seen:
                unseen.append(what)
                print(f"spoil.py: {script} did not see: {what}\n{result.stdout}{result.stderr}")
    print(f"spoil.py: {len(SPOILT) - len(unseen)} of {len(SPOILT)} spoilt folders were refused")
    sys.exit(1 if unseen else 0)


main()
