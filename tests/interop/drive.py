#!/usr/bin/env python3
"""Opens the layers of the drive with GDAL and works the drive out again with shapely and numpy.

Checked, for plans with a drive: GeoPackage and GeoJSON hold the same features; lengths and areas; land sown once, again and missed
by unions of the sections; kilograms of the difference map; the kilograms of every bout by walking along it in steps over the
grid of the task data; levels of the hoppers from bout to bout, and where the stops lie.

Usage: drive.py FOLDER...
"""

import json

import numpy as np
import shapely
from delivered import Plan, geodesic_m2, run, table

LAYERS = {"bouts": "LineString", "sections": "MultiPolygon", "tramline_rows": "MultiPolygon", "refills": "Point", "difference": "MultiPolygon"}
# Along a bout, m: each step counts with the rate at its middle, so a change of rate is off by half a step at most.
STEP_M = 0.05


def layers(checks, plan, folder):
    """Columns and plane shapes by layer, and that the GeoJSON files say the same."""
    found = {}
    spread = {"difference_surface": "MultiPolygon"} if plan.json["spread"] else {}
    for name, kind in (LAYERS | spread).items():
        columns, shapes, _, kinds = table(folder / "gis" / "rates.gpkg", name)
        checks.equal({s.geom_type for s in shapes} - {kind}, set(), f"{name}: kind of geometry")
        checks.equal(set(columns["plan"]) - {plan.id}, set(), f"{name}: plan id on every feature")
        checks.that(bool(shapely.is_valid(shapes).all()), f"{name}: a geometry is not valid")
        path = folder / "gis" / f"{name.replace('_', '-')}.geojson"
        if len(shapes):
            other, drawn, _, other_kinds = table(path)
            checks.equal((len(drawn), list(other_kinds.items())), (len(shapes), list(kinds.items())), f"{name}: GeoJSON: features and columns")
            same = all(np.array_equal(columns[c], other[c]) for c in columns)
            checks.that(same, f"{name}: GeoJSON: other values")
            pairs = list(zip(plan.to_plane(drawn), plan.to_plane(shapes)))
            if kind == "MultiPolygon":
                # Nine decimals move a border by up to 0.1 mm.
                far = max(abs(a.area - b.area) - 1.5e-4 * b.length for a, b in pairs)
                checks.that(bool(shapely.is_valid(drawn).all()), f"{name}: GeoJSON: a geometry is not valid")
            else:
                far = max(a.hausdorff_distance(b) for a, b in pairs)
            checks.that(far < 0.002, f"{name}: GeoJSON: a feature is not that of the GeoPackage by {far}")
        else:
            raw = json.loads(path.read_text(encoding="utf-8"))
            checks.equal(raw["features"], [], f"{name}: GeoJSON: features")
        found[name] = columns, plan.to_plane(shapes), shapes
    return found


def band_m2(way, stations, rims):
    """Ground between two stations along a closed way and two distances to its left, corners halved: summed over lines beside
    the way, 400 of them."""
    points = shapely.get_coordinates(way)[:-1]
    legs = np.roll(points, -1, axis=0) - points
    length, heading = np.hypot(*legs.T), np.arctan2(legs[:, 1], legs[:, 0])
    turn = (np.roll(heading, -1) - heading + np.pi) % (2 * np.pi) - np.pi
    at_end = np.tan(turn / 2)
    at_end[np.abs(at_end) > 50.0] = 0.0
    at_start = np.roll(at_end, 1)
    start = np.concatenate([[0.0], np.cumsum(length)[:-1]])
    step = (rims[1] - rims[0]) / 400
    left = rims[0] + step * (np.arange(400) + 0.5)
    sum_m2 = 0.0
    for leg in np.flatnonzero((start < stations[1] - 1e-7) & (start + length > stations[0] + 1e-7)):
        low, high = stations[0] - start[leg], stations[1] - start[leg]
        begin, end = left * at_start[leg], length[leg] - left * at_end[leg]
        if low > 1e-7:
            begin = np.maximum(begin, low)
        if high < length[leg] - 1e-7:
            end = np.minimum(end, high)
        sum_m2 += np.maximum(end - begin, 0.0).sum() * step
    return sum_m2


def areas(checks, plan, folder, found, driven):
    _, sections, _ = found["sections"]
    _, boundary, _, _ = table(folder / "gis" / "rates.gpkg", "boundary")
    _, out, _, _ = table(folder / "gis" / "rates.gpkg", "exclusions")
    land = shapely.union_all(plan.to_plane(boundary)).difference(shapely.union_all(plan.to_plane(out)) if len(out) else shapely.Polygon())
    wanted = driven["areas"]
    columns, ways, _ = found["bouts"]
    rings = columns["part"] == "headland"
    on_ring = np.isin(found["sections"][0]["bout"], columns["bout"][rings])
    # A ring that meets itself in a narrow place covers ground twice that its shape shows once.
    job = plan.json["job"]
    width = job["drill"]["working_width_m"]
    edges = width / 2 - np.concatenate([[0.0], np.cumsum(job["drill"]["sections_m"] or [width])])
    rows, way_of = found["sections"][0], dict(zip(columns["bout"], ways))
    along = sum(
        band_m2(way_of[rows["bout"][at]], (rows["on_from_m"][at], rows["on_to_m"][at]), edges[[rows["section"][at], rows["section"][at] - 1]])
        for at in np.flatnonzero(on_ring)
    )
    shown = shapely.area(sections[on_ring]).sum()
    total = shapely.area(sections[~on_ring]).sum() + along
    once = shapely.union_all(sections)
    # Corners and arcs are drawn to the millimetre.
    loose = 1e-5 * wanted["land_m2"] + 1.0
    checks.near(land.area, wanted["land_m2"], loose, "land, m2")
    checks.that(shown <= along + loose, f"sections of the rings: {shown} m2 drawn, {along} driven")
    checks.near(total, wanted["driven_m2"], loose, "sections: driven, m2")
    checks.near(land.difference(once).area, wanted["missed_m2"], loose, "sections: missed, m2")
    checks.near(once.difference(land).area, wanted["beyond_m2"], loose, "sections: beyond the land, m2")
    if job["drive"]["switch_rule"] == "any_part_in" and rings.any():
        # Where any part counts, what a ring passes over is drilled when all is done, but for 2 cm beside its rims.
        passed = shapely.union_all([shapely.LinearRing(w.coords).buffer(width / 2 - 0.03) for w in np.array(ways)[rings]])
        left = passed.intersection(land).difference(once).area
        checks.that(left <= 0.02 * shapely.length(np.array(ways)[rings]).sum() + loose, f"rings: {left} m2 that they pass over are missed")
    several = wanted["again_m2"] + wanted["closed_rows_m2"] - wanted["closed_m2"]
    checks.near(total - once.area, several, loose, "sections: driven again, m2")
    closing, rows, _ = found["tramline_rows"]
    if len(rows):
        bout_of = found["sections"][0]["bout"]
        own = {bout: shapely.union_all(sections[bout_of == bout]) for bout in set(closing["bout"])}
        closed = sum(row.intersection(own[bout]).area for bout, row in zip(closing["bout"], rows))
        checks.near(closed, wanted["closed_rows_m2"], loose, "tramline rows, m2")


def difference(checks, plan, found, driven, layer="difference"):
    columns, shapes, degrees = found[layer]
    m2 = np.array([geodesic_m2(s) for s in degrees])
    checks.near(np.abs(m2 - columns["area_ha"] * 1e4).max(), 0, 2.0, f"{layer}: area_ha against the shapes, m2")
    checks.near(m2[columns["on_land"] == 1].sum(), driven["areas"]["land_m2"], 1e-6 * m2.sum() + 1.0, f"{layer}: land, m2")
    for product in driven["products"]:
        name = product["id"]
        for column, key in (("wanted", "map_kg"), ("sown", "as_driven_kg")):
            kg = float(np.dot(columns[f"{name}_{column}_kg_ha"], m2)) / 1e4
            checks.near(kg, product[key], 2e-6 * abs(product[key]) + 0.05, f"{layer}: {name}, {column}, kg")
        steps = sum(product[f"{step}_kg"] for step in ("map", "tramlines", "sections", "overlap", "missed", "following"))
        checks.near(steps, product["as_driven_kg"], 1e-6, f"{name}: steps to the as-driven total, kg")
        checks.near(product["metered_kg"], product["as_driven_kg"], 1e-5 * product["map_kg"] + 1e-3, f"{name}: at the meter, kg")
        tally = plan.product(name)
        checks.near(tally["as_driven_kg"], product["as_driven_kg"], 1e-3, f"{name}: as driven in the tally, kg")


def spread(checks, plan, found, unit):
    """What a unit of its own spreads along the bouts: areas from its width and the ways, as far as the bouts are straight and the
    drill goes on and off with any part in, and the kilograms of the difference map."""
    difference(checks, plan, found, unit["as_driven"], "difference_surface")
    areas = unit["as_driven"]["areas"]
    land = areas["once_m2"] + areas["twice_m2"] + areas["missed_m2"]
    checks.near(land, areas["land_m2"], 1e-3, "spread: once, twice and missed are the land, m2")
    columns, ways, _ = found["bouts"]
    inner = columns["part"] == "interior"
    if plan.json["job"]["drive"]["switch_rule"] != "any_part_in" or plan.json["drive"]["along_curve"] or not inner.any():
        return
    # Interior bouts are as long as any part of the drill is in; the unit is on all their way.
    once = shapely.union_all([shapely.buffer(way, unit["width_m"] / 2, cap_style="flat") for way in np.array(ways)[inner]])
    shapes = found["difference_surface"][1][found["difference_surface"][0]["passes"] > 0]
    left = once.difference(shapely.union_all(shapes)).area
    checks.near(left, 0, 1e-5 * areas["land_m2"] + 1.0, "spread: ground beside the interior bouts that is not in the layer, m2")


def rates_at(plan, folder, places):
    """Rates of the task data's grid at places in the plane: array (places, products); nan outside of it."""
    grid = plan.json["grids"]["degrees"]
    raw = np.fromfile(folder / "terminal" / "TASKDATA" / "GRD00001.bin", dtype="<i4")
    values = raw.reshape(grid["rows"], grid["columns"], -1) / 100.0
    lon, lat = plan.to_degrees(places).T
    column = np.floor((lon - grid["origin"][0]) / grid["cell"][0]).astype(int)
    row = np.floor((lat - grid["origin"][1]) / grid["cell"][1]).astype(int)
    inside = (column >= 0) & (row >= 0) & (column < grid["columns"]) & (row < grid["rows"])
    rates = np.full((len(places), values.shape[2]), np.nan)
    rates[inside] = values[row[inside], column[inside]]
    return rates


def walked(checks, plan, folder, found, driven):
    """Kilograms of the interior bouts: in steps along the way, rate of the grid x width that is on and open x step."""
    job = plan.json["job"]
    if job["drive"].get("follows", "grid") != "grid" or job["terminal"]["products_per_task"] != "all" or job["terminal"]["grid_holds"] != "rates":
        return
    columns, ways, _ = found["bouts"]
    sections, _, _ = found["sections"]
    width = job["drill"]["sections_m"] or [job["drill"]["working_width_m"]]
    row_m = job["drill"].get("row_spacing_m") or 0.0
    sections_flow = job["drill"]["shut_flow"]
    rows_flow = (job.get("tramline") or {}).get("closed_flow") or sections_flow
    worst = 0.0
    for at in np.flatnonzero(columns["part"] == "interior"):
        length, bout = columns["length_m"][at], columns["bout"][at]
        count = max(1, int(np.ceil(length / STEP_M)))
        middles = (np.arange(count) + 0.5) * length / count
        rates = rates_at(plan, folder, shapely.get_coordinates(shapely.line_interpolate_point(ways[at], middles)))
        outlets = [int(o) for o in columns["closed_outlets"][at].split(", ") if o]
        left = np.concatenate([[0.0], np.cumsum(width)])
        on = np.zeros((len(width), count), dtype=bool)
        for part in np.flatnonzero(sections["bout"] == bout):
            on[sections["section"][part] - 1] |= (middles >= sections["on_from_m"][part]) & (middles < sections["on_to_m"][part])
        closed = np.array([sum(max(0.0, min(left[n + 1], o * row_m) - max(left[n], (o - 1) * row_m)) for o in outlets) for n in range(len(width))])
        whole = np.array(width)
        # Width of flow that reaches the ground at each step, in m: open rows, and what shut ones give to them.
        flow_m = on.T @ (whole - closed)
        sown = flow_m > 0
        if rows_flow == "redistributed":
            flow_m = flow_m + on.T @ closed
        if sections_flow == "redistributed":
            flow_m = flow_m + ~on.T @ (whole if rows_flow == "redistributed" else whole - closed)
        kg = (np.nan_to_num(rates) * (flow_m * sown)[:, None]).sum(axis=0) * length / count / 1e4
        for number, product in enumerate(plan.products):
            if plan.surface(product):
                continue
            # Half a step at each change of rate and each switch: 20 of them at full rate are plenty.
            loose = 20 * STEP_M / 2 * sum(width) * np.nanmax(rates[:, number], initial=0.0) / 1e4 + 1e-6
            worst = max(worst, abs(kg[number] - driven["bouts"][at]["kg"][number]))
            checks.near(kg[number], driven["bouts"][at]["kg"][number], loose, f"bout {bout}: {product}, kg walked")
    print(f"drive.py: {folder}: bouts walked in steps of {STEP_M} m: largest difference {worst:.3f} kg")


def hoppers(checks, plan, found, driven):
    refills = plan.json["refills"]
    if not refills or not refills["stops"]:
        return
    stops, places, _ = found["refills"]
    bouts, ways, _ = found["bouts"]
    checks.equal(list(stops["after_bout"]), [s["after_bout"] for s in refills["stops"]], "refills: bouts")
    for at, after in enumerate(stops["after_bout"]):
        end = shapely.get_point(ways[max(after - 1, 0)], 0 if after == 0 else -1)
        checks.near(places[at].distance(end), 0, 0.002, f"refills: stop {at + 1} against the end of its bout, m")
    for half in refills["halves"]:
        name, content, stop = half["product"], 0.0, 0
        lowest = np.inf
        for bout in range(len(ways)):
            while stop < len(places) and stops["after_bout"][stop] == bout:
                checks.near(stops[f"{name}_left_kg"][stop], content, 1e-6, f"refills: {name} left at stop {stop + 1}, kg")
                content += stops[f"{name}_fill_kg"][stop]
                checks.that(content <= half["full_kg"] + 1e-6, f"refills: {name}: more than full at stop {stop + 1}")
                stop += 1
            content -= bouts[f"{name}_kg"][bout]
            lowest = min(lowest, content)
            checks.near(bouts[f"{name}_left_kg"][bout], content, 1e-6, f"bouts: {name} left after bout {bout + 1}, kg")
        checks.that(lowest >= half["least_kg"] - 1e-6, f"refills: {name} falls to {lowest} kg")


def check(folder, checks):
    plan = Plan(folder)
    driven = plan.json.get("as_driven")
    if driven is None:
        checks.that(not (folder / "gis" / "bouts.geojson").exists(), "layers of a drive without one")
        return
    found = layers(checks, plan, folder)
    bouts, ways, _ = found["bouts"]
    checks.equal(len(ways), len(driven["bouts"]), "bouts: number")
    checks.near(np.abs(shapely.length(ways) - bouts["length_m"]).max(), 0, 0.01, "bouts: length_m, largest difference")
    units = {unit["product"]: unit["as_driven"] for unit in plan.json["spread"]}
    checks.equal(set(units), {p for p in plan.products if plan.surface(p)}, "products that a unit of its own spreads")
    for number, product in enumerate(plan.products):
        kg = np.array([b["kg"][number] for b in units.get(product, driven)["bouts"]])
        checks.near(np.abs(bouts[f"{product}_kg"] - kg).max(), 0, 1e-9, f"bouts: {product}, kg")
    areas(checks, plan, folder, found, driven)
    difference(checks, plan, found, driven)
    for unit in plan.json["spread"]:
        spread(checks, plan, found, unit)
    walked(checks, plan, folder, found, driven)
    hoppers(checks, plan, found, driven)


run("drive.py", check, __doc__)
