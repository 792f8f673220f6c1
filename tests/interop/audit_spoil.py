#!/usr/bin/env python3
"""Spoils one thing in every form of a delivered map and looks whether `twinsow audit` says it in one plain line.

The forms: task data with rates (versions 4.3 and 3.3, all products and one per task), with zone numbers and with polygons;
GeoJSON, GeoPackage, Shapefile, GeoTIFF. What is spoilt: one cell or rate, the corner, the products, the order of the rows,
the end of the file. Changed with numpy, rasterio, sqlite3, pyogrio and plain text, so not by our own writer.

Usage: audit_spoil.py TWINSOW JOB.toml FOLDER
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
import pyogrio
import rasterio

HERE = Path(__file__).resolve().parent


def cells(kind, columns_of, change, number=1):
    """Changes the cells of a grid: an array (row, column, value)."""

    def spoil(folder):
        xml = (folder / "TASKDATA.XML").read_text(encoding="utf-8")
        grid = re.findall(r"<GRD [^>]*>", xml)[number - 1]
        columns, rows = (int(re.search(rf' {a}="(\d+)"', grid).group(1)) for a in "EF")
        path = folder / f"GRD{number:05}.bin"
        array = np.frombuffer(path.read_bytes(), kind).reshape(rows, columns, columns_of).copy()
        path.write_bytes(np.ascontiguousarray(change(array)).astype(kind).tobytes())

    return spoil


def text(pattern, new, name="TASKDATA.XML"):
    def spoil(folder):
        path = folder / name if folder.is_dir() else folder
        old = path.read_text(encoding="utf-8")
        changed, count = re.subn(pattern, new, old)
        assert count, f"{pattern} is not in {path}"
        path.write_text(changed, encoding="utf-8")

    return spoil


def cut(name):
    def spoil(folder):
        path = folder / name if folder.is_dir() else folder
        data = path.read_bytes()
        path.write_bytes(data[: len(data) * 3 // 4])

    return spoil


def moved(match):
    return f'{match.group(1)}{float(match.group(2)) + 0.0001:.9f}"'


CORNER = text(r'(<GRD [^>]*?B=")([-\d.]+)"', moved)


def one_cell(array):
    inside = np.argwhere((array > 0).all(axis=2))
    row, column = inside[len(inside) // 2]
    array[row, column, 0] += 700
    return array


def one_code(array):
    codes, counts = np.unique(array, return_counts=True)
    inside = np.argwhere(array == codes[counts.argmax()])
    row, column, _ = inside[len(inside) // 2]
    array[row, column, 0] = next(code for code in codes if code != array[row, column, 0])
    return array


def swapped_tasks(folder):
    one, two = folder / "GRD00001.bin", folder / "GRD00002.bin"
    first = one.read_bytes()
    one.write_bytes(two.read_bytes())
    two.write_bytes(first)


def swapped_values(folder):
    path = folder / "TASKDATA.XML"
    old = path.read_text(encoding="utf-8")

    def swap(zone):
        values = re.findall(r'<PDV [^>]*?B="(\d+)"', zone.group(0))[::-1]
        return re.sub(r'(<PDV [^>]*?B=")\d+"', lambda m: f'{m.group(1)}{values.pop(0)}"', zone.group(0))

    path.write_text(re.sub(r"<TZN .*?</TZN>", swap, old, flags=re.S), encoding="utf-8")


def without_a_zone(folder):
    path = folder / "TASKDATA.XML"
    old = path.read_text(encoding="utf-8")
    zones = re.findall(r"<TZN (?:(?!</TZN>).)*<PLN .*?</TZN>", old, flags=re.S)
    path.write_text(old.replace(max(zones, key=len), ""), encoding="utf-8")


def east(match):
    return f'{match.group(1)}{float(match.group(2)) + 0.0001:.9f}"'


GRID = {
    "one cell": (cells("<i4", 2, one_cell), "the cell in column"),
    "corner": (CORNER, "the corner of the grid is shifted"),
    "products": (cells("<i4", 2, lambda a: a[..., ::-1]), "the two products are swapped"),
    "rows": (cells("<i4", 2, lambda a: a[::-1]), "the order of the rows is flipped"),
    "end": (cut("GRD00001.bin"), "is cut off"),
}
ALONE = {
    "one cell": (cells("<i4", 1, one_cell), "the cell in column"),
    "corner": (CORNER, "the corner of the grid is shifted"),
    "products": (swapped_tasks, "the products are swapped"),
    "rows": (cells("<i4", 1, lambda a: a[::-1], 2), "the order of the rows is flipped"),
    "end": (cut("GRD00002.bin"), "is cut off"),
}
CODES = {
    "one cell": (cells("u1", 1, one_code), "the cell in column"),
    "corner": (CORNER, "the corner of the grid is shifted"),
    "products": (swapped_values, "the two products are swapped"),
    "rows": (cells("u1", 1, lambda a: a[::-1]), "the order of the rows is flipped"),
    "end": (cut("GRD00001.bin"), "is cut off"),
}
POLYGONS = {
    "one rate": (text(r'(<TZN A="7"[^>]*>\s*<PDV [^>]*?B=")\d+"', r'\g<1>7700"'), "m2 in the plan"),
    "corner": (text(r'(<PNT [^>]*?D=")([-\d.]+)"', east), "does not lie where the plan has it"),
    "products": (swapped_values, "the two products are swapped"),
    "end": (without_a_zone, "m2 in the plan"),
}


def edit_json(change):
    def spoil(path):
        data = json.loads(path.read_text(encoding="utf-8"))
        change(data["features"])
        path.write_text(json.dumps(data), encoding="utf-8")

    return spoil


def rate_columns(properties):
    return [name for name in properties if name.endswith("_kg_ha")][:2]


def json_swap(features):
    for feature in features:
        a, b = rate_columns(feature["properties"])
        properties = feature["properties"]
        properties[a], properties[b] = properties[b], properties[a]


def json_rate(features):
    features[0]["properties"][rate_columns(features[0]["properties"])[0]] += 0.5


def json_east(features):
    def move(node):
        if isinstance(node[0], (int, float)):
            node[0] += 0.0001
        else:
            for child in node:
                move(child)

    for feature in features:
        move(feature["geometry"]["coordinates"])


JSON = {
    "one rate": (edit_json(json_rate), "m2 in the plan"),
    "corner": (edit_json(json_east), "does not lie where the plan has it"),
    "products": (edit_json(json_swap), "the two products are swapped"),
    "end": (edit_json(lambda features: features.pop()), "m2 in the plan"),
}


def sql(statement):
    def spoil(path):
        database = sqlite3.connect(path)
        for name in ("ST_IsEmpty", "ST_MinX", "ST_MaxX", "ST_MinY", "ST_MaxY"):
            database.create_function(name, 1, lambda geometry: 0)
        columns = [row[1] for row in database.execute("PRAGMA table_info(rates)") if row[1].endswith("_kg_ha")]
        database.execute(statement.format(a=columns[0], b=columns[1]))
        database.commit()
        database.close()

    return spoil


GPKG = {
    "one rate": (sql("UPDATE rates SET {a} = {a} + 0.5 WHERE fid = 1"), "m2 in the plan"),
    "products": (sql("UPDATE rates SET {a} = {b}, {b} = {a}"), "the two products are swapped"),
    "end": (sql("DELETE FROM rates WHERE fid = 2"), "m2 in the plan"),
}


def shape(change):
    """The zipped Shapefile, unpacked, changed through GDAL and packed again."""

    def spoil(path):
        with tempfile.TemporaryDirectory() as folder:
            folder = Path(folder)
            meta, _, wkb, values = pyogrio.raw.read(f"/vsizip/{path}")
            fields, values = list(meta["fields"]), [np.array(v) for v in values]
            wkb, values = change(fields, wkb, values)
            pyogrio.raw.write(folder / "rates.shp", wkb, values, fields, crs=meta["crs"], geometry_type="Polygon", driver="ESRI Shapefile")
            path.unlink()
            with zipfile.ZipFile(path, "w") as archive:
                for part in sorted(folder.iterdir()):
                    archive.write(part, part.name)

    return spoil


def shape_rate(fields, wkb, values):
    values[next(i for i, f in enumerate(fields) if f.lower().endswith("kg_ha") or f.lower().endswith("kg_h"))][0] += 0.5
    return wkb, values


SHAPE = {
    "one rate": (shape(shape_rate), "m2 in the plan"),
    "end": (shape(lambda f, w, v: (w[:-1], [c[:-1] for c in v])), "m2 in the plan"),
}


def tiff(change):
    def spoil(path):
        with rasterio.open(path) as source:
            profile, bands, names = source.profile, source.read(), source.descriptions
        profile, bands = change(profile, bands)
        with rasterio.open(path, "w", **profile) as target:
            target.write(bands)
            for number, name in enumerate(names, 1):
                target.set_band_description(number, name or "")

    return spoil


def tiff_cell(profile, bands):
    inside = np.argwhere(bands[0] > 0)
    row, column = inside[len(inside) // 2]
    bands[0, row, column] += 7
    return profile, bands


def tiff_corner(profile, bands):
    profile["transform"] = profile["transform"] @ rasterio.Affine.translation(0.5, 0)
    return profile, bands


def tiff_strip(profile, bands):
    bands[1][(bands[1] == 0) & (bands[0] > 0)] = 50
    return profile, bands


TIFF = {
    "one cell": (tiff(tiff_cell), "the cell in column"),
    "corner": (tiff(tiff_corner), "the corner of the grid is shifted"),
    "products": (tiff(lambda p, b: (p, b[[1, 0, *range(2, len(b))]])), "the two products are swapped"),
    "rows": (tiff(lambda p, b: (p, b[:, ::-1])), "the order of the rows is flipped"),
    "end": (cut("rates.tif"), "cannot be audited"),
}

FALLBACK = "terminal/fallback/task-data-"
FORMS = {
    "terminal/TASKDATA": GRID,
    FALLBACK + "3.3/TASKDATA": GRID,
    FALLBACK + "3.3-task-per-product/TASKDATA": ALONE,
    FALLBACK + "4.3-zone-numbers/TASKDATA": CODES,
    FALLBACK + "4.3-polygons/TASKDATA": POLYGONS,
    "gis/rates.geojson": JSON,
    "gis/rates.gpkg": GPKG,
    "gis/rates.shp.zip": SHAPE,
    "gis/rates.tif": TIFF,
}


def audit(twinsow, path, *more):
    result = subprocess.run([twinsow, "audit", path, *more], capture_output=True, text=True)
    wrong = [line for line in result.stdout.splitlines() if "WRONG" in line]
    return result.returncode, wrong, result.stdout + result.stderr


def main():
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    twinsow, job, folder = Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve(), Path(sys.argv[3]).resolve()
    plan = ["--plan", folder / "plan.json"]
    held, broken = 0, []
    with tempfile.TemporaryDirectory() as temporary:
        for number, (form, spoilt) in enumerate(FORMS.items()):
            for what, (spoil, words) in spoilt.items():
                copy = Path(temporary) / f"{number}-{what.replace(' ', '-')}" / Path(form).name
                copy.parent.mkdir()
                (shutil.copytree if (folder / form).is_dir() else shutil.copy)(folder / form, copy)
                spoil(copy)
                code, wrong, said = audit(twinsow, copy, *plan)
                # A file that cannot be read at all is one error; two tasks that are swapped or moved are a line each.
                most = 2 if "task-per-product" in form and what in ("products", "corner") else 1
                refused = code == 2 and words in said
                if refused or (code == 1 and 1 <= len(wrong) <= most and all(words in line for line in wrong)):
                    held += 1
                else:
                    broken.append(f"{form}: {what}: wanted '{words}':\n{said}")
        # Product in a setback, by the job alone.
        copy = Path(temporary) / "rates.tif"
        shutil.copy(folder / "gis/rates.tif", copy)
        code, _, said = audit(twinsow, copy, "--job", job)
        if code != 0:
            broken.append(f"GeoTIFF as delivered, by the job:\n{said}")
        tiff(tiff_strip)(copy)
        code, wrong, said = audit(twinsow, copy, "--job", job)
        if code == 1 and any("with a rate lie in the setback" in line for line in wrong):
            held += 1
        else:
            broken.append(f"GeoTIFF with product in the strip:\n{said}")
    for line in broken:
        print(f"audit_spoil.py: NOT SAID: {line}")
    print(f"audit_spoil.py: {held} spoilt files were told in plain lines, {len(broken)} were not")
    sys.exit(1 if broken else 0)


main()
