#!/usr/bin/env python3
"""Whether cost grows in step with the work: time per vertex, per cell and per field, and memory per field.

usage: linear.py PROGRAM FOLDER [--most-fields 10000] [--reps 2] [--skip land|fields|files]

Three tables. Land: one field from 100 ha to 1 600 ha with zones of the same density; vertices alone (cells grow with the field),
cells alone (the same field), and both. Fields by `stream`: nothing written. Files by `plan` with split_by: one boundary file, one
zone file, all files written. One thread each; seconds are of the processor (user and system), the lowest of the runs, less those of
the same process with nothing to do. The last line of each table is the slope of log(seconds) over log(work): 1 is linear.
Exits with 1 if a slope is above 1.1.
"""

import argparse
import json
import math
import os
import random
import shutil
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "interop"))
import farm  # noqa: E402

MOST_SLOPE = 1.1
LAND_M = [1000, 1414, 2000, 2828, 4000]
CELLS_M = [20.0, 14.142, 10.0, 7.071, 5.0]


def peak_mb(pid):
    """Most memory so far. What the system says at the end counts the memory of this script, from which the process was made."""
    status = Path(f"/proc/{pid}/status").read_text()
    # Nothing is left to read of a process that has ended.
    return next((int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM")), 0) / 1024


def run(command, lines=(), count=None):
    """Seconds of processor and peak MB of a process that answers `count` lines, or ends by itself. Linux only."""
    with open(os.devnull, "wb") as nowhere:
        process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=nowhere)
        feeder = os.fork()
        if feeder == 0:
            for line in lines:
                process.stdin.write(line.encode())
            process.stdin.flush()
            os._exit(0)
        failed, mb, number = 0, 0.0, 0
        # The input stays open until the last answer is there, so that the process is.
        if count == 0:
            process.stdin.close()
        for answer in process.stdout:
            failed += b'"fault":' in answer
            number += 1
            if number < 100 or number % 100 == 0 or number == count:
                mb = max(mb, peak_mb(process.pid))
            if number == count:
                process.stdin.close()
        os.waitpid(feeder, 0)
        _, status, used = os.wait4(process.pid, 0)
    if failed or os.waitstatus_to_exitcode(status) not in (0, 1):
        sys.exit(f"{command}: {failed} failed, exit {os.waitstatus_to_exitcode(status)}")
    return used.ru_utime + used.ru_stime, mb


def best(reps, command, lines=tuple, count=None):
    runs = [run(command, lines(), count) for _ in range(reps)]
    return min(seconds for seconds, _ in runs), max(mb for _, mb in runs)


def wiggly(rng, length, step):
    """Offsets of a winding line, zero at both ends."""
    count = max(2, round(length / step))
    waves = [(k, rng.uniform(2.0, 8.0), rng.uniform(0.0, math.tau)) for k in (2, 5, 11)]
    for n in range(count + 1):
        t = n / count
        yield t, math.sin(math.pi * t) * sum(a * math.sin(k * t * math.tau + p) for k, a, p in waves)


def land(side_m):
    """Boundary and zones of a square of about side_m: zones of 200 m with winding shared borders, 8 m from point to point."""
    rng = random.Random(f"land {side_m}")
    lat, lon = 50.0, 9.0
    east = farm.METRES_PER_DEGREE * math.cos(math.radians(lat))
    place = lambda x, y: (lon + x / east, lat + y / farm.METRES_PER_DEGREE)
    zone = 200.0
    count = math.ceil(side_m / zone) + 1
    node = [
        [((i - 0.5) * zone + rng.uniform(-30, 30), (j - 0.5) * zone + rng.uniform(-30, 30)) for j in range(count + 1)]
        for i in range(count + 1)
    ]

    def border(a, b):
        (ax, ay), (bx, by) = a, b
        dx, dy = bx - ax, by - ay
        length = math.hypot(dx, dy)
        return [(ax + dx * t - dy / length * o, ay + dy * t + dx / length * o) for t, o in wiggly(rng, length, 8.0)]

    across = {(i, j): border(node[i][j], node[i + 1][j]) for i in range(count) for j in range(count + 1)}
    up = {(i, j): border(node[i][j], node[i][j + 1]) for i in range(count + 1) for j in range(count)}
    zones, vertices = [], 0
    for i in range(count):
        for j in range(count):
            ring = across[i, j][:-1] + up[i + 1, j][:-1] + across[i, j + 1][:0:-1] + up[i, j][:0:-1]
            vertices += len(ring)
            zones.append(farm.feature({"soil": rng.choice(farm.CLASSES)}, [place(*p) for p in ring]))
    corners = [(0, 0), (side_m, 0), (side_m, side_m), (0, side_m)]
    ring = []
    for a, b in zip(corners, corners[1:] + corners[:1]):
        ring += border(a, b)[:-1]
    boundary = farm.feature({"field_id": 1}, [place(*p) for p in ring])
    files = {"boundary.geojson": boundary, "soil.geojson": farm.collection(zones)}
    return files, vertices + len(ring)


def slope(works, seconds):
    """Least squares of log over log."""
    x, y = [math.log(w) for w in works], [math.log(s) for s in seconds]
    mx, my = sum(x) / len(x), sum(y) / len(y)
    return sum((a - mx) * (b - my) for a, b in zip(x, y)) / sum((a - mx) ** 2 for a in x)


def told(title, unit, rows):
    """Prints a table of (work, seconds, MB) and returns its slope."""
    print(f"\n{title}\n\n| {unit} | s | us each | peak MB |\n|---:|---:|---:|---:|")
    for work, seconds, mb in rows:
        print(f"| {work} | {seconds:.3f} | {seconds / work * 1e6:.2f} | {mb:.0f} |")
    found = slope([row[0] for row in rows], [row[1] for row in rows])
    print(f"\nSlope of log(s) over log({unit}): {found:.3f}", flush=True)
    return found


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("program")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--most-fields", type=int, default=10_000)
    parser.add_argument("--reps", type=int, default=2)
    parser.add_argument("--skip", nargs="*", default=[], choices=["land", "fields", "files"])
    args = parser.parse_args()
    folder = args.folder.resolve()
    farm.write(folder, 1000)
    stream = [args.program, "stream", "--threads", "1", "--job"]
    one = str(folder / "empty" / "one.toml")
    # A job file alone, so that nothing but the lines is read.
    (folder / "empty").mkdir(exist_ok=True)
    shutil.copy(folder / "one.toml", one)
    idle, _ = best(3, stream + [one], count=0)
    slopes = []

    if "land" not in args.skip:
        both, vertices_alone, cells_alone = [], [], []
        for side, same_count in zip(LAND_M, reversed(CELLS_M)):
            files, vertices = land(side)
            for rows, cell in ((both, 5.0), (vertices_alone, 5.0 * side / LAND_M[0])):
                line = json.dumps({"job": {"grid": {"cell_m": cell, "most_cells": 20_000_000}}, "files": files}) + "\n"
                seconds, mb = best(args.reps, stream + [one], lambda: [line], 1)
                rows.append((vertices, seconds - idle, mb))
        files, _ = land(2000)
        for cell in CELLS_M:
            line = json.dumps({"job": {"grid": {"cell_m": cell, "most_cells": 20_000_000}}, "files": files}) + "\n"
            seconds, mb = best(args.reps, stream + [one], lambda: [line], 1)
            cells_alone.append((round((2000 / cell) ** 2), seconds - idle, mb))
        slopes.append(told("Land: vertices and cells together, 100 to 1 600 ha, cells of 5 m", "vertices", both))
        slopes.append(told("Land: vertices, the same number of cells", "vertices", vertices_alone))
        # The overlay is the same for all: only what is added by cells counts.
        slopes.append(told("Land: cells, the same 400 ha", "cells", cells_alone))

    if "fields" not in args.skip:
        known = [line + "\n" for line in farm.requests(1000)]
        rows = []
        for count in (10, 100, 1000, 10_000, 100_000):
            if count > args.most_fields:
                break
            # Nothing is remembered from line to line, so that the same lines again are as good as others.
            lines = lambda: (known[n % 1000] for n in range(count))
            seconds, mb = best(args.reps if count <= 1000 else 1, stream + [one], lines, count)
            rows.append((count, seconds - idle, mb))
        slopes.append(told("Fields by stream, nothing written", "fields", rows))

    if "files" not in args.skip:
        rows = []
        for count in (10, 30, 100, 300, 1000):
            if count > args.most_fields:
                break
            here = folder / f"farm{count}"
            farm.write(here, count)
            out = here / "plans"
            plan = [args.program, "plan", str(here / "farm.toml"), "--threads", "1", "--json", "--out", str(out)]
            seconds, mb = best(1, plan)
            shutil.rmtree(out)
            rows.append((count, seconds, mb))
        slopes.append(told("Fields by plan with split_by, all files written", "fields", rows))

    if max(slopes) > MOST_SLOPE:
        sys.exit(f"a slope is above {MOST_SLOPE}")


if __name__ == "__main__":
    main()
