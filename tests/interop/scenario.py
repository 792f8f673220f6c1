#!/usr/bin/env python3
"""Plans the scenario a second time, with shapely and the formulas of the cited guides, and compares.

Nothing of the program is used but its inputs and, at the end, its totals. Land: boundary less the pond with its buffer;
interior: what is further than the headland from every border; soil: the first polygon that covers a place; the
same for phosphate; special areas and widened setbacks. Rates: kg/ha = plants/m2 x thousand-grain weight /
establishment % (HGCA, The wheat growth guide, 2008, page 9), kg product = kg nutrient / (grade % / 100), the need of RB209's
table for the expected yield; then percentages, the seed-safe limit, limits and steps as the job says; what the limit cuts
off is the balance to broadcast. Where no soil polygon lies, the class is the program's choice: the total is
bracketed by the lowest and the highest rate there. Slivers and arcs get 0.02 % of the total.

Usage: scenario.py INPUTS FOLDER
"""

import sys
import tomllib
from pathlib import Path

import numpy as np
import shapely
from delivered import Checks, Plan, zones_of


# AHDB RB209 section 4 (June 2023), table 4.13, page 22: spring barley, straw incorporated, 5.5 t/ha, kg P2O5/ha by index;
# table 4.12, page 18: 8.0 kg P2O5 per tonne.
SPRING_BARLEY = {"0": 105, "1": 75, "2": 45, "3": 0}
# Manitoba Agriculture, safe rates of seed-placed phosphorus: cereals, 50 lb P2O5/ac; 1 lb/ac is 0.45359237 / 0.40468564224 kg/ha.
SEED_SAFE = 50 * 0.45359237 / 0.40468564224


def rates_of(job, product, classes, percents):
    """`(kg/ha sown, kg/ha left to broadcast)`: base, percentages in order, most, seed-safe limit, least, step. Zero stays zero."""
    kg_per_ha = base_rate(product, classes)
    for percent in percents:
        kg_per_ha *= percent / 100
    limits = product["limits"]
    if kg_per_ha == 0:
        return 0.0, 0.0
    step, share = limits["step_kg_per_ha"], product.get("grade", {}).get("p2o5_percent", 0) / 100
    sown = max(min(kg_per_ha, limits["max_kg_per_ha"]), limits["min_kg_per_ha"])
    sown = step * np.floor(sown / step + 0.5)
    if sown * share <= SEED_SAFE:
        return sown, 0.0
    sown = step * np.floor(SEED_SAFE / share / step)
    return sown, (kg_per_ha - sown) * share / (product["balance"]["grade"]["p2o5_percent"] / 100)


def base_rate(product, classes):
    rule = product["rate"]
    if "plants_per_m2" in rule:
        lookup = rule["establishment_percent"]
        established = lookup["by_class"][classes[lookup["layer"]]]
        return rule["plants_per_m2"] * product["thousand_grain_weight_g"] / established
    rule = rule["need_from_table"]
    need = SPRING_BARLEY[classes[rule["layer"]]]
    if need > 0:
        need += (rule["yield_t_per_ha"] - 5.5) * 8.0
    return need / (product["grade"]["p2o5_percent"] / 100)


def pieces(job, inputs, plan):
    """`(area m2, classes, part, special areas, setbacks)`; the class is None where no polygon lies."""
    read = lambda source: plan.to_plane(
        np.array([s for p, s in zones_of(inputs / source["file"]) if all(p[k] == v for k, v in source.get("only", {}).items())])
    )
    whole = lambda source: shapely.union_all(read(source))
    drill = job["drill"]
    land = whole(job["field"]["boundary"])
    for exclusion in job["exclusion"]:
        land = land.difference(whole(exclusion["source"]).buffer(exclusion["buffer_m"], quad_segs=64))
    inner = land.buffer(-job["headland"]["bouts"] * drill["working_width_m"], quad_segs=64)
    parts = [("headland", land.difference(inner)), ("interior", land.intersection(inner))]
    todo = [(shape, {}, part, [], []) for part, shape in parts]
    for layer in job["layer"]:
        classes = [(str(p[layer["class_attribute"]]), plan.to_plane(s)) for p, s in zones_of(inputs / layer["source"]["file"])]
        done = []
        for shape, known, part, special, setbacks in todo:
            rest = shape
            for name, polygon in classes:
                done.append((rest.intersection(polygon), known | {layer["name"]: name}, part, special, setbacks))
                rest = rest.difference(polygon)
            done.append((rest, known | {layer["name"]: None}, part, special, setbacks))
        todo = [row for row in done if row[0].area > 0]
    for number, area in enumerate(job["special_area"]):
        over = whole(area["source"])
        todo = [row for s, k, p, a, b in todo for row in ((s.intersection(over), k, p, [*a, number], b), (s.difference(over), k, p, a, b))]
    widen = drill["working_width_m"] / 2 + drill["position_error_m"] + drill["run_on_m"]
    for number, setback in enumerate(job["setback"]):
        over = whole(setback["source"]).buffer(setback["distance_m"] + widen, quad_segs=64)
        todo = [row for s, k, p, a, b in todo for row in ((s.intersection(over), k, p, a, [*b, number]), (s.difference(over), k, p, a, b))]
    return land, [(s.area, k, p, a, b) for s, k, p, a, b in todo if s.area > 0]


def bracket(job, product, rows):
    """Lowest and highest total in kg: sown, and left to broadcast."""
    low = high = np.zeros(2)
    names = {layer: {row[1][layer] for row in rows} - {None} for layer in rows[0][1]}
    for area, classes, part, special, setbacks in rows:
        if any(product["id"] in job["setback"][number]["products"] for number in setbacks):
            continue
        percents = [a["percent"] for a in product.get("adjust", []) if a.get("land_part", part) == part]
        percents += [job["special_area"][number]["percent"].get(product["id"], 100) for number in special]
        options = [classes]
        for layer, name in classes.items():
            if name is None:
                options = [o | {layer: other} for o in options for other in sorted(names[layer])]
        rates = np.array([rates_of(job, product, o, percents) for o in options])
        low = low + area / 1e4 * rates.min(axis=0)
        high = high + area / 1e4 * rates.max(axis=0)
    return low, high


def closed_share(job):
    """Share of the rows of the interior that tramlines close, for a whole number of drill widths per sprayer width and a
    headland of whole bouts: per sprayer bout the rows whose middle lies under one of its two wheels. Bouts of the sprayer lie
    side by side from the border."""
    tram, drill = job["tramline"], job["drill"]
    widths = tram["sprayer_width_m"] / drill["working_width_m"]
    assert abs(widths - round(widths)) < 1e-9, "this check knows whole rhythms only"
    row = drill["working_width_m"] / drill["rows"]
    half = tram["track_width_m"] / 2
    start = drill["working_width_m"] / 2 if tram.get("start") == "half" else 0.0
    headland = job["headland"]["bouts"] * drill["working_width_m"]
    from_border = headland - start + row * (np.arange(round(drill["rows"] * widths)) + 0.5)
    middles = from_border % tram["sprayer_width_m"] - tram["sprayer_width_m"] / 2
    under = np.abs(np.abs(middles) - half) <= tram["tyre_width_m"] / 2
    return under.sum() / middles.size


def closed_on_headland(job, plan, base, checks):
    """Share of the headland on which rows close: the rings of the sprayer's round by their closed length, of which shapely's
    parallels know the whole."""
    closed_m2, width = 0.0, job["drill"]["working_width_m"]
    for ring in plan.json["tramlines"]["headland"]["rings"]:
        middle = base.buffer(-(ring["ring"] - 0.5) * width, quad_segs=90)
        checks.near(ring["length_m"], middle.length, 2e-3 * middle.length, f"ring {ring['ring']}: length, m")
        closed_m2 += len(ring["outlets"]) * width / job["drill"]["rows"] * ring["closed_m"]
    checks.that(closed_m2 > 0, "no row closes on the headland")
    return closed_m2 / next(area for part, area in plan.tally["parts_m2"] if part == "headland")


def part_kg(plan, product, part):
    """Kilograms of a product on the headland or the interior, from the plan's rate table."""
    rates = [(row["area_m2"], r["kg_per_ha"]) for row in plan.json["rate_table"] if row["part"] == part
             for r in row["rates"] if r["product"] == product]
    return sum(area * rate / 1e4 for area, rate in rates)


def main():
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    inputs, folder = Path(sys.argv[1]), Path(sys.argv[2])
    job, plan, checks = tomllib.loads((inputs / "job.toml").read_text(encoding="utf-8")), Plan(folder), Checks(folder)
    base, rows = pieces(job, inputs, plan)
    land, on_headland = base.area, closed_on_headland(job, plan, base, checks)
    checks.near(plan.tally["mapped_m2"], land, 1e-6 * land + 1.0, "mapped land, m2")
    for product in job["product"]:
        (low, low_left), (high, high_left) = bracket(job, product, rows)
        kg, loose = plan.map_kg(product["id"]), 2e-4 * high
        checks.that(low - loose <= kg <= high + loose, f"{product['id']}: {kg} kg, shapely says {low:.2f} to {high:.2f} kg")
        print(f"scenario.py: {product['id']}: {kg:.2f} kg planned; planned again with shapely: {low:.2f} to {high:.2f} kg")
        left = [b for b in plan.tally.get("balances", []) if b["of"] == product["id"]]
        for balance in left:
            kg_left, loose = balance["steps"][0]["kg"], 2e-4 * high_left
            text = f"{product['id']}: {kg_left:.2f} kg to broadcast, shapely says {low_left:.2f} to {high_left:.2f} kg"
            checks.that(0 < low_left - loose <= kg_left <= high_left + loose, text)
            print(f"scenario.py: {text}")
        checks.equal(bool(left), "balance" in product, f"{product['id']}: a balance")
        order = plan.product(product["id"])
        closed = closed_share(job) * part_kg(plan, product["id"], "interior") + on_headland * part_kg(plan, product["id"], "headland")
        hopper = next(h for h in job["drill"]["hopper"] if h["name"] == product["hopper"])
        residue = hopper.get("residue_l", 0) * product["bulk_density_kg_per_l"]
        # Bout by bout, the closed rows are those of a field that ends in mid-cycle: near the share of a full one. Along rings
        # they are at the rates of their own land, near the mean of the headland.
        saved = -sum(step["kg"] for step in order["steps"] if step["step"] == "tramlines")
        checks.near(saved, closed, 0.05 * closed, f"{product['id']}: kg saved in closed rows, against their share of cycle and headland")
        sown = sum(step["kg"] for step in order["steps"] if step["step"] not in ("reserve", "residue", "packs"))
        checks.near(sown, order["as_driven_kg"], 1e-6, f"{product['id']}: steps to the as-driven total, kg")
        wanted = np.ceil((sown * (1 + job["order"]["reserve_percent"] / 100) + residue) / product["pack_kg"])
        checks.equal(order["packs"], int(wanted), f"{product['id']}: packs")
    for text in checks.broken:
        print(f"scenario.py: BROKEN: {text}")
    print(f"scenario.py: {checks.held} checks held, {len(checks.broken)} broken")
    sys.exit(1 if checks.broken else 0)


main()
