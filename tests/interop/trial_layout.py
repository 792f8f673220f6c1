"""A trial that is laid out, planned, harvested by script with a gain that is known, and read back by `twinsow harvest`.

Usage: trial_layout.py TWINSOW FOLDER. The yields are made from the layer of plots that the plan delivers, read here with shapely; the plots
that the program judges by are those of plan.json.
"""

import json
import math
import pathlib
import random
import subprocess
import sys

import pyproj
from shapely.geometry import Point, shape
from shapely.prepared import prep

FIELD = [[467000, 6072000], [467600, 6072000], [467600, 6072400], [467000, 6072400]]
JOB = """
name = "laid out"
field = {{ name = "Small Piece", boundary = {{ file = "field.geojson", crs = "EPSG:32631" }} }}
headland = {{ bouts = 4 }}
grid = {{ cell_m = 3 }}
drive = {{ heading_deg = {heading} }}
tramline = {{ sprayer_width_m = 24, track_width_m = 1.8, tyre_width_m = 0.4 }}
[drill]
working_width_m = 6
rows = 40
row_spacing_m = 0.15
hopper = [{{ name = "front", usable_l = 1000 }}]
[[layer]]
name = "soil"
source = {{ file = "zones.geojson", crs = "EPSG:32631" }}
class_attribute = "z"
[[product]]
id = "barley"
name = "barley"
kind = "seed"
crop = "spring barley"
hopper = "front"
thousand_grain_weight_g = 48
germination_percent = 96
rate.kg_per_ha = {{ layer = "soil", by_class = {{ low = 140.0, mid = 165.0, high = 195.0 }} }}
[[trial]]
name = "did the map pay"
design = "map_against_flat"
header_width_m = 9
"""
GAIN = 0.5  # t/ha, of the map
SEASONS = 20


def run(*command, allowed=(0,)):
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True)
    if done.returncode not in allowed:
        sys.exit(f"{' '.join(map(str, command))}\nended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return done.stdout


def polygon(ring, **properties):
    return {"type": "Feature", "properties": properties, "geometry": {"type": "Polygon", "coordinates": [ring + ring[:1]]}}


def checked(twinsow, folder, heading, gain):
    folder.mkdir(parents=True)
    collection = lambda features: json.dumps({"type": "FeatureCollection", "features": features})
    (folder / "field.geojson").write_text(collection([polygon(FIELD)]))
    west = lambda a, b, z: polygon([[a, 6071900], [b, 6071900], [b, 6072500], [a, 6072500]], z=z)
    (folder / "zones.geojson").write_text(
        collection([west(466900, 467200, "low"), west(467200, 467400, "mid"), west(467400, 467700, "high")]))
    (folder / "job.toml").write_text(JOB.format(heading=heading))
    run(twinsow, "plan", folder / "job.toml", "--out", folder / "plan", allowed=(0, 1))
    run(twinsow, "audit", folder / "plan", "--plan", folder / "plan" / "plan.json")
    plan = json.loads((folder / "plan" / "plan.json").read_text())
    [trial] = plan["trials"]
    plots = json.loads((folder / "plan" / "gis" / "trial-plots.geojson").read_text())["features"]
    if len(plots) != len(trial["plots"]) or len(plots) != 12:
        sys.exit(f"{len(plots)} plots in the layer, {len(trial['plots'])} in plan.json, and 12 asked for")
    # Plots are disjoint, in the plane of UTM, and as large as the plan says (UTM is off by less than 1 in 1000).
    to_utm = pyproj.Transformer.from_crs(4326, 32631, always_xy=True)
    utm = lambda ring: [to_utm.transform(*at) for at in ring]
    shapes = [shape({"type": "Polygon", "coordinates": [utm(plot["geometry"]["coordinates"][0][0])]}) for plot in plots]
    for nth, one in enumerate(shapes):
        if abs(one.area / 10_000 / plots[nth]["properties"]["area_ha"] - 1) > 0.002:
            sys.exit(f"plot {nth + 1}: {one.area} m2 in the layer, {plots[nth]['properties']['area_ha']} ha said")
        for other in shapes[:nth]:
            if one.intersection(other).area > 0.5:
                sys.exit(f"plot {nth + 1} lies over another by {one.intersection(other).area} m2")
    # What the map has on each plot, by its zones.
    zones = json.loads((folder / "plan" / "gis" / "rates.geojson").read_text())["features"]
    zones = [(shape({"type": "MultiPolygon", "coordinates": [[utm(r) for r in p] for p in z["geometry"]["coordinates"]]}), z["properties"]) for z in zones]
    for own, plot in zip(shapes, plots):
        if plot["properties"]["treatment"] != "flat":
            continue
        on = sum(z.intersection(own).area * rates["barley_kg_ha"] for z, rates in zones) / own.area
        if abs(on / plot["properties"]["barley_asked"] - 1) > 0.01:
            sys.exit(f"{plot['properties']['id']}: {on} kg/ha on the map, {plot['properties']['barley_asked']} asked")
    ready = [(prep(own), plot["properties"]["treatment"]) for own, plot in zip(shapes, plots)]
    held, effects = 0, []
    for seed in range(SEASONS):
        (folder / "yield.csv").write_text(harvest(heading, gain, shapes, ready, random.Random(seed)))
        told = json.loads(run(
            twinsow, "harvest", folder / "plan", folder / "yield.csv", "--crs", "EPSG:32631", "--column", "yield=yield:t/ha", "--yield-at", "14.5",
            "--moisture-basis", "14.5", "--width", "9", "--json"))
        answer = told["answer"]
        if answer["blocks"] != 6:
            sys.exit(f"{answer['blocks']} blocks were read back, and 6 laid out")
        effect = answer["effect"]
        effects.append(effect["kg_per_ha"])
        held += effect["from"] <= gain * 1000 <= effect["to"]
    mean = sum(effects) / len(effects)
    print(f"  heading {heading}: {mean:.0f} kg/ha found in the mean of {SEASONS} seasons, {gain * 1000:.0f} sown in; {held} intervals hold it. The last: {told['sentence']}")
    # 95 % intervals: of 20 one misses in the mean, five or more in 3 of 1000 such runs (binomial).
    if held < SEASONS - 4:
        sys.exit(f"only {held} of {SEASONS} intervals hold the gain")
    # The error of a mean of 20 seasons of 6 pairs of 122 readings is about 5 kg/ha.
    if abs(mean - gain * 1000) > 25:
        sys.exit(f"{mean} kg/ha found in the mean, {gain * 1000} sown in")


def harvest(heading, gain, shapes, ready, draw):
    """Swaths of 9 m in the middle of each strip, a reading every 2 m, with a trend, waves and noise; the map gives the gain."""
    sine, cosine = math.sin(math.radians(heading)), math.cos(math.radians(heading))
    field = prep(shape({"type": "Polygon", "coordinates": [FIELD]}))
    middles = {round(-own.centroid.x * cosine + own.centroid.y * sine, 1) for own in shapes}
    lines = ["easting,northing,yield,pass"]
    x0, y0 = FIELD[0]
    start = x0 * sine + y0 * cosine - 250
    for number, v in enumerate(sorted(middles)):
        along = range(0, 900, 2) if number % 2 == 0 else range(900, 0, -2)
        for u in (start + step for step in along):
            x, y = u * sine - v * cosine, u * cosine + v * sine
            at = Point(x, y)
            if not field.contains(at):
                continue
            here = next((what for own, what in ready if own.contains(at)), "")
            truth = 8 + 0.0005 * (x - x0) + 0.3 * math.sin(y / 60) + (gain if here == "map" else 0)
            lines.append(f"{x:.2f},{y:.2f},{truth + draw.gauss(0, 0.4):.3f},{number}")
    return "\n".join(lines) + "\n"


def main():
    twinsow, work = map(pathlib.Path, sys.argv[1:])
    checked(twinsow.resolve(), work / "gain", 0, GAIN)
    checked(twinsow.resolve(), work / "slanting", 20, GAIN)
    checked(twinsow.resolve(), work / "nothing", 0, 0)


if __name__ == "__main__":
    main()
