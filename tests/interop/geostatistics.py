#!/usr/bin/env python3
"""Surfaces and classes on real soil samples against general-purpose libraries for geostatistics and statistics.

The samples: heavy metals in the topsoil beside the river Meuse, 155 places, as they ship with the package
scikit-gstat (GPL-3; the data come from the R package sp). They are read from the installed package each time and are not
part of this project. `twinsow zones` runs on them; compared are
- the variogram's nugget, sill and range: scikit-gstat for the lags, scipy for the weighted fit (1 %);
- kriged values in every cell and the leave-one-out errors: pykrige with the variogram that was printed (1e-4);
- inverse distance in every cell: scikit-learn (1e-9);
- natural breaks of the kriged cells: jenkspy (the same edges, to six digits as printed);
- k-means of two metals together: scikit-learn (variance explained to 0.1 points, and no better classes found).
A surface that explains nothing has to be said to: the same metal, shuffled among the places.

Usage: geostatistics.py TWINSOW FOLDER
"""

import json
import re
import subprocess
import sys
import warnings
from pathlib import Path

import jenkspy
import numpy as np
import pyproj
import shapely
import skgstat
from pykrige.ok import OrdinaryKriging
from scipy.optimize import curve_fit
from sklearn.cluster import KMeans
from sklearn.neighbors import KNeighborsRegressor

warnings.simplefilter("ignore")
CELL = 40
SHAPES = {
    "spherical": lambda h: np.where(h < 1, 1.5 * h - 0.5 * h**3, 1.0),
    "exponential": lambda h: 1 - np.exp(-3 * h),
    "gaussian": lambda h: 1 - np.exp(-3 * h * h),
}
NUMBER = r"(-?[0-9.]+(?:e-?[0-9]+)?)"
odd = []


def near(own, wanted, tolerance, what):
    if not abs(own - wanted) <= tolerance * abs(wanted):
        odd.append(f"{what}: {own}, not {wanted}")


def samples(folder):
    """Places in degrees, and both metals; written as the files of the jobs."""
    places, lead = skgstat.data.meuse(variable="lead")["sample"]
    _, copper = skgstat.data.meuse(variable="copper")["sample"]
    lead, copper = np.ravel(lead).astype(float), np.ravel(copper).astype(float)
    shuffled = np.random.default_rng(7).permutation(lead)
    to_degrees = pyproj.Transformer.from_crs("EPSG:28992", "EPSG:4326", always_xy=True)
    lon_lat = np.column_stack(to_degrees.transform(*np.asarray(places, float).T))
    lines = ["lon,lat,lead,copper,shuffled"]
    lines += [f"{x:.12f},{y:.12f},{a},{b},{c}" for (x, y), a, b, c in zip(lon_lat, lead, copper, shuffled)]
    (folder / "samples.csv").write_text("\n".join(lines) + "\n")
    hull = shapely.MultiPoint(np.asarray(places, float)).convex_hull.buffer(60, quad_segs=4)
    ring = [list(to_degrees.transform(x, y)) for x, y in hull.exterior.coords]
    (folder / "field.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    return lon_lat, np.array(ring), {"lead": lead, "copper": copper, "shuffled": shuffled}


def zones(twinsow, folder, name, values):
    """What was said, and the surfaces as (x, y, value, on the field)."""
    (folder / f"{name}.toml").write_text(f"""
name = "{name}"
field = {{ name = "samples", boundary = {{ file = "field.geojson" }} }}
drill = {{ working_width_m = 6, hopper = [{{ name = "front", usable_l = 1000 }}] }}
grid = {{ cell_m = 24 }}
[[layer]]
name = "metal"
source = {{ file = "samples.csv" }}
values = {{ surface_cell_m = {CELL}, {values} }}
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "front"
rate = {{ kg_per_ha = 100 }}
""")
    out = folder / f"{name}-zones"
    run = subprocess.run([twinsow, "zones", folder / f"{name}.toml", "--out", out], capture_output=True, text=True)
    if run.returncode > 1:
        sys.exit(f"{name}: {run.stderr}")
    return run.stdout, [surface(path) for path in sorted(out.glob("surface_*.asc"))]


def surface(path):
    lines = path.read_text().splitlines()
    head = {key.lower(): float(value) for key, value in (line.split() for line in lines[:6])}
    values = np.array([line.split() for line in lines[6:]], float)
    values[values == head["nodata_value"]] = np.nan
    rows, columns = values.shape
    x = head["xllcorner"] + head["cellsize"] * (np.arange(columns) + 0.5)
    y = head["yllcorner"] + head["cellsize"] * (rows - 0.5 - np.arange(rows))
    plane = pyproj.Transformer.from_crs("EPSG:4326", pyproj.CRS(path.with_suffix(".prj").read_text()), always_xy=True)
    x, y = np.meshgrid(x, y)
    known = np.isfinite(values)
    return plane, np.column_stack([x[known], y[known]]), values[known]


def variogram(points, values, model):
    """Lags by scikit-gstat up to a third of the diagonal, fitted by scipy with weights pairs / distance^2."""
    reach = np.hypot(*(points.max(0) - points.min(0))) / 3
    v = skgstat.Variogram(points, values, n_lags=15, bin_func=np.linspace(0, reach, 16)[1:].tolist(), maxlag=reach)
    distance = np.array([v.distance[v.lag_groups() == n].mean() for n in range(15)])
    weights = v.bin_count / distance**2

    def curve(h, nugget, sill, far):
        return nugget + sill * SHAPES[model](h / far)

    found = []
    for start in np.linspace(0.1, 2.5, 9) * reach:
        fitted, _ = curve_fit(curve, distance, v.experimental, p0=(v.experimental.min(), np.ptp(v.experimental), start),
                              sigma=1 / np.sqrt(weights), maxfev=100_000,
                              bounds=([0, 0, distance[-1] / 100], [np.inf, np.inf, 3 * distance[-1]]))
        found.append(((weights * (v.experimental - curve(distance, *fitted)) ** 2).sum(), fitted))
    return min(found, key=lambda one: one[0])[1]


def krige(points, values, model, given, at):
    # pykrige's gaussian reaches 95 % of its sill at 4/7 of the root of 3 of what it calls the range.
    reach = given[2] * (7 / (4 * np.sqrt(3)) if model == "gaussian" else 1)
    ok = OrdinaryKriging(*points.T, values, variogram_model=model,
                         variogram_parameters={"nugget": given[0], "psill": given[1] - given[0], "range": reach})
    return np.asarray(ok.execute("points", *at.T)[0])


def check_kriging(twinsow, folder, lon_lat, values, model):
    job = f'method = "natural_breaks", classes = 4, surface = "kriging", variogram = "{model}", column = "lead"'
    said, [(plane, at, own)] = zones(twinsow, folder, model, job)
    points = np.column_stack(plane.transform(*lon_lat.T))
    given = [float(n) for n in re.search(rf"nugget {NUMBER}, sill {NUMBER}, range {NUMBER} m", said).groups()]
    nugget, sill, reach = variogram(points, values, model)
    for what, mine, wanted in zip(("sill", "range"), given[1:], (nugget + sill, reach)):
        near(mine, wanted, 0.01, f"{model}: {what}")
    if abs(given[0] - nugget) > 0.01 * (nugget + sill):
        odd.append(f"{model}: nugget {given[0]}, not {nugget}")
    wanted = krige(points, values, model, given, at)
    most = np.abs(own / wanted - 1).max()
    if not most < 1e-4:
        odd.append(f"{model}: kriged cells differ by {most}")
    left_out = [values[n] - krige(np.delete(points, n, 0), np.delete(values, n), model, given, points[n:n + 1])[0]
                for n in range(len(values))]
    plain = [values[n] - np.delete(values, n).mean() for n in range(len(values))]
    errors = re.search(rf"is off by {NUMBER} \(root mean square\), the plain mean by {NUMBER}", said).groups()
    for mine, theirs, what in zip(errors, (left_out, plain), ("kriging", "plain mean")):
        near(float(mine), np.sqrt(np.mean(np.square(theirs))), 1e-4, f"{model}: leave-one-out error of {what}")
    return plane, at, own, said, given


def check_breaks(plane, at, own, said, field):
    inside = shapely.contains_xy(shapely.Polygon(np.column_stack(plane.transform(*field.T))), *at.T)
    wanted = jenkspy.jenks_breaks(own[inside], n_classes=4)
    mine = [float(n) for n in re.findall(rf"'[0-9]+' (?:up to|above {NUMBER} to) {NUMBER}", said) for n in n[1:]]
    if not np.allclose(mine, wanted[1:-1], rtol=1e-5):
        odd.append(f"natural breaks {mine}, not {wanted[1:-1]}")
    return inside


def check_inverse_distance(twinsow, folder, lon_lat, values):
    job = 'method = "quantiles", classes = 4, surface = "inverse_distance", column = "lead"'
    said, [(plane, at, own)] = zones(twinsow, folder, "inverse_distance", job)
    points = np.column_stack(plane.transform(*lon_lat.T))
    wanted = KNeighborsRegressor(12, weights=lambda d: 1 / d**2).fit(points, values).predict(at)
    most = np.abs(own / wanted - 1).max()
    if not most < 1e-7:
        odd.append(f"inverse distance differs by {most}")
    if "explains_nothing" in said:
        odd.append("inverse distance of the real metal is said to explain nothing")
    said, _ = zones(twinsow, folder, "shuffled", job.replace('"lead"', '"shuffled"'))
    if "explains_nothing" not in said:
        odd.append("a metal that was shuffled among the places is said to explain something")


def check_k_means(twinsow, folder, field):
    job = ('method = "k_means", classes = 4, surface = "inverse_distance", column = "lead", '
           'also = [{ source = { file = "samples.csv" }, surface = "inverse_distance", column = "copper" }]')
    said, [(plane, at, lead), (_, _, copper)] = zones(twinsow, folder, "k_means", job)
    inside = shapely.contains_xy(shapely.Polygon(np.column_stack(plane.transform(*field.T))), *at.T)
    both = np.column_stack([lead, copper])[inside]
    both = (both - both.mean(0)) / both.std(0)
    for count in (3, 4, 5):
        wanted = 100 * (1 - KMeans(count, n_init=50, random_state=1).fit(both).inertia_ / (both**2).sum())
        mine = float(re.search(rf"{NUMBER} % by {count}", said)[1])
        if abs(mine - wanted) > 0.1:
            odd.append(f"k-means with {count} classes explains {mine} %, not {wanted:.2f} %")


twinsow, folder = sys.argv[1], Path(sys.argv[2])
folder.mkdir(parents=True, exist_ok=True)
lon_lat, field, metals = samples(folder)
for model in SHAPES:
    plane, at, own, said, given = check_kriging(twinsow, folder, lon_lat, metals["lead"], model)
    check_breaks(plane, at, own, said, field)
check_inverse_distance(twinsow, folder, lon_lat, metals["lead"])
check_k_means(twinsow, folder, field)
if odd:
    sys.exit("\n".join(odd))
# Another variogram than the printed one has to show.
points = np.column_stack(plane.transform(*lon_lat.T))
other = krige(points, metals["lead"], "gaussian", [given[0] * 0.5, *given[1:]], at)
if np.abs(own / other - 1).max() < 1e-3:
    sys.exit("half the nugget makes no difference: this check cannot fail")
print(f"{len(lon_lat)} samples beside the Meuse: three variograms, {len(own)} cells, breaks and k-means agree")
