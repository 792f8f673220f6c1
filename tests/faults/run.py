#!/usr/bin/env python3
"""The n-th call of each kind that the program makes to the system fails, or the program is killed there (strace).

For every writing command: afterwards the old or the new result is whole, the exit code says who is at fault, and the
next run works and leaves nothing behind. Then another user's folder, a limit on the size of files, and full disks.

Usage: run.py TWINSOW FOLDER [CASE ...]     TWINSOW_EVERY_FAULT=1: every n, not a few of each kind; with names of cases these alone
"""
import http.client
import json
import os
import re
import shutil
import signal
import struct
import subprocess
import sys
import time
from pathlib import Path

TWINSOW = Path(sys.argv[1]).resolve()
HOME = Path(sys.argv[2]).resolve()
ONLY = sys.argv[3:]
EVERY = os.environ.get("TWINSOW_EVERY_FAULT") == "1"
# Per kind of call: how it fails.
CALLS = {
    "openat": "EIO", "read": "EIO", "write": "ENOSPC", "pwrite64": "EIO", "fsync": "EIO", "fdatasync": "EIO",
    "rename": "EIO", "mkdir": "EACCES", "unlink": "EIO", "unlinkat": "EIO", "rmdir": "EIO", "close": "EIO",
    "flock": "EIO", "getdents64": "EIO", "ftruncate": "EIO",
}
FEW = 5
# Plans like any other, with inputs before them or files after them, which take longest.
FEW_OF_SEVERAL = 2
ENV = dict(os.environ, SOURCE_DATE_EPOCH="1790000000", NO_COLOR="1", RAYON_NUM_THREADS="1")
checks = 0
broken = []

BOUNDARY = (
    '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"made"},"geometry":{"type":'
    '"Polygon","coordinates":[[[2.0,53.0],[2.002,53.0],[2.002,53.001],[2.0,53.001],[2.0,53.0]]]}}]}'
)
JOB = """
name = "made"
[field]
name = "made"
boundary = {{ file = "boundary.geojson" }}
[[layer]]
name = "soil"
source = {{ file = "soil.geojson" }}
class_attribute = "soil"
[drill]
working_width_m = 6.0
[[drill.hopper]]
name = "front"
usable_l = 1900.0
[[product]]
id = "seed"
crop = "wheat"
name = "seed"
kind = "seed"
hopper = "front"
rate = {{ kg_per_ha = {{ layer = "soil", by_class = {{ a = {rate}, b = 190.0 }} }} }}
limits = {{ min_kg_per_ha = 100.0, max_kg_per_ha = 300.0 }}
"""
SOIL = (
    '{"type":"FeatureCollection","features":['
    '{"type":"Feature","properties":{"soil":"a"},"geometry":{"type":"Polygon","coordinates":[[[1.99,52.99],[2.001,52.99],[2.001,53.01],[1.99,53.01],[1.99,52.99]]]}},'
    '{"type":"Feature","properties":{"soil":"b"},"geometry":{"type":"Polygon","coordinates":[[[2.001,52.99],[2.01,52.99],[2.01,53.01],[2.001,53.01],[2.001,52.99]]]}}]}'
)


# Two fields in one file, each planned in a folder of its own, with a map and a table of both.
BOUNDARIES = (
    '{"type":"FeatureCollection","features":['
    '{"type":"Feature","properties":{"parcel":"1"},"geometry":{"type":"Polygon","coordinates":[[[2.0,53.0],[2.002,53.0],[2.002,53.001],[2.0,53.001],[2.0,53.0]]]}},'
    '{"type":"Feature","properties":{"parcel":"2"},"geometry":{"type":"Polygon","coordinates":[[[2.0,53.002],[2.002,53.002],[2.002,53.003],[2.0,53.003],[2.0,53.002]]]}}]}'
)


def many_inputs(folder, rate):
    inputs(folder, rate)
    (folder / "boundary.geojson").write_text(BOUNDARIES)
    job = (folder / "job.toml").read_text().replace('\nboundary', '\nsplit_by = "parcel"\nboundary')
    assert "split_by" in job
    (folder / "job.toml").write_text(job)


def inputs(folder, rate):
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "boundary.geojson").write_text(BOUNDARY)
    (folder / "soil.geojson").write_text(SOIL)
    (folder / "job.toml").write_text(JOB.format(rate=rate))


def content(path):
    """Every file below a path by its name, as bytes; nothing where there is nothing."""
    if path.is_file():
        return {"": path.read_bytes()}
    # Whether a folder can be replaced is tried with an empty file, which a stop may leave.
    files = (p for p in sorted(path.rglob("*")) if p.is_file() and p.name != ".twinsow-plan.twinsow-part")
    return {str(p.relative_to(path)): p.read_bytes() for p in files}


def run(args, cwd, before=(), user=()):
    command = [*user, *before, str(TWINSOW), *args]
    done = subprocess.run(command, cwd=cwd, env=ENV, capture_output=True, text=True, errors="replace", timeout=120)
    return done.returncode, done.stdout + done.stderr


def held(what, is_so, more=""):
    global checks
    checks += 1
    if not is_so:
        broken.append(what)
        print(f"BROKEN: {what}\n    {more[:600]}")


class Case:
    """A command that writes `out` in its folder (several files: their names with a space between): what was there before, and what
    it makes."""

    # Several results, each of which is whole, but which do not change at once.
    SEVERAL = ("demo", "together")
    # The same of a few files of a command, with names and nothing else in common.
    FILES = ("harvest", "compare-record", "compare-rest", "compare-ledger")

    def __init__(self, name, args, out, prepare):
        self.name, self.args, self.outs = name, args, out.split()
        self.folder = HOME / name
        self.files = name in self.FILES
        self.single = all("." in out for out in self.outs)
        self.of_several = name in self.SEVERAL or self.files
        self.prepared = HOME / f"{name}-prepared"
        shutil.rmtree(self.prepared, ignore_errors=True)
        prepare(self.prepared)
        self.reset()
        self.old = self.now()
        code, said = self.run()
        assert code in (0, 1), said
        self.new = self.now()
        self.beside = self.names()
        assert self.new and self.new != self.old

    def run(self, before=()):
        """Exit code, and what was said."""
        return run(self.args, self.folder, before)

    def now(self):
        """What is there of the result; of several files by their names."""
        if len(self.outs) == 1:
            return content(self.folder / self.outs[0])
        there = (self.folder / out for out in self.outs)
        return {path.name: path.read_bytes() for path in there if path.exists()}

    def kinds(self):
        return CALLS

    def reset(self):
        shutil.rmtree(self.folder, ignore_errors=True)
        shutil.copytree(self.prepared, self.folder)

    def whole(self, there):
        """Whether a result that is not all there is whole all the same: the demo's inputs, or these and its plan; of many
        fields each field and each of the two files, old or new or not yet there."""
        if self.files:
            names = {*self.finished(there), *self.old, *self.new}
            return all(there.get(name) in (self.old.get(name), self.new.get(name)) for name in names)
        if self.name == "together":
            groups = {}
            for which, files in enumerate((self.finished(there), self.old, self.new)):
                for name, file in files.items():
                    groups.setdefault(name.split("/")[0], ({}, {}, {}))[which][name] = file
            return all(now in (old, new) or not now or self.of_some(now) for now, old, new in groups.values())
        if self.name != "demo":
            return there in (self.old, self.new) or not there
        there = self.finished(there)
        plan = [name for name in self.new if name.startswith("job-plan/")]
        known = [name for name in plan if name in there]
        return known in ([], plan) and all(there[name] == self.new.get(name) for name in there)

    def of_some(self, files):
        """Whether this is one of the files over all fields, whole, with those fields that did not fail."""
        [(name, file), *others] = files.items()
        if others or not name.startswith("all-fields."):
            return False
        if name.endswith(".csv"):
            lines = file.decode().splitlines()
            known = self.new[name].decode().splitlines()
            return lines[:1] == known[:1] and all(line in known for line in lines)
        try:
            features = json.loads(file)["features"]
        except ValueError:
            return False
        known = json.loads(self.new[name])["features"]
        return all(feature in known for feature in features)

    def finished(self, there):
        """Of a folder of plans without what has another name because it is not finished, and the lock: the next run removes it."""
        if not self.of_several:
            return there
        unfinished = lambda name: ".twinsow-" in name or name.endswith(".part")
        return {name: file for name, file in there.items() if not unfinished(name.split("/")[0])}

    def names(self):
        return sorted(p.name for p in self.folder.iterdir())

    def calls(self, call):
        """How many calls of a kind the command makes after the loader is done."""
        self.reset()
        log = self.folder.parent / "calls.txt"
        self.run(["strace", "-f", "-o", str(log), "-e", f"trace={call}"])
        return len(re.findall(rf"\b{call}\(", log.read_text()))

    def fails_at(self, call, n, how):
        self.reset()
        inject = f"inject={call}:{how}:when={n}"
        code, said = self.run(["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={call}", "-e", inject])
        if "while loading shared libraries" in said:
            return
        what = f"{self.name}: call {n} of {call}, {how}"
        there = self.now()
        killed = how.startswith("signal")
        if killed:
            # Between the two moves the folder has another name; the next run brings it back or replaces it.
            held(f"{what}: old or new", self.whole(there), said)
        else:
            held(f"{what}: exit {code}", code in (0, 1, 2, 3), said)
            held(f"{what}: no panic", "panicked" not in said, said)
            if code in (0, 1):
                done = self.finished(there)
                other = [name for name in {*done, *self.new} if done.get(name) != self.new.get(name)]
                held(f"{what}: done and new", not other, f"{other} {said}")
            else:
                # A single file may have its name before the last wait for the disk fails, and what is told on the
                # terminal comes last.
                late = self.single and call in ("fsync", "openat") or "standard output cannot" in said
                is_whole = there == self.old or (late or self.of_several) and self.whole(there)
                held(f"{what}: exit {code} and old", is_whole, said)
            # Only what was read before anything is written may be the user's to mend.
            if call in ("write", "pwrite64", "fsync", "fdatasync", "rename", "mkdir", "flock", "ftruncate"):
                held(f"{what}: the machine's fault", code != 2, said)
        if self.name in ("new", "zones", "edit") and there == self.new:
            return  # It is done, and does not write over what somebody may have edited since.
        code, said = self.run()
        held(f"{what}: the next run works", code in (0, 1) and self.now() == self.new, said)
        held(f"{what}: nothing is left beside", self.names() == self.beside, str(self.names()))


def children(pid):
    """Numbers of the processes that one has started, while it runs."""
    try:
        return [int(own) for own in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:
        return []


class Edit(Case):
    """The page of `edit`, asked as a browser would ask it: a change of the job, which is in its file once the page has its answer."""

    ACTION = {"do": "set", "path": ["product", 0, "limits", "max_kg_per_ha"], "value": 280}

    def kinds(self):
        # Other calls are those of the server and of the engine at work, whose number is not the same from run to run.
        return {call: error for call, error in CALLS.items() if call in ("fsync", "rename")}

    def run(self, before=()):
        command = [*before, str(TWINSOW), *self.args]
        server = subprocess.Popen(command, cwd=self.folder, env=ENV, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        try:
            lines = iter(server.stdout.readline, "")
            address = next((line.strip() for line in lines if "http://" in line), None)
            if address is None:
                return server.wait(), "no address"
            host, token = re.match(r"http://([^/]+)(/.*)", address).groups()
            page = http.client.HTTPConnection(host, timeout=60)
            page.request("GET", token)
            answer = page.getresponse()
            answer.read()
            cookie = answer.getheader("set-cookie").split(";")[0]
            own = {"Cookie": cookie, "Origin": f"http://{host}", "Content-Type": "application/json", "Connection": "close"}
            page.request("POST", "/act", json.dumps(self.ACTION), own)
            answer = page.getresponse()
            said = answer.read().decode()
            fault = json.loads(said).get("fault") if answer.status != 200 else None
            return (0 if answer.status == 200 else 3 if fault else 2), said
        except (OSError, http.client.HTTPException) as error:
            return -signal.SIGKILL, str(error)
        finally:
            # Under strace the program is its child.
            for own in children(server.pid) or [server.pid]:
                os.kill(own, signal.SIGINT)
            try:
                server.wait(timeout=30)
            except subprocess.TimeoutExpired:
                server.kill()
                server.wait()
            server.stdout.close()


def planned(folder):
    inputs(folder, 150.0)
    code, said = run(["plan", "job.toml", "--out", "plan"], folder)
    assert code in (0, 1), said


def plan(folder):
    planned(folder)
    inputs(folder, 160.0)


def together(folder):
    many_inputs(folder, 150.0)
    code, said = run(TOGETHER, folder)
    assert code in (0, 1), said
    many_inputs(folder, 160.0)


def order(ending, option):
    def prepare(folder):
        planned(folder)
        code, said = run(["order", "job.toml", option, f"list.{ending}"], folder)
        assert code in (0, 1), said
        inputs(folder, 160.0)
    return prepare


def counts(folder):
    """A job of seeds by their number, and plants counted on its land."""
    inputs(folder, 150.0)
    job = (folder / "job.toml").read_text()
    by_mass = job[job.index("rate = "):job.index("limits")]
    by_number = "thousand_grain_weight_g = 45.0\ngermination_percent = 95.0\nrate = { plants_per_m2 = 300, establishment_percent = 85.0 }\n"
    (folder / "job.toml").write_text(job.replace(by_mass, by_number))
    rows = (f"{2.0002 + 0.0004 * (n % 4)},{53.0002 + 0.0003 * (n // 4)},{250 + n}" for n in range(12))
    (folder / "counts.csv").write_text("lon,lat,plants\n" + "\n".join(rows) + "\n")


def log(folder):
    """Task data with a log of one bout, 6 m wide, at 150 kg/ha."""
    stick = folder / "TASKDATA"
    stick.mkdir()
    (stick / "TASKDATA.XML").write_text(
        '<?xml version="1.0"?><ISO11783_TaskData VersionMajor="4" VersionMinor="3" DataTransferOrigin="2">'
        '<PDT A="PDT1" B="seed"/><TSK A="TSK1" B="as driven" G="4"><PAN A="PDT1" E="DET2"/>'
        '<TLG A="TLG00001" C="1"/></TSK></ISO11783_TaskData>')
    (stick / "TLG00001.XML").write_text(
        '<?xml version="1.0"?><TIM A="" D="4"><PTN A="" B="" D=""/><DLV A="008D" B="" C="DET1"/>'
        '<DLV A="0007" B="" C="DET2"/></TIM>')
    record = lambda n: struct.pack(
        "<IHiibBBiBi", 20_000_000 + 1000 * n, 17_000, 530_000_500 + 250 * n, 20_005_000, 4, 2, 0, int(n < 30), 1, 15_000)
    (stick / "TLG00001.BIN").write_bytes(b"".join(record(n) for n in range(31)))


def compared(*options):
    """A plan with a log, compared before; then the map of another plan."""
    def prepare(folder):
        planned(folder)
        log(folder)
        code, said = run(["compare", "plan", "TASKDATA", *options], folder)
        assert code in (0, 1), said
        plan_again(folder)
    return prepare


def plan_again(folder):
    inputs(folder, 160.0)
    code, said = run(["plan", "job.toml", "--out", "plan"], folder)
    assert code in (0, 1), said


def stick(*options):
    """A stick with the plan of before."""
    def prepare(folder):
        (with_spreader if options else inputs)(folder, 150.0)
        code, said = run(["plan", "job.toml", "--out", "plan"], folder)
        assert code in (0, 1), said
        code, said = run(["stick", "plan", "--to", "stick", *options], folder)
        assert code == 0, said
        (with_spreader if options else inputs)(folder, 160.0)
        code, said = run(["plan", "job.toml", "--out", "plan"], folder)
        assert code in (0, 1), said
    return prepare


def with_spreader(folder, rate):
    """A job with a fertiliser of which half is left for the spreader."""
    inputs(folder, rate)
    job = (folder / "job.toml").read_text() + f"""
[[product]]
id = "starter"
name = "starter"
kind = "fertiliser"
hopper = "rear"
grade = {{ p2o5_percent = 46.0 }}
rate = {{ kg_per_ha = {rate / 2}, placed_percent = 50.0 }}
[[own_seed_limit]]
product = "starter"
grade = {{ p2o5_percent = 46.0 }}
max_kg_per_ha = 5000.0
crop = "wheat"
row_spacing_m = 2.0
because = "invented for this test: no limit"
by = "the grower"
on = "2026-01-15"
[spreader]
name = "spreader"
working_width_m = 18.0
"""
    hopper = '[[drill.hopper]]\nname = "front"\nusable_l = 1900.0\n'
    assert hopper in job
    (folder / "job.toml").write_text(job.replace(hopper, hopper + hopper.replace("front", "rear")))


def harvested(folder):
    """A plan with its harvest read before; then more of the harvest."""
    planned(folder)
    points = lambda more: "".join(
        f"{2.0001 + 0.00003 * (n % 60):.5f},{53.0001 + 0.0001 * (n // 60):.4f},{7 + more + n % 7 / 10:.1f},14.5\n" for n in range(480))
    head = "lon,lat,yield,moisture\n"
    (folder / "yield.csv").write_text(head + points(0))
    code, said = run(HARVEST, folder)
    assert code in (0, 1), said
    (folder / "yield.csv").write_text(head + points(1))


TOGETHER = ["plan", "job.toml", "--out", "plans", "--together"]
HARVEST = ["harvest", "plan", "yield.csv", "--crs", "EPSG:4326", "--column", "yield=yield:t/ha", "--column", "moisture=moisture",
           "--yield-at", "14.5", "--moisture-basis", "14.5", "--width", "6", "--out", "harvest"]
COMPARE = ["compare", "plan", "TASKDATA"]
CASES = [
    ("plan", ["plan", "job.toml", "--out", "plan"], "plan", plan),
    ("order-csv", ["order", "job.toml", "--csv", "list.csv"], "list.csv", order("csv", "--csv")),
    ("order-page", ["order", "job.toml", "--page", "list.html"], "list.html", order("html", "--page")),
    ("zones", ["zones", "job.toml", "--out", "zones"], "zones", lambda folder: inputs(folder, 150.0)),
    ("new", ["new", ".", "--boundary", "boundary.geojson"], "job.toml",
     lambda folder: (inputs(folder, 150.0), (folder / "job.toml").unlink())),
    ("establishment", ["establishment", "job.toml", "counts.csv", "--column", "plants", "--per", "m2", "--next"],
     "job-next.toml", counts),
    ("compare-map", [*COMPARE, "--map", "map.geojson"], "map.geojson", compared("--map", "map.geojson")),
    ("compare-page", [*COMPARE, "--page", "page.html"], "page.html", compared("--page", "page.html")),
    ("compare-ledger", [*COMPARE, "--ledger", "ledger"], "ledger/2026.csv ledger/2026.geojson", compared("--ledger", "ledger")),
    ("compare-record", [*COMPARE, "--record", "record"], "record.html record.csv record.json", compared("--record", "record")),
    ("compare-rest", [*COMPARE, "--rest", "job.toml"], "job-rest.toml job-drilled.geojson", compared("--rest", "job.toml")),
    ("harvest", HARVEST, "harvest", harvested),
    ("stick", ["stick", "plan", "--to", "stick"], "stick", stick()),
    ("stick-spreader", ["stick", "plan", "--to", "stick", "--spreader"], "stick", stick("--spreader")),
    ("edit", ["edit", "--no-open", "job.toml"], "job.toml", lambda folder: inputs(folder, 150.0)),
    ("together", TOGETHER, "plans", together),
    ("demo", ["demo", "--out", "demo"], "demo", lambda folder: folder.mkdir(parents=True)),
]


def every_call():
    wanted = [case for case in CASES if not ONLY or case[0] in ONLY]
    for case in ((Edit if case[0] == "edit" else Case)(*case) for case in wanted):
        started, before = time.time(), checks
        for call, error in case.kinds().items():
            count = case.calls(call)
            few = FEW_OF_SEVERAL if case.of_several else FEW
            step = 1 if EVERY or count <= few else count / few
            numbers = sorted({max(1, round(1 + step * k)) for k in range(count if step == 1 else few)} | ({count} if count else set()))
            for n in (n for n in numbers if n <= count):
                case.fails_at(call, n, f"error={error}")
                case.fails_at(call, n, "signal=KILL")
        print(f"{case.name}: {checks - before} checks in {time.time() - started:.0f} s")


def another_user():
    """A result of root's, and a user who may not delete it."""
    folder = HOME / "other"
    shutil.rmtree(folder, ignore_errors=True)
    plan(folder)
    before = content(folder / "plan")
    program = folder / "twinsow"
    shutil.copy(TWINSOW, program)
    os.chmod(folder, 0o777)
    for parent in HOME.parents:
        if os.stat(parent).st_mode & 0o5 != 0o5:
            print(f"NOT DONE: another user cannot reach {HOME}, so a folder of root's was not tried")
            return
    nobody = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"]
    command = [*nobody, str(program), "plan", "job.toml", "--out", "plan"]
    done = subprocess.run(command, cwd=folder, env=ENV, capture_output=True, text=True, timeout=60)
    held("another user's folder is the machine's fault", done.returncode == 3, done.stdout + done.stderr)
    held("another user's folder is whole", content(folder / "plan") == before)
    beside = sorted(p.name for p in folder.iterdir())
    held("nothing is left beside it", beside == ["boundary.geojson", "job.toml", "plan", "soil.geojson", "twinsow"], str(beside))
    code, said = run(["plan", "job.toml", "--out", "plan"], folder)
    held("its owner can go on", code in (0, 1), said)


def too_large():
    folder = HOME / "large"
    for blocks in (0, 1, 4, 16, 64):
        shutil.rmtree(folder, ignore_errors=True)
        plan(folder)
        before = content(folder / "plan")
        command = f"ulimit -f {blocks}; exec {TWINSOW} plan job.toml --out plan"
        done = subprocess.run(["bash", "-c", command], cwd=folder, env=ENV, capture_output=True, text=True, timeout=60)
        held(f"files of at most {blocks} KiB: exit {done.returncode}", done.returncode == 3, done.stdout + done.stderr)
        held(f"files of at most {blocks} KiB: the old plan is whole", content(folder / "plan") == before)
        code, said = run(["plan", "job.toml", "--out", "plan"], folder)
        held(f"files of at most {blocks} KiB: the next run works", code in (0, 1), said)


def full_disk():
    disk = HOME / "disk"
    disk.mkdir(exist_ok=True)
    sizes = range(16, 1200, 16 if EVERY else 148)
    for kib in sizes:
        mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kib}k", "tmpfs", str(disk)], capture_output=True, text=True)
        if mounted.returncode:
            print(f"NOT DONE: no small disk can be mounted here ({mounted.stderr.strip()}), so full disks were not tried")
            return
        try:
            inputs(HOME / "for-disk", 150.0)
            code, said = run(["plan", "job.toml", "--out", str(disk / "plan")], HOME / "for-disk")
            left = sorted(p.name for p in disk.iterdir())
            full = code == 3 and left == []
            held(f"a disk of {kib} KiB: exit {code}", full or code in (0, 1) and left == ["plan"], f"{left} {said}")
        finally:
            subprocess.run(["umount", str(disk)], check=True)


HOME.mkdir(parents=True, exist_ok=True)
every_call()
if not ONLY:
    another_user()
    too_large()
    full_disk()
print(f"faults: {checks} checks, {len(broken)} broken")
sys.exit(1 if broken else 0)
