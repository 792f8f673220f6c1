"""The two yield sets of the folder SHARED from file to page.

Usage: harvest.py TWINSOW SHARED FOLDER. A plan is made over each field (a made-up rate: the harvest only needs its land), the yield
points are read and cleaned, the trial of the second is answered, and what comes out is held against figures that are worked out
anew here with numpy. Ends with 0 and `NOT THERE` where SHARED is not there.
"""

import csv
import json
import pathlib
import subprocess
import sys

import numpy

JOB = """
name = "{name}"
field = {{ name = "{name}", boundary = {{ file = "field.geojson" }} }}
drill = {{ working_width_m = 6, hopper = [{{ name = "front", usable_l = 1000 }}] }}
[[product]]
id = "wheat"
name = "wheat"
kind = "seed"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
rate.kg_per_ha = 150
"""


def rows(path):
    with open(path, newline="") as file:
        return list(csv.DictReader(file, delimiter="\t"))


def ready(twinsow, folder, name, table):
    """The points as CSV and a plan over their box."""
    folder.mkdir(parents=True)
    lon = [float(row["long"]) for row in table]
    lat = [float(row["lat"]) for row in table]
    west, east, south, north = min(lon) - 2e-4, max(lon) + 2e-4, min(lat) - 2e-4, max(lat) + 2e-4
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    (folder / "field.geojson").write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    (folder / "job.toml").write_text(JOB.format(name=name))
    with open(folder / "yield.csv", "w", newline="") as file:
        writer = csv.DictWriter(file, table[0])
        writer.writeheader()
        writer.writerows(table)
    run(twinsow, "plan", folder / "job.toml", "--out", folder / "plan", allowed=(0, 1))


def run(*command, allowed=(0,)):
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True)
    if done.returncode not in allowed:
        sys.exit(f"{' '.join(map(str, command))}\nended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return done.stdout


def near(what, found, wanted, tolerance):
    if abs(found - wanted) > tolerance:
        sys.exit(f"{what}: {found} instead of {wanted} within {tolerance}")
    print(f"  {what}: {found:.4g} ({wanted:.4g})")


def page_says(folder, *texts):
    page = (folder / "harvest" / "harvest.html").read_text()
    for text in texts:
        if text not in page:
            sys.exit(f"{folder}: the page does not say '{text}'")


def minnesota(twinsow, shared, work):
    """Raw readings of a yield monitor: flow, distance, moisture."""
    table = rows(shared / "gartner.corn.txt")
    folder = work / "minnesota"
    ready(twinsow, folder, "Minnesota", table)
    told = json.loads(run(
        twinsow, "harvest", folder / "plan", folder / "yield.csv", "--column", "flow=mass:lb/s", "--column", "moisture=moist",
        "--column", "distance=dist:in", "--column", "interval=seconds:s", "--column", "time=time", "--width", "9.144",
        "--moisture-basis", "15.5", "--delay", "0", "--json"))
    # The formula of the data's README, of all readings; cleaned and with overlaps taken off the mean lies near its median.
    number = {name: numpy.array([float(row[name]) for row in table]) for name in ("mass", "seconds", "dist", "moist")}
    bushels = number["mass"] * number["seconds"] * (100 - number["moist"]) / (100 - 15.5) / 56
    per_acre = bushels / (number["dist"] * 360 / 6_272_640)
    kg_per_ha = per_acre * 56 * 0.45359237 / 0.40468564224
    near("readings", told["readings"], len(table), 0)
    points = json.loads((folder / "harvest" / "readings.geojson").read_text())["features"]
    own = [point["properties"]["kg_per_ha"] for point in points]
    taken = [point["properties"]["taken_by"] for point in points]
    near("layer of readings", len(points), len(table), 0)
    counted = sum(step["readings"] for step in told["steps"]) + told["counting"]
    near("readings by step and those that count", counted, len(table), 0)
    apart = [abs(mine / theirs - 1) for mine, theirs, by in zip(own, kg_per_ha, taken) if by is None and mine]
    # Where nothing overlaps the yield is that of the formula; land cut twice raises the others.
    near("median departure from the formula", float(numpy.median(apart)), 0, 0.005)
    share = 1 - told["counting"] / told["readings"]
    # 'Screening yield monitor data' takes 13 to 20 %, published range 10 to 50 %; few takes fewer where the file was clean.
    if not 0.005 < share < 0.5:
        sys.exit(f"{share:.1%} of the readings were taken")
    print(f"  {share:.1%} of the readings were taken, mean {told['mean_kg_per_ha']:.0f} kg/ha (all, plain: {numpy.median(kg_per_ha):.0f})")
    page_says(folder, "Indication", "No plots were given")


def las_rosas(twinsow, shared, work):
    """Strips with six rates of N in three blocks: a response, its optimum."""
    table = [row for row in rows(shared / "lasrosas.corn.txt") if row["year"] == "1999"]
    folder = work / "las-rosas"
    ready(twinsow, folder, "Las Rosas", table)
    # Yields are dt/ha (q/ha); 6.85 $ per dt and 0.4348 $ per kg of N, as published with the data.
    told = json.loads(run(
        twinsow, "harvest", folder / "plan", folder / "yield.csv", "--column", "yield=yield:dt/ha", "--column", "treatment=nitro",
        "--column", "block=rep", "--yield-at", "14.5", "--moisture-basis", "14.5", "--ends", "0", "--price", "60,68.5,80",
        "--rate-price", "0.4348", "--currency", "USD", "--json"))
    answer = told["answer"]
    rates = sorted({float(row["nitro"]) for row in table})
    near("treatments", len(answer["means"]), len(rates), 0)
    for (name, kg, _), rate in zip(answer["means"], rates):
        strips = {}
        for row in table:
            if float(row["nitro"]) == rate:
                strips.setdefault(row["rep"], []).append(float(row["yield"]) * 100)
        plain = numpy.mean([numpy.mean(strip) for strip in strips.values()])
        near(f"mean at {name}", kg, plain, 0.02 * plain)
    print("  " + told["sentence"])
    print("  " + told["money"])
    page_says(folder, "Indication", "Next year", "Response curve through plot means")


def main():
    twinsow, shared, work = map(pathlib.Path, sys.argv[1:])
    if not shared.is_dir():
        print(f"NOT THERE: {shared}. No harvest of open data is read.")
        return
    for check in (minnesota, las_rosas):
        print(check.__name__)
        check(twinsow.resolve(), shared, work)


if __name__ == "__main__":
    main()
