#!/usr/bin/env python3
"""Times of `twinsow edit` as a browser meets them, without the drawing: from the start of the command to the first picture,
and from a changed rate to its answer. Copies the folder of the job first, so that nothing is changed.

usage: edit_times.py JOB.toml --twinsow BINARY [--path product.0.limits.max_kg_per_ha --values 190,200]
"""

import argparse
import http.client
import json
import pathlib
import shutil
import statistics
import subprocess
import tempfile
import time


class Page:
    def __init__(self, binary, job):
        self.began = time.perf_counter()
        self.process = subprocess.Popen(
            [binary, "edit", "--no-open", str(job)], stdout=subprocess.PIPE, text=True
        )
        address = next(line.strip() for line in self.process.stdout if "http://" in line)
        self.host, _, self.query = address.removeprefix("http://").partition("/")
        self.connection = http.client.HTTPConnection(self.host)
        self.connection.request("GET", "/" + self.query)
        answer = self.connection.getresponse()
        answer.read()
        self.cookie = answer.getheader("set-cookie").split(";")[0]

    def ask(self, method, path, body=None):
        headers = {"Cookie": self.cookie}
        if method == "POST":
            headers |= {"Origin": f"http://{self.host}", "Content-Type": "application/json"}
        self.connection.request(method, path, body and json.dumps(body), headers)
        answer = self.connection.getresponse()
        content = answer.read()
        if answer.status != 200:
            raise SystemExit(f"{method} {path}: {answer.status} {content.decode()}")
        return content


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("job", type=pathlib.Path)
    parser.add_argument("--twinsow", required=True)
    parser.add_argument("--path", default="product.0.limits.max_kg_per_ha")
    parser.add_argument("--values", default="190,200")
    parser.add_argument("--rounds", type=int, default=10)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        copy = pathlib.Path(folder) / "job"
        shutil.copytree(arguments.job.resolve().parent, copy)
        page = Page(arguments.twinsow, copy / arguments.job.name)
        try:
            measure(page, arguments)
        finally:
            page.ask("POST", "/leave", {})
            page.process.wait()


def measure(page, arguments):
    beat = 0
    while True:
        state = json.loads(page.ask("GET", f"/state?after={beat}"))
        beat = state["beat"]
        if state["fault"]:
            raise SystemExit(state["fault"]["text"])
        if state["plan"]:
            break
    picture = page.ask("GET", f"/picture/{state['plan']['picture']}")
    first = time.perf_counter() - page.began
    print(f"command to first picture received: {first * 1000:.0f} ms ({len(picture)} bytes, {len(state['plan']['rows'])} rows)")
    while not state["plan"]["whole"]:
        state = json.loads(page.ask("GET", f"/state?after={beat}"))
        beat = state["beat"]
    print(f"command to whole plan: {(time.perf_counter() - page.began) * 1000:.0f} ms")
    path = [int(step) if step.isdigit() else step for step in arguments.path.split(".")]
    values = [float(value) for value in arguments.values.split(",")]
    times, sizes = [], []
    for nth in range(arguments.rounds):
        body = {"do": "set", "path": path, "value": values[nth % len(values)]}
        began = time.perf_counter()
        answer = page.ask("POST", "/act", body)
        times.append((time.perf_counter() - began) * 1000)
        sizes.append(len(answer))
        assert json.loads(answer)["plan"]["current"]
    print(f"changed rate to answer: median {statistics.median(times):.1f} ms, longest {max(times):.1f} ms ({max(sizes)} bytes)")


if __name__ == "__main__":
    main()
