#!/usr/bin/env python3
"""An engine for many machines drives `twinsow stream`: the same totals as one process, and a killed worker costs nothing.

Dask (dask.distributed) runs two worker processes on this machine. Each task pipes a part of the lines through a program of its own,
as the pipe operator of such engines does. While they work, one worker is killed; the engine starts another and gives it the
part again, which is allowed because no answer depends on another line.

usage: stream_engine.py PROGRAM FOLDER [--fields 200] [--parts 20]
"""

import argparse
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

from distributed import Client, LocalCluster, as_completed

import farm

# A worker that dies takes its program's part with it; so often may a part be given out again.
RETRIES = 3


def pipe(program, job, lines, seconds):
    """A part of the lines through a program of its own: what the workers do. `seconds`: time to be killed in."""
    time.sleep(seconds)
    done = subprocess.run(
        [program, "stream", "--job", job, "--threads", "1"], input="".join(lines), capture_output=True, text=True, check=True
    )
    answers = done.stdout.splitlines()
    assert len(answers) == len(lines), f"{len(answers)} answers to {len(lines)} lines"
    return answers


def one_process(program, job, folder):
    """Totals of all fields by `plan` in a single process."""
    out = folder / "plans"
    done = subprocess.run(
        [program, "plan", job, "--out", str(out), "--json", "--threads", "1"], capture_output=True, text=True
    )
    if done.returncode not in (0, 1):
        sys.exit(done.stderr[-2000:])
    totals = {}
    for line in done.stdout.splitlines():
        plan = json.loads(line)
        number = plan["field"].rsplit(" ", 1)[1]
        totals[number] = {product["id"]: sum(row["kg"][product["id"]] for row in plan["rates"]) for product in plan["tally"]["products"]}
        totals[number]["ha"] = plan["mapped_ha"]
    return totals


def by_engine(program, job, lines, parts, kill):
    """Answers in the order of the lines, and how many workers died."""
    size = -(-len(lines) // parts)
    pieces = [lines[n : n + size] for n in range(0, len(lines), size)]
    died = 0
    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster, Client(cluster) as client:
        before = set(client.run(os.getpid).values())
        wait = 0.3 if kill else 0.0
        futures = [client.submit(pipe, program, job, piece, wait, retries=RETRIES, pure=False) for piece in pieces]
        first = next(iter(as_completed(futures)))
        first.result()
        if kill:
            victim = sorted(before)[0]
            os.kill(victim, signal.SIGKILL)
        answers = [line for piece in client.gather(futures) for line in piece]
        client.wait_for_workers(2, timeout=30)
        died = len(before - set(client.run(os.getpid).values()))
    return answers, died


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("program")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--fields", type=int, default=200)
    parser.add_argument("--parts", type=int, default=20)
    args = parser.parse_args()
    program = str(Path(args.program).resolve())
    folder = args.folder.resolve()
    farm.write(folder, args.fields)
    lines = [line + "\n" for line in farm.requests(args.fields)]

    start = time.perf_counter()
    single = one_process(program, str(folder / "farm.toml"), folder)
    seconds = time.perf_counter() - start
    print(f"one process, all files written: {args.fields} fields in {seconds:.1f} s")

    start = time.perf_counter()
    answers, died = by_engine(program, str(folder / "one.toml"), lines, args.parts, kill=True)
    seconds = time.perf_counter() - start
    print(f"engine, two workers, one of them killed: {args.fields} fields in {seconds:.1f} s")
    assert died == 1, f"{died} workers died, and one was killed"

    ids = [json.loads(line)["id"] for line in answers]
    assert ids == list(range(1, args.fields + 1)), "answers are not in the order of the lines"
    worst = 0.0
    for line in answers:
        answer = json.loads(line)
        assert answer["exit"] in (0, 1), answer
        mine = {product["id"]: product["map_kg"] for product in answer["products"]} | {"ha": answer["mapped_ha"]}
        theirs = single[str(answer["id"])]
        assert mine.keys() == theirs.keys()
        for key, value in mine.items():
            worst = max(worst, abs(value / theirs[key] - 1.0))
    # The same plan; only the order of adding up rows differs.
    assert worst < 1e-12, f"totals differ by up to {worst:.1e}"
    kg = sum(product["map_kg"] for line in answers for product in json.loads(line)["products"])
    print(f"totals as by one process (largest difference {worst:.0e}): {kg:.1f} kg on {sum(t['ha'] for t in single.values()):.2f} ha")


if __name__ == "__main__":
    main()
