#!/usr/bin/env python3
"""Runs the other side and the program in turn; prints one table of targets and one of matched totals.

usage: compare.py DATA PEER.py --twinsow BINARY [--stages BENCH] [--python PYTHON] [--reps N] [--sizes S M L FARM RASTER]

DATA is made by the generator of the other side, its jobs by jobs.py. PEER.py lies beside a folder `data` (DATA) and knows
`tuned SIZE`, `idiomatic SIZE` (stages, warm, `--json FILE`) and `once MODE SIZE` (one cold run). BENCH is the program of
stage_times.rs (`cargo bench --bench stage_times --no-run` names it).

All figures are seconds of processor (user + system), one thread against one thread, so that other work on the machine spoils
them less. The other side's stages are timed in a warm process, its imports not counted; its own clock is set to that of the
processor from outside. The program's whole job is a process from start to exit. Both sides write a GeoJSON map and a GeoTIFF
grid and count totals; the program does so for headland and interior, with a second grid, in degrees, and plan.json.
Memory and the wall time of two threads are those of processes.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
CPU_CLOCK = "import runpy, sys, time; time.perf_counter = time.process_time; sys.argv = sys.argv[1:]; runpy.run_path(sys.argv[0], run_name='__main__')"
SAME = ["--only", "geojson,geotiff", "--no-audit"]


def run(command, **more):
    """Seconds of processor, wall seconds, peak MB and standard output of a process."""
    start = time.perf_counter()
    with tempfile.TemporaryFile() as complaint:
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=complaint, **more)
        output = process.stdout.read()
        _, status, used = os.wait4(process.pid, 0)
        wall = time.perf_counter() - start
        # 1: done, with findings that need a decision.
        if os.waitstatus_to_exitcode(status) not in (0, 1):
            complaint.seek(0)
            sys.exit(f"{command}: {complaint.read().decode()[-2000:]}")
    return {"cpu": used.ru_utime + used.ru_stime, "wall": wall, "mb": used.ru_maxrss / 1024}, output.decode()


class Sides:
    def __init__(self, args):
        self.args = args
        # Taken away at the end: where many files have just been deleted, ext4 takes long to make new ones.
        self.plans = tempfile.TemporaryDirectory(dir=args.data)

    def stages_of_peer(self, mode, size):
        """Median seconds of processor by stage."""
        with tempfile.NamedTemporaryFile(suffix=".json") as file:
            reps = str(max(1, self.args.reps))
            command = [self.args.python, "-W", "ignore", "-c", CPU_CLOCK, str(self.args.peer), mode, size, "--reps", reps]
            run([*command, "--json", file.name])
            found = json.load(open(file.name))
        return {name: of["median_s"] for name, of in found["stages"].items()}

    def cold(self, mode, size):
        runs = [run([self.args.python, "-W", "ignore", str(self.args.peer), "once", mode, size])[0] for _ in range(self.args.reps)]
        return best(runs)

    def job(self, size):
        return str(self.args.data / size / "job.toml")

    def plan(self, size, threads, options, keep=None):
        """The best of some runs, and what the last one said."""
        runs = []
        for _ in range(self.args.reps):
            out = Path(tempfile.mkdtemp(dir=self.plans.name))
            command = [self.args.twinsow, "plan", self.job(size), "--out", str(out / "plan"), "--json", "--threads", threads]
            used, said = run([*command, *options])
            runs.append(used)
            if keep is not None:
                keep(out / "plan", said)
                keep = None
        return best(runs)

    def stages_of_program(self, size):
        more = {"env": {**os.environ, "RAYON_NUM_THREADS": "1"}}
        return json.loads(run([self.args.stages, self.job(size), str(self.args.reps)], **more)[1])


def best(runs):
    return {"cpu": min(r["cpu"] for r in runs), "wall": min(r["wall"] for r in runs), "mb": max(r["mb"] for r in runs)}


def of_peer(stages, *starts):
    return sum(seconds for name, seconds in stages.items() if name.startswith(starts))


def total(stages):
    return next(seconds for name, seconds in stages.items() if name.startswith("TOTAL"))


def line(what, peers, own, targets, unit="s"):
    """A row: both sides, the ratios, and whether they reach the targets."""
    show = lambda value: f"{value:.0f}" if unit == "MB" else f"{value:.4f}"
    # A difference of two measured times can come out below nothing.
    cells = [what, show(peers[0]) if peers[0] else "", show(peers[1]) if peers[1] else "", show(own) if own > 0 else "too little to tell"]
    for peer, target in zip(peers, targets):
        ratio = peer / own if peer and own > 0 else None
        cells.append("" if ratio is None else f"{ratio:.1f}" + (f" (target {target}{'' if ratio >= target else ', missed'})" if target else ""))
    print("| " + " | ".join(cells) + " |", flush=True)


def matched(sides, size, folder, said):
    """Relative differences from areas and kilograms of general libraries in the same plane, without headland."""
    plans = [json.loads(text) for text in said.splitlines()]
    own, kg, rate = {}, [0.0, 0.0], {}
    field_m2 = 0.0
    for plan in plans:
        for row in plan["rates"]:
            classes = list(row["classes"].values())
            pair = f"{classes[0]},{classes[1] if len(classes) > 1 else sides.class_b}"
            own[pair] = own.get(pair, 0.0) + row["ha"] * 1e4
            field_m2 += row["ha"] * 1e4
            for nth, product in enumerate(("starter", "seed")):
                kg[nth] += row["kg"][product]
                rate[pair, nth] = row["kg_per_ha"][product]
    found = json.loads(run([sides.args.python, "-W", "ignore", str(HERE / "matched.py"), str(sides.args.data), size, str(folder), str(sides.args.peer)])[1])
    areas = found["class_m2"]
    pairs = sorted(own.keys() | areas.keys())
    worst = max(abs(own.get(pair, 0.0) - areas.get(pair, 0.0)) for pair in pairs)
    theirs = [sum(areas[pair] / 1e4 * rate.get((pair, nth), 0.0) for pair in areas) for nth in (0, 1)]
    covered = sum(areas.values())
    return [
        size,
        f"{field_m2:.4f}",
        f"{field_m2 / found['field_m2'] - 1:.1e}",
        f"{covered / found['field_m2'] - 1:.1e}",
        f"{worst:.4f}",
        *(f"{ours / other - 1:.1e}" for ours, other in zip(kg, theirs)),
    ]


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("data", type=Path)
    parser.add_argument("peer", type=Path)
    parser.add_argument("--twinsow", required=True)
    parser.add_argument("--stages", help="without it, no table of stages")
    parser.add_argument("--python", default=sys.executable)
    parser.add_argument("--reps", type=int, default=3)
    parser.add_argument("--sizes", nargs="+", default=["S", "M", "L", "FARM", "RASTER"])
    args = parser.parse_args()
    sides = Sides(args)
    sides.class_b = json.loads((args.data / "rates.json").read_text())["raster_class_b"]
    totals = []
    print("Seconds of processor; ratios: the other side / twinsow.\n")
    print("| what | tuned | idiomatic | twinsow | against tuned | against idiomatic |")
    print("|---|---:|---:|---:|---:|---:|")
    for size in args.sizes:
        tuned, plain = sides.stages_of_peer("tuned", size), sides.stages_of_peer("idiomatic", size)
        keep = lambda folder, said: totals.append(matched(sides, size, folder, said))
        one = sides.plan(size, "1", SAME, keep)
        two = sides.plan(size, "2", SAME)
        line(f"whole job {size}", (total(tuned), total(plain)), one["cpu"], (8, 40 if size == "L" else 30) if size != "S" else (0, 0))
        own = sides.stages_of_program(size) if args.stages and size != "FARM" else {}
        if own:
            # As the other side has it: no start of a process, and no file waited for until it is on the disk.
            line(f"whole job {size}, both in a warm process", (total(tuned), total(plain)), own["whole job"], (0, 0))
        cold = [sides.cold(mode, size) for mode in ("tuned", "idiomatic")]
        extra = [of_peer(stages, "8b", "8c") for stages in (tuned, plain)]
        if size in ("S", "M"):
            line(f"whole process {size}, cold", [c["cpu"] - e for c, e in zip(cold, extra)], one["cpu"], (20, 25))
        line(f"peak memory {size}, MB", [c["mb"] for c in cold], one["mb"], (3, 3) if size == "L" else (0, 0), "MB")
        line(f"two threads {size}, wall of one / two", (one["wall"], None), two["wall"], (1.7 if size in ("L", "FARM", "RASTER") else 0, 0))
        if size == "L" and own:
            pairs = [
                ("overlay L", ("5 ",), ("overlay",), (8, 40)),
                # twinsow lays two grids, with what setbacks and rim touch; its rates are those of one of them.
                ("cells of both grids, rates of one L", ("9 ", "9b"), ("cells", "rates of cells"), (10, 45)),
                # One grid on either side; twinsow's with what setbacks and rim touch.
                ("coverage of one grid and rates L", ("9 ", "9b"), ("metric cells", "rates of cells"), (10, 45)),
                ("read and project L", ("1 ", "2 ", "2b"), ("read and project",), (5, 15)),
                ("dissolve and write GeoJSON L", ("7 ", "8a"), ("dissolve", "write GeoJSON"), (8, 40)),
                ("headland L", ("4 ",), ("headland",), (0, 0)),
                ("GeoTIFF L", ("10",), ("write GeoTIFF",), (0, 0)),
                ("GeoPackage L", ("8b",), ("write GeoPackage",), (1, 0)),
                ("Shapefile L", ("8c",), ("write Shapefile",), (1, 0)),
            ]
            for what, theirs, ours, targets in pairs:
                # Every form has checks before writing and plan.json with it, which the other side has not.
                beside = own["write plan.json"] * sum(name.startswith("write ") for name in ours)
                seconds = sum(own[name] for name in ours) - beside
                line(what, (of_peer(tuned, *theirs), of_peer(plain, *theirs)), seconds, targets)
            line("checks before writing and plan.json L", (None, None), own["write plan.json"], (0, 0))
            line("task data L", (None, None), own["write task data"] - own["write plan.json"], (0, 0))
            line("first rates L", (None, None), own["first rates"], (0, 0))
            line("replan after one rate changed L (target 0.015)", (None, None), own["replan"], (0, 0))
        if size != "FARM":
            everything = sides.plan(size, "1", [])
            line(f"every form, report and audit {size}", (None, None), everything["cpu"], (0, 0))
    print("\nThe whole field in twinsow's plane, by general libraries (GEOS in double precision, PROJ), without headland.\n")
    print("| input | field m2 | field, twinsow / libraries - 1 | of it in zones, libraries - 1 | largest difference of a pair of classes, m2 | starter kg, ratio - 1 | seed kg, ratio - 1 |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    for row in totals:
        print("| " + " | ".join(row) + " |")


if __name__ == "__main__":
    main()
