"""A trial that is laid out, planned, harvested by script with a gain that is known, and read back by `twinsow harvest`.

Usage: trial_layout.py TWINSOW FOLDER [SEASONS]. The yields are made from the layer of plots that the plan delivers, read here with shapely; the
plots that the program judges by are those of plan.json.

How often the 95 % intervals hold the gain is checked with a false alarm of 1 in 1000: of all seasons together so many have to hold as a
binomial number of 95 % chances falls below, or above, with 1 in 2000 each (the exact tails: C. Clopper and E. Pearson, Biometrika 26:404, 1934). Seasons
are such that 95 % is true: plots deviate independently and normally, far more than trend and waves do. The same check is then put to
intervals that are wrong on purpose, half as wide and twice as wide, and has to refuse both.
"""

import json
import math
import pathlib
import random
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

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
SEASONS = 150  # of each case
FALSE_ALARM = 0.001  # of the check on intervals; half of it on each side
PLOT_T, READING_T, WAVE_T = 0.15, 0.4, 0.03  # standard deviations of a plot and a reading, height of waves, t/ha
STEP_M = 3


def run(*command, allowed=(0,)):
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True)
    if done.returncode not in allowed:
        sys.exit(f"{' '.join(map(str, command))}\nended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return done.stdout


def polygon(ring, **properties):
    return {"type": "Feature", "properties": properties, "geometry": {"type": "Polygon", "coordinates": [ring + ring[:1]]}}


def checked(twinsow, folder, heading, gain, count):
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
    seasons = [Season(heading, gain, shapes, plots, seed) for seed in range(count)]
    places = swaths(heading, shapes)

    def judged(season):
        name = f"yield-{season.seed}.csv"
        (folder / name).write_text(season.harvest(places))
        told = json.loads(run(
            twinsow, "harvest", folder / "plan", folder / name, "--crs", "EPSG:32631", "--column", "yield=yield:t/ha", "--yield-at", "14.5",
            "--moisture-basis", "14.5", "--width", "9", "--out", folder / f"harvest-{season.seed}", "--json"))
        (folder / name).unlink()
        shutil.rmtree(folder / f"harvest-{season.seed}")
        answer = told["answer"]
        if answer["blocks"] != 6:
            sys.exit(f"{answer['blocks']} blocks were read back, and 6 laid out")
        return answer["effect"], told["sentence"]

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(judged, seasons))
    truth = gain * 1000
    effects = [effect for effect, _ in answers]
    mean = sum(effect["kg_per_ha"] for effect in effects) / count
    print(f"  heading {heading}: {mean:.0f} kg/ha found in the mean of {count} seasons, {truth:.0f} sown in; {held(effects, truth)} intervals hold it. The last: {answers[-1][1]}")
    # Of a season the mean of six pairs deviates by some 95 kg/ha; four standard errors, 1 in 16 000.
    deviation = 1000 * math.sqrt((2 * PLOT_T**2 + 2 * READING_T**2 / (150 / STEP_M) + WAVE_T**2) / 6)
    if abs(mean - truth) > 4 * deviation / math.sqrt(count):
        sys.exit(f"{mean} kg/ha found in the mean, {truth} sown in")
    return [(effect, truth) for effect in effects]


def held(effects, truth, width=1.0):
    """How many intervals hold the truth, made so many times as wide."""
    def holds(effect):
        value = effect["kg_per_ha"]
        return value + width * (effect["from"] - value) <= truth <= value + width * (effect["to"] - value)
    return sum(map(holds, effects))


def allowed(count, chance=0.95):
    """The fewest and the most of so many intervals that may hold: with less, or more, a right interval is found with FALSE_ALARM."""
    of = lambda n: math.exp(math.lgamma(count + 1) - math.lgamma(n + 1) - math.lgamma(count - n + 1) + n * math.log(chance) + (count - n) * math.log(1 - chance))
    fewest, below = 0, of(0)
    while below <= FALSE_ALARM / 2:
        fewest += 1
        below += of(fewest)
    most, above = count, of(count)
    while above <= FALSE_ALARM / 2:
        most -= 1
        above += of(most)
    return fewest, most


def refused(answers, width=1.0):
    """What is wrong with how often intervals hold; nothing where it is right."""
    fewest, most = allowed(len(answers))
    hold = sum(held([effect], truth, width) for effect, truth in answers)
    return (hold, None if fewest <= hold <= most else f"{hold} of {len(answers)} intervals hold the gain, and {fewest} to {most} may")


def swaths(heading, shapes):
    """Swaths of 9 m in the middle of each strip, a reading every 3 m: place, pass, and the number of the plot that it lies in."""
    sine, cosine = math.sin(math.radians(heading)), math.cos(math.radians(heading))
    field = prep(shape({"type": "Polygon", "coordinates": [FIELD]}))
    ready = [prep(own) for own in shapes]
    middles = {round(-own.centroid.x * cosine + own.centroid.y * sine, 1) for own in shapes}
    x0, y0 = FIELD[0]
    start = x0 * sine + y0 * cosine - 250
    places = []
    for number, v in enumerate(sorted(middles)):
        along = range(0, 900, STEP_M) if number % 2 == 0 else range(900, 0, -STEP_M)
        for u in (start + step for step in along):
            x, y = u * sine - v * cosine, u * cosine + v * sine
            at = Point(x, y)
            if field.contains(at):
                places.append((x, y, number, next((nth for nth, own in enumerate(ready) if own.contains(at)), None)))
    return places


class Season:
    """A harvest: a trend and waves of any direction, plots that deviate, readings that deviate more; the map gives the gain."""

    def __init__(self, heading, gain, shapes, plots, seed):
        draw = random.Random(f"{heading} {gain} {seed}")
        self.seed, self.draw = seed, draw
        self.more = [draw.gauss(0, PLOT_T) + (gain if plot["properties"]["treatment"] == "map" else 0) for plot in plots]
        self.rise = [draw.uniform(-0.0003, 0.0003) for _ in "xy"]
        self.waves = [draw.uniform(1 / 80, 1 / 40) * draw.choice((-1, 1)) for _ in "xy"] + [draw.uniform(0, 2 * math.pi)]

    def harvest(self, places):
        (x0, y0), (along, across, phase) = FIELD[0], self.waves
        lines = ["easting,northing,yield,pass"]
        for x, y, number, plot in places:
            truth = 8 + self.rise[0] * (x - x0) + self.rise[1] * (y - y0) + WAVE_T * math.sin((x - x0) * along + (y - y0) * across + phase)
            truth += 0 if plot is None else self.more[plot]
            lines.append(f"{x:.2f},{y:.2f},{truth + self.draw.gauss(0, READING_T):.3f},{number}")
        return "\n".join(lines) + "\n"


def main():
    twinsow, work, *more = sys.argv[1:]
    twinsow, work = pathlib.Path(twinsow).resolve(), pathlib.Path(work)
    count = int(more[0]) if more else SEASONS
    answers = checked(twinsow, work / "gain", 0, GAIN, count)
    answers += checked(twinsow, work / "slanting", 20, GAIN, count)
    answers += checked(twinsow, work / "nothing", 0, 0, count)
    hold, wrong = refused(answers)
    if wrong:
        sys.exit(wrong)
    fewest, most = allowed(len(answers))
    print(f"  {hold} of {len(answers)} intervals hold the gain; {fewest} to {most} may, false alarm 1 in {1 / FALSE_ALARM:.0f}")
    # The check can fail: six pairs, 5 degrees of freedom. Half as wide holds 74.5 %, with the normal distribution's 1.96 instead of 2.571 it were 89.3 %.
    for name, width in (("half as wide", 0.5), ("by the normal distribution", 1.959964 / 2.570582), ("twice as wide", 2.0)):
        hold, wrong = refused(answers, width)
        print(f"  intervals {name}: {hold} hold, {'refused' if wrong else 'not seen'}")
        # Too few seasons cannot tell that too many hold.
        if not wrong and (width == 0.5 or width == 2.0 and most < len(answers)):
            sys.exit(f"the check does not see intervals that are {name}")


if __name__ == "__main__":
    main()
