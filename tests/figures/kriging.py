#!/usr/bin/env python3
"""Surfaces through points by general-purpose libraries, for src/surface.

The points are made here (seeded). The Meuse soil samples that scikit-gstat carries are under GPL-3, so
they are not copied. Needs: numpy, scipy, scikit-gstat, pykrige, scikit-learn.   Usage: kriging.py [--check]
"""

import json
import sys
import warnings
from pathlib import Path

import numpy as np
import pykrige
import scipy
import skgstat
import sklearn
from pykrige.ok import OrdinaryKriging
from scipy.optimize import curve_fit
from sklearn.cluster import KMeans
from sklearn.neighbors import KNeighborsRegressor, RadiusNeighborsRegressor

warnings.simplefilter("ignore")
FILE = Path(__file__).with_name("kriging.json")
rng = np.random.default_rng(20260311)
POINTS = np.round(rng.uniform(0, 400, (60, 2)), 1)
VALUES = np.round(20 + 6 * np.sin(POINTS[:, 0] / 90) + 4 * np.cos(POINTS[:, 1] / 70) + rng.normal(0, 1, 60), 2)
TARGETS = np.array([[10.0, 10], [200, 200], [350, 90.5], [399, 1], POINTS[7]])
SMOOTHING = 60.0
# nugget, partial sill, range
GIVEN = {"spherical": (1.5, 18.0, 210.0), "exponential": (0.4, 25.0, 330.0)}
SHAPES = {
    "spherical": lambda h: np.where(h < 1, 1.5 * h - 0.5 * h**3, 1.0),
    "exponential": lambda h: 1 - np.exp(-3 * h),
    "gaussian": lambda h: 1 - np.exp(-3 * h * h),
}


def krige(points, values, model, at):
    nugget, sill, reach = GIVEN[model]
    ok = OrdinaryKriging(points[:, 0], points[:, 1], values, variogram_model=model,
                         variogram_parameters={"nugget": nugget, "psill": sill, "range": reach})
    return np.asarray(ok.execute("points", at[:, 0], at[:, 1])[0])


def made():
    out = {"made_by": f"scikit-gstat {skgstat.__version__}, pykrige {pykrige.__version__}, scipy {scipy.__version__}, "
                      f"scikit-learn {sklearn.__version__}, numpy {np.__version__}",
           "points": POINTS.tolist(), "values": VALUES.tolist(), "targets": TARGETS.tolist()}
    size = POINTS.max(axis=0) - POINTS.min(axis=0)
    reach = np.hypot(*size) / 3
    v = skgstat.Variogram(POINTS, VALUES, n_lags=15, bin_func=np.linspace(0, reach, 16)[1:].tolist(), maxlag=reach)
    out["lags"] = {"half_square": v.experimental.tolist(), "pairs": v.bin_count.tolist()}
    distance = np.array([v.distance[v.lag_groups() == n].mean() for n in range(15)])
    weights = v.bin_count / distance**2
    out["fits"] = {}
    for model, shape in SHAPES.items():
        def curve(h, nugget, sill, reach):
            return nugget + sill * shape(h / reach)
        best = None
        for start in (40, 100, 200, 400):
            found, _ = curve_fit(curve, distance, v.experimental, p0=(1, 20, start), sigma=1 / np.sqrt(weights),
                                 bounds=([0, 0, distance[-1] / 100], [np.inf, np.inf, 3 * distance[-1]]), maxfev=100000)
            left = float((weights * (v.experimental - curve(distance, *found)) ** 2).sum())
            if best is None or left < best["left"]:
                best = {"nugget": found[0], "partial_sill": found[1], "range_m": found[2], "left": left}
        out["fits"][model] = best
    out["kriging"] = {}
    for model, given in GIVEN.items():
        left_out = [VALUES[n] - krige(np.delete(POINTS, n, 0), np.delete(VALUES, n), model, POINTS[n:n + 1])[0]
                    for n in range(len(VALUES))]
        out["kriging"][model] = {"nugget": given[0], "partial_sill": given[1], "range_m": given[2],
                                 "at_targets": krige(POINTS, VALUES, model, TARGETS).tolist(), "left_out": left_out}
    idw = KNeighborsRegressor(12, weights=lambda d: 1 / d**2).fit(POINTS, VALUES)
    out["inverse_distance"] = idw.predict(TARGETS[:4]).tolist()
    def biweight(distances):
        return [(1 - (d / SMOOTHING) ** 2) ** 2 for d in distances]
    mean = RadiusNeighborsRegressor(SMOOTHING, weights=biweight).fit(POINTS, VALUES)
    out["smoothing_m"] = SMOOTHING
    out["smoothed"] = mean.predict(TARGETS).tolist()
    blobs = np.vstack([rng.normal(middle, 0.6, (80, 2)) for middle in ((0, 0), (2, 1), (0.5, 3))])
    explained = []
    for count in (2, 3, 4, 5):
        inertia = KMeans(count, n_init=200, random_state=1).fit(blobs).inertia_
        explained.append(1 - inertia / ((blobs - blobs.mean(0)) ** 2).sum())
    out["k_means"] = {"points": blobs.tolist(), "explained": explained}
    return json.dumps(out, indent=1) + "\n"


text = made()
if "--check" in sys.argv:
    was, now = json.loads(FILE.read_text()), json.loads(text)
    # Optimisers differ in the last digits from machine to machine.
    same = all(np.allclose(was["kriging"][m]["at_targets"], now["kriging"][m]["at_targets"], rtol=1e-9) for m in GIVEN)
    sys.exit(0 if same and was["points"] == now["points"] else "kriging.json differs from what the script gives")
FILE.write_text(text)
