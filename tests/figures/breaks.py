#!/usr/bin/env python3
"""Class edges from values by a general-purpose statistics library, for src/surface/breaks.rs.

The values are made here (seeded), 155 as a small soil survey has, one series skewed, one with many equal values.
Needs: numpy, mapclassify.   Usage: breaks.py [--check]
"""

import json
import sys
from pathlib import Path

import mapclassify
import numpy as np

FILE = Path(__file__).with_name("breaks.json")
rng = np.random.default_rng(20260311)
SERIES = {
    "skewed": np.round(rng.lognormal(6, 0.7, 155), 1),
    "two_humps": np.round(np.concatenate([rng.normal(20, 3, 90), rng.normal(41, 5, 65)]), 2),
    "few_different": rng.integers(1, 30, 155).astype(float),
}


def made():
    out = {"made_by": f"mapclassify {mapclassify.__version__}, numpy {np.__version__}", "series": {}}
    for name, values in SERIES.items():
        cases = []
        for k in (2, 3, 4, 5, 7):
            natural = mapclassify.FisherJenks(values, k=k)
            squares = sum(((values[natural.yb == c] - values[natural.yb == c].mean()) ** 2).sum() for c in range(k))
            cases.append({
                "classes": k,
                "natural_breaks": natural.bins[:-1].tolist(),
                "explained": 1 - squares / ((values - values.mean()) ** 2).sum(),
                "quantiles": mapclassify.Quantiles(values, k=k).bins[:-1].tolist(),
                "equal_interval": mapclassify.EqualInterval(values, k=k).bins[:-1].tolist(),
                "counts_equal_interval": mapclassify.EqualInterval(values, k=k).counts.tolist(),
            })
        out["series"][name] = {"values": values.tolist(), "cases": cases}
    return json.dumps(out, indent=1) + "\n"


text = made()
if "--check" in sys.argv:
    sys.exit(0 if FILE.read_text() == text else "breaks.json differs from what the script gives")
FILE.write_text(text)
