#!/usr/bin/env python3
"""Times the forms of a map against GDAL (pyogrio) writing the same features.

usage: formats.py JOB.toml --twinsow BINARY --stages BENCH [--reps N]

BENCH is the program of stage_times.rs (`cargo bench --bench stage_times --no-run` names it). The plan is made once; what
GDAL writes is what it reads from the GeoPackage and the Shapefile of that plan: every layer with its attributes, as WKB, so that
nothing but writing is timed. Both sides count seconds of processor (user and system) in a warm process, one thread.

twinsow's seconds are those of `write::content` with one form, less those with none (checks before writing, plan.json). Its
Shapefile comes zipped, so GDAL's files are zipped as well (zlib, the same level), told apart. GDAL writes no task data: there
the seconds are printed alone.
"""

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import zipfile
from pathlib import Path

import pyogrio


def median(reps, work):
    seconds = []
    for _ in range(reps):
        with tempfile.TemporaryDirectory() as folder:
            start = time.process_time()
            work(Path(folder))
            seconds.append(time.process_time() - start)
    return statistics.median(seconds)


def read(path, layer):
    meta, _, geometry, fields = pyogrio.raw.read(path, layer=layer)
    return {
        "geometry": geometry,
        "field_data": fields,
        "fields": meta["fields"],
        "geometry_type": meta["geometry_type"],
        "crs": meta["crs"],
    }


def write(layers, path, driver):
    for nth, (name, content) in enumerate(layers):
        more = {"layer": name, "append": nth > 0} if driver == "GPKG" else {}
        pyogrio.raw.write(path, driver=driver, **content, **more)


def zipped(layers, folder):
    for name, content in layers:
        write([(name, content)], folder / f"{name}.shp", "ESRI Shapefile")
    with zipfile.ZipFile(folder / "all.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for file in sorted(folder.iterdir()):
            if file.suffix != ".zip":
                archive.write(file, file.name)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("job", type=Path)
    parser.add_argument("--twinsow", required=True)
    parser.add_argument("--stages", required=True)
    parser.add_argument("--reps", type=int, default=3)
    args = parser.parse_args()
    job = str(args.job.resolve())
    alone = {**os.environ, "RAYON_NUM_THREADS": "1"}
    own = json.loads(subprocess.run([args.stages, job, str(args.reps)], env=alone, check=True, capture_output=True).stdout)
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "plan"
        command = [args.twinsow, "plan", job, "--out", str(out), "--only", "geopackage,shapefile", "--no-audit"]
        # 1: done, with findings that need a decision.
        if subprocess.run(command, stdout=subprocess.DEVNULL).returncode not in (0, 1):
            sys.exit("no plan")
        package = out / "gis" / "rates.gpkg"
        of_package = [(name, read(package, name)) for name, _ in pyogrio.list_layers(package)]
        archive = f"/vsizip/{out / 'gis' / 'rates.shp.zip'}"
        of_shapefile = [(name, read(archive, name)) for name, _ in pyogrio.list_layers(archive)]
        features = sum(len(content["geometry"]) for _, content in of_package)
        megabytes = sum(len(wkb) for _, content in of_package for wkb in content["geometry"]) / 1e6
        sizes = {name: (out / "gis" / name).stat().st_size / 1e6 for name in ("rates.gpkg", "rates.shp.zip")}
    theirs = {
        "GeoPackage": median(args.reps, lambda at: write(of_package, at / "a.gpkg", "GPKG")),
        "Shapefile, not zipped": median(
            args.reps,
            lambda at: [write([layer], at / f"{layer[0]}.shp", "ESRI Shapefile") for layer in of_shapefile],
        ),
        "Shapefile, zipped": median(args.reps, lambda at: zipped(of_shapefile, at)),
    }
    none = own["write plan.json"]
    ours = {
        "GeoPackage": own["write GeoPackage"] - none,
        "Shapefile, zipped": own["write Shapefile"] - none,
        "task data": own["write task data"] - none,
    }
    print(f"{features} features in the GeoPackage, {megabytes:.1f} MB of WKB; written: {sizes}")
    print(f"Seconds of processor; checks before writing and plan.json ({none:.4f} s) are not in twinsow's.\n")
    print("| form | GDAL | twinsow | GDAL / twinsow |\n|---|---:|---:|---:|")
    for form in ("GeoPackage", "Shapefile, not zipped", "Shapefile, zipped", "task data"):
        peer, mine = theirs.get(form), ours.get(form)
        show = lambda value: "" if value is None else f"{value:.4f}"
        ratio = f"{peer / mine:.2f}" + ("" if peer >= mine else ", slower") if peer and mine else ""
        print(f"| {form} | {show(peer)} | {show(mine)} | {ratio} |")


if __name__ == "__main__":
    main()
