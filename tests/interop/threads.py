#!/usr/bin/env python3
"""One big field planned with 1, 2 and 4 threads: every file has the same bytes.

usage: threads.py TWINSOW FOLDER

The field is so big that the work inside it is shared out: 1 600 ha in two layers of winding zones, some 90 000 points, 640 000 cells.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "benches"))
import farm  # noqa: E402
import linear  # noqa: E402

SIDE_M = 4000
LAYER = """[[layer]]
name = "other"
source = { file = "other.geojson" }
class_attribute = "soil"

[grid]
cell_m = 5.0

[drill]"""


def files(folder):
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def main():
    program, folder = str(Path(sys.argv[1]).resolve()), Path(sys.argv[2])
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    made, points = linear.land(SIDE_M)
    # Zones of a field that is a little larger lie elsewhere, and cross these.
    other, more_points = linear.land(SIDE_M + 3)
    for name, content in (*made.items(), ("other.geojson", other["soil.geojson"])):
        (folder / name).write_text(json.dumps(content))
    (folder / "job.toml").write_text(farm.JOB.format(split="").replace("[drill]", LAYER, 1))
    plans = {}
    for threads in ("1", "2", "4"):
        out = folder / f"plan{threads}"
        command = [program, "plan", "job.toml", "--threads", threads, "--out", out.name]
        done = subprocess.run(
            command, cwd=folder, capture_output=True, text=True, env={**os.environ, "SOURCE_DATE_EPOCH": "1800000000"}
        )
        # 1: done, with findings that need a decision.
        if done.returncode not in (0, 1):
            sys.exit(f"{threads} threads: {done.stderr}")
        plans[threads] = files(out)
    one = plans["1"]
    if len(one) < 20:
        sys.exit(f"only {len(one)} files: {sorted(one)}")
    for threads, other in plans.items():
        differ = sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))
        if differ:
            sys.exit(f"with {threads} threads other bytes than with one: {differ}")
    print(f"{points + more_points} points, {len(one)} files of {sum(map(len, one.values())) / 1e6:.1f} MB: the same for 1, 2 and 4 threads")


if __name__ == "__main__":
    main()
