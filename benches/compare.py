#!/usr/bin/env python3
"""Runs peer and program side by side and prints ratios and matched totals.

usage: compare.py DATA PEER.py --twinsow BINARY [--python PYTHON] [--reps N] [--sizes S M L FARM RASTER]

DATA is made by the peer's generator, its jobs by jobs.py. PEER.py lies beside a folder `data` (DATA) and knows
`once MODE SIZE` (one cold run) and `tuned SIZE` (prints totals as JSON). Runs alternate, peer then program, each a process of
its own, so that both meet the same machine. Per pair the table gives the lowest seconds of processor (user + system), the
lowest wall time and the highest memory. Python's imports are a row of their own.

Not the same outputs: the peer maps the interior and writes GeoJSON, GeoPackage, Shapefile and GeoTIFF. The program maps headland
and interior and writes these, plan, tables, report and task data in several forms, and reads everything back (audit).
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

MODES = ("imports-tuned", "tuned", "idiomatic")
HA = 10_000.0


def run(command):
    """Seconds of processor, wall seconds, peak MB and standard output of a process."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    output = process.stdout.read()
    complaint = process.stderr.read()
    _, status, used = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    # 1: done, with findings that need a decision.
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        sys.exit(f"{command}: {complaint.decode()[-2000:]}")
    return {"cpu": used.ru_utime + used.ru_stime, "wall": wall, "mb": used.ru_maxrss / 1024}, output.decode()


def best(runs):
    return {"cpu": min(r["cpu"] for r in runs), "wall": min(r["wall"] for r in runs), "mb": max(r["mb"] for r in runs)}


def ours(output):
    """Totals of all planned fields: land, interior and product totals of the interior."""
    sums = {"field_m2": 0.0, "interior_m2": 0.0, "P1": 0.0, "P2": 0.0}
    for line in output.splitlines():
        plan = json.loads(line)
        for row in plan["rates"]:
            sums["field_m2"] += row["ha"] * HA
            if row["land_part"] == "interior":
                sums["interior_m2"] += row["ha"] * HA
                sums["P1"] += row["kg"]["starter"]
                sums["P2"] += row["kg"]["seed"]
    return sums


def theirs(output):
    totals = json.loads(output[output.index("\n{") :] if not output.startswith("{") else output)
    pick = lambda *names: next(totals[name] for name in names if name in totals)
    return {
        "field_m2": totals["field_m2"],
        "interior_m2": pick("pieces_m2", "interior_m2"),
        "P1": pick("P1_kg"),
        "P2": pick("P2_seeds"),
    }


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("data", type=Path)
    parser.add_argument("peer", type=Path)
    parser.add_argument("--twinsow", required=True)
    parser.add_argument("--python", default=sys.executable)
    parser.add_argument("--reps", type=int, default=3)
    parser.add_argument("--sizes", nargs="+", default=["S", "M", "L", "FARM", "RASTER"])
    args = parser.parse_args()
    timings, matches = [], []
    for size in args.sizes:
        runs = {mode: [] for mode in (*MODES, "twinsow", "twinsow 2 threads")}
        for _ in range(args.reps):
            for mode in MODES:
                runs[mode].append(run([args.python, str(args.peer), "once", mode, size])[0])
            for mode, threads in (("twinsow", "1"), ("twinsow 2 threads", "2")):
                out = Path(tempfile.mkdtemp(dir=args.data))
                job = args.data / size / "job.toml"
                used, said = run(
                    [args.twinsow, "plan", str(job), "--out", str(out / "plan"), "--json", "--threads", threads]
                )
                runs[mode].append(used)
                shutil.rmtree(out)
        timings.append((size, {mode: best(of) for mode, of in runs.items()}))
        _, totals = run([args.python, str(args.peer), "tuned", size, "--reps", "1"])
        matches.append((size, ours(said), theirs(totals)))

    print("| input | side | CPU s | wall s | peak MB | CPU, times twinsow |")
    print("|---|---|---:|---:|---:|---:|")
    for size, modes in timings:
        for mode, used in modes.items():
            ratio = used["cpu"] / modes["twinsow"]["cpu"]
            print(f"| {size} | {mode} | {used['cpu']:.2f} | {used['wall']:.2f} | {used['mb']:.0f} | {ratio:.1f} |")
    print("\n| input | field, plane of twinsow / UTM - 1 | interior share, difference | P1 per ha, ratio - 1 | P2 per ha, ratio - 1 |")
    print("|---|---:|---:|---:|---:|")
    for size, own, peer in matches:
        scale = own["field_m2"] / peer["field_m2"] - 1
        share = own["interior_m2"] / own["field_m2"] - peer["interior_m2"] / peer["field_m2"]
        per_ha = [(own[p] / own["interior_m2"]) / (peer[p] / peer["interior_m2"]) - 1 for p in ("P1", "P2")]
        print(f"| {size} | {scale:.2e} | {share:.1e} | {per_ha[0]:.1e} | {per_ha[1]:.1e} |")


if __name__ == "__main__":
    main()
