#!/usr/bin/env python3
"""A season of 50 real parcels: three crops, two drills, one order, one stick, one week's list, logs of a simulator, one ledger.

The parcels are 50 of the shared files, more than 8 m wide in the mean, in made zones (tests/figures/field_zones.py). Each is planned with a sowing date, a lot and a
price; then kilograms are held together, product by product, each step being one that the program prints:

- stick: the integers on the stick, cell by cell over the land (worked out anew by `contents`), are what `plan.json` says that they stand for; that
  is the map, plus what the grid adds (`degrees_grid_kg`), plus what whole steps add (`integers_less_grid_kg`);
- order: each line's kilograms are the steps of its fields (the map with tramlines, sections, overlap and what is missed), and the
  order is that with reserve and residue, in whole packs; the same on `order.csv` and, to the printed kilogram, on the page;
- week: what each field takes is the same sum; what is filled, less what is left, is what is sown; no field before its date, clean-outs only
  where product or lot changes, and every field once; the CSV says the same;
- ledger: rows of a field add up to what its log has counted; all rows to what was driven.

All of these to a gram. Each field is driven by a simulator of this file: parallel bouts 3 or 4 m apart along the longest side of the field, a record a second at
2.5 m/s, rates looked up in the cells of the stick, totals in grams. In six of the logs a fault is sown (products swapped, another unit, a product
short): each has to be told by its name, and no other log may be told any fault of rates.

Usage: season.py TWINSOW FOLDER_WITH_THE_200_PARCELS WORK
Exits 0 with a line that says so if the parcels are not there.
"""

import csv
import json
import re
import shutil
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyproj
import shapely
from isoxml.util.isoxml_io import isoxml_from_path

from all_fields import copied, write_job

GRAM = 0.001
CROPS = [("wheat", "Winter wheat", "W-1", 420.0), ("barley", "Spring barley", "B-2", 390.0), ("oats", "Oats", "R-3", 360.0)]
DRILLS = [("Drill of 3 m (invented)", 3.0), ("Drill of 4 m (invented)", 4.0)]
FIRST_DAY = "2031-03-20"
# What may be told of a sound log here: bouts of the simulator cross headlands and each other.
OF_LAND = {
    "missed", "not_finished", "doubled", "beyond_the_land", "sections_stayed_on", "gaps", "resumed", "in_setback",
}
FAULTS = {4: "products_swapped", 11: "other_unit", 18: "short_everywhere", 25: "products_swapped", 32: "other_unit", 39: "short_everywhere"}

held, broken = 0, []


def that(holds, text):
    global held
    held += bool(holds)
    if not holds:
        broken.append(text)


def run(*arguments, exits=(0, 1)):
    result = subprocess.run([str(a) for a in arguments], capture_output=True, text=True)
    if result.returncode not in exits:
        sys.exit(f"season.py: {arguments[1]}: exit {result.returncode}: {result.stdout[-400:]}{result.stderr[-800:]}")
    return result.stdout


def jobs(shared, work):
    """Writes a job for each of the 50 parcels; the names."""
    parcels = []
    for source, target, driver, prefix in [
        (shared / "nl_parcels_epsg28992.gpkg", "nl.gpkg", "GPKG", "nl-"),
        (shared / "dk_fields_epsg25832.shp.zip", "dk.gpkg", "GPKG", "dk-"),
    ]:
        parcels += [(name, target, shape, crs) for name, shape, crs in copied(source, work / target, driver, prefix)]
    # A ditch of a metre is no field that a straight bout fits into: the mean width is the area over half of the border.
    wide = [own for own in parcels if own[2].area / (own[2].length / 2) > 8.0]
    chosen = wide[:: len(wide) // 50][:50]
    that(len(chosen) == 50, f"{len(chosen)} parcels")
    for number, (name, file, shape, crs) in enumerate(chosen):
        write_job(work, name, file, shape, crs, number)
        crop, title, lot, price = CROPS[number % 3]
        drill, width = DRILLS[number % 2]
        path = work / f"{name}.toml"
        text = path.read_text(encoding="utf-8")
        head = f'name = "{name}"\nsowing_date = "2031-03-{20 + number % 4}"\n'
        text = text.replace(f'name = "{name}"\n', head, 1)
        text = text.replace("[drive]\n", "[drive]\nfield_efficiency_percent = 70.0\n")
        text = text.replace("working_width_m = 3.0", f'name = "{drill}"\nworking_width_m = {width}')
        text = text.replace("bouts = 1\n", f"width_m = {width}\n")
        text = text.replace('[field]\n', f'[field]\ncustomer = "Estate {number % 2 + 1}"\nfarm = "Farm {number % 3 + 1}"\n')
        text = text.replace('crop = "wheat"\nname = "Seed"', f'crop = "{crop}"\nname = "{title}"\nlot = "{lot}"\nprice_per_t = {price}')
        path.write_text(text, encoding="utf-8")
    return [name for name, *_ in chosen]


def sown_kg(product):
    """What leaves the outlets, by the printed steps."""
    return sum(step["kg"] for step in product["steps"] if step["step"] not in ("reserve", "residue", "packs"))


def check_plan(name, plan):
    for product, own in zip(plan["tally"]["products"], plan["terminal"]["products"]):
        map_kg = product["steps"][0]["kg"]
        that(product["steps"][0]["step"] == "map", f"{name}: the first step is {product['steps'][0]['step']}")
        found = map_kg + product["degrees_grid_kg"] + own["integers_less_grid_kg"]
        that(abs(found - own["kg_from_integers"]) < GRAM, f"{name} {product['id']}: {found} kg by steps, {own['kg_from_integers']} on the stick")
        that(abs(sum(step["kg"] for step in product["steps"]) - product["order_kg"]) < GRAM, f"{name} {product['id']}: steps and order")
        that(abs(sown_kg(product) - product["as_driven_kg"]) < GRAM, f"{name} {product['id']}: steps and as driven")


def check_stick(twinsow, work, plans):
    stick = work / "stick"
    run(twinsow, "stick", *[work / f"{name}-plan" for name in plans], "--to", stick, exits=(0,))
    said = json.loads(run(twinsow, "contents", stick / "TASKDATA", "--json", "--plans", *[work / f"{name}-plan" for name in plans], exits=(0,)))
    tasks = {task["plan"]: task for task in said["sets"][0]["tasks"]}
    that(len(tasks) == len(plans), f"{len(tasks)} tasks on the stick")
    for name, plan in plans.items():
        for product, own in zip(tasks[plan["id"]]["products"], plan["terminal"]["products"]):
            that(abs(product["kg"] - own["kg_from_integers"]) < GRAM, f"{name}: {product['kg']} kg by the cells of the stick, {own['kg_from_integers']}")
    return stick


def check_order(twinsow, work, plans):
    files = [work / "order.csv", work / "order.html"]
    said = json.loads(run(twinsow, "order", *[work / f"{name}-plan" for name in plans], "--csv", files[0], "--page", files[1], "--json"))
    wanted = {}
    for plan in plans.values():
        for product, own in zip(plan["tally"]["products"], plan["job"]["product"]):
            key = (product["name"], own.get("lot"))
            line = wanted.setdefault(key, {"sown": 0.0, "reserve": 0.0, "residue": 0.0, "pack": own["pack_kg"]})
            line["sown"] += sown_kg(product)
            by = lambda word: sum(step["kg"] for step in product["steps"] if step["step"] == word)
            line["reserve"] += by("reserve")
            line["residue"] = max(line["residue"], by("residue"))
    table = {(row["product"], row["lot"] or None): row for row in csv.DictReader(files[0].open(encoding="utf-8"))}
    page = re.sub(r"<[^>]+>", " ", files[1].read_text(encoding="utf-8"))
    page = re.sub(r"[\s\u2009\u202f\u00a0]+", " ", page)
    that(len(said["order"]) == len(wanted), f"order: {len(said['order'])} lines, {len(wanted)} articles")
    for line in said["order"]:
        key = (line["article"]["product"], line["article"]["lot"])
        own = wanted[key]
        for word in ("sown", "reserve", "residue"):
            that(abs(line[f"{word}_kg"] - own[word]) < GRAM, f"order {key}: {word} {line[f'{word}_kg']}, fields {own[word]}")
        needed = own["sown"] + own["reserve"] + own["residue"]
        packs = -(-(needed - 1e-6) // own["pack"])
        that(line["packs"] == packs and abs(line["order_kg"] - packs * own["pack"]) < GRAM, f"order {key}: {line['packs']} packs for {needed} kg")
        that(abs(float(table[key]["sown_kg"]) - own["sown"]) <= GRAM / 2 + 1e-9, f"order.csv {key}: {table[key]['sown_kg']}")
        shown = f"{round(line['order_kg']):,}".replace(",", " ")
        that(shown in page, f"order.html {key}: {shown} kg is not on the page")
    return wanted


def check_week(twinsow, work, plans):
    table, page = work / "week.csv", work / "week.html"
    middle = np.mean([plan["terminal"]["outline"]["middle_lon_lat"] for plan in plans.values()], axis=0)
    said = json.loads(
        run(
            twinsow, "week", *[work / f"{name}-plan" for name in plans], "--from", FIRST_DAY, "--yard", f"{middle[0]:.5f},{middle[1]:.5f}",
            "--road-speed", "100", "--csv", table, "--page", page, "--json",
        )
    )
    by_id = {plan["id"]: plan for plan in plans.values()}
    seen, rows = [], list(csv.DictReader(table.open(encoding="utf-8")))
    that(len(said["drills"]) == len(DRILLS), f"week: {len(said['drills'])} drills")
    for drill in said["drills"]:
        filled, sown, left = 0.0, 0.0, 0.0
        inside, ends = {}, ("", "")
        for row in drill["fields"]:
            plan = by_id[row["plan"]]
            seen.append(row["plan"])
            that(row["begins"]["date"] >= plan["job"]["sowing_date"], f"week: {row['field']} begins before its date")
            begins = (row["begins"]["date"], row["begins"]["time"])
            that(begins >= ends, f"week: {row['field']} begins before the one before it is done")
            ends = (row["ends"]["date"], row["ends"]["time"])
            cleaned = {own["hopper"] for own in row["cleaned"]}
            for own, product in zip(row["products"], plan["tally"]["products"]):
                that(abs(own["sown_kg"] - sown_kg(product)) < GRAM, f"week {row['field']}: {own['sown_kg']} kg, plan {sown_kg(product)}")
                article = (own["product"], own["lot"])
                changes = inside.get(own["hopper"], article) != article
                that(changes == (own["hopper"] in cleaned), f"week {row['field']}: hopper {own['hopper']} cleaned {own['hopper'] in cleaned}")
                inside[own["hopper"]] = article
                filled += own["filled_kg"]
                sown += own["sown_kg"]
            left += sum(own["kg"] for own in row["cleaned"])
        left += sum(own["kg"] for own in drill["left"])
        that(abs(filled - left - sown) < GRAM, f"week {drill['drill']}: filled {filled}, left {left}, sown {sown}")
        brought = sum(own["kg"] for own in drill["tender"])
        that(abs(brought - filled) < GRAM, f"week {drill['drill']}: the tender brings {brought}, filled {filled}")
    that(sorted(seen) == sorted(by_id), "week: not every field once")
    that(abs(sum(float(row["sown_kg"]) for row in rows) - sum(sown_kg(p) for plan in plans.values() for p in plan["tally"]["products"])) < GRAM * len(rows), "week.csv: kilograms")
    text = page.read_text(encoding="utf-8")
    that(all(plan in text for plan in seen), "week.html: a plan is missing")


def land_of(field):
    """The outline of a partfield, degrees."""
    rings = lambda polygon, kind: [[(float(p.east), float(p.north)) for p in line.points] for line in polygon.line_strings if line.type.value == kind]
    return shapely.union_all([shapely.make_valid(shapely.Polygon(rings(p, "1")[0], rings(p, "2"))) for p in field.polygons])


def driven(land, grid, cells, width, fault, number):
    """Records of a drill that drives bouts over the land: (second, lon, lat, rates kg/ha, kg so far), and the kilograms in all."""
    lon0, lat0 = land.centroid.x, land.centroid.y
    there = pyproj.Transformer.from_crs("EPSG:4326", f"+proj=aeqd +lon_0={lon0} +lat_0={lat0}", always_xy=True)
    plane = shapely.transform(land, lambda xy: np.column_stack(there.transform(xy[:, 0], xy[:, 1])))
    # Bouts run along the longest side of the box around the field.
    corners = np.array(shapely.minimum_rotated_rectangle(plane).exterior.coords)
    sides = np.diff(corners[:3], axis=0)
    along = sides[np.argmax(np.hypot(sides[:, 0], sides[:, 1]))]
    along = along / np.hypot(*along)
    across = np.array([along[1], -along[0]])
    plane = shapely.transform(plane, lambda xy: np.column_stack([xy @ across, xy @ along]))
    degrees = lambda x, ys: there.transform(x * across[0] + ys * along[0], x * across[1] + ys * along[1], direction="INVERSE")
    west, south, east, north = plane.bounds
    step, records, kg, second = 2.5, [], np.zeros(2), 6 * 3600
    bouts = max(1, round((east - west) / width))
    for bout in range(bouts):
        x = (west + east) / 2 + (bout - (bouts - 1) / 2) * width
        inside = shapely.intersection(shapely.LineString([(x, south - 1), (x, north + 1)]), plane)
        pieces = [own for own in getattr(inside, "geoms", [inside]) if own.length > 2 * step]
        for piece in sorted(pieces, key=lambda own: own.bounds[1], reverse=bout % 2 == 1):
            low, high = piece.bounds[1], piece.bounds[3]
            ys = np.arange(low, high, step)
            if bout % 2:
                ys = high - (ys - low)
            lons, lats = degrees(x, ys)
            ahead = degrees(x, ys + (-1 if bout % 2 else 1) * step / 2)
            column = ((ahead[0] - float(grid.minimum_east_position)) / float(grid.cell_east_size)).astype(int)
            row = ((ahead[1] - float(grid.minimum_north_position)) / float(grid.cell_north_size)).astype(int)
            rates = cells[np.clip(row, 0, len(cells) - 1), np.clip(column, 0, cells.shape[1] - 1)] / 100.0
            if fault == "products_swapped":
                rates = rates[:, ::-1]
            if fault == "other_unit":
                rates = rates * np.array([1.1209, 1.0])
            if fault == "short_everywhere":
                rates = rates * np.array([1.0, 0.85])
            # The last record ends the piece: no meter turns any more.
            for nth, (lon, lat) in enumerate(zip(lons, lats)):
                on = nth + 1 < len(ys)
                rate = rates[nth] if on else np.zeros(2)
                records.append((second, lon, lat, rate, kg.copy()))
                kg = kg + rate * step * width / 10_000.0
                second += 1
            second += 20
    return records, kg


def write_log(folder, task_xml, products, records):
    """Task data as they come back: the task with its allocations, and a log with rates and totals of two elements."""
    folder.mkdir(parents=True)
    columns = [("0007", "DET2"), ("0007", "DET3"), ("0160", "DET2"), ("0160", "DET3"), ("008D", "DET1")]
    values = "".join(f'<DLV A="{ddi}" B="" C="{element}"/>' for ddi, element in columns)
    (folder / "TLG00001.XML").write_text(f'<?xml version="1.0" encoding="UTF-8"?>\n<TIM A="" D="4"><PTN A="" B="" D=""/>{values}</TIM>\n')
    data = bytearray()
    for second, lon, lat, rate, kg in records:
        on = int(rate.any())
        numbers = [round(rate[0] * 100), round(rate[1] * 100), round(kg[0] * 1000), round(kg[1] * 1000), on]
        data += struct.pack("<IHiiBB", second * 1000, 18_706, round(lat * 1e7), round(lon * 1e7), 4, len(numbers))
        for nth, number in enumerate(numbers):
            data += struct.pack("<Bi", nth, number)
    (folder / "TLG00001.BIN").write_bytes(data)
    allocations = "".join(f'<PAN A="{own}" E="DET{nth + 2}"/>' for nth, own in enumerate(products))
    (folder / "TASKDATA.XML").write_text(task_xml.replace("</TSK>", f'{allocations}<TLG A="TLG00001" C="1"/></TSK>'), encoding="utf-8")


def check_logs(twinsow, work, plans, stick):
    data, binaries = isoxml_from_path(stick / "TASKDATA")
    text = (stick / "TASKDATA" / "TASKDATA.XML").read_text(encoding="utf-8")
    fields = {field.id: field for field in data.partfields}
    tasks = {task.designator.split()[0]: task for task in data.tasks}
    ledger, all_kg, told_by_name = work / "ledger", np.zeros(2), 0
    for number, (name, plan) in enumerate(plans.items()):
        task = tasks[plan["id"]]
        grid, products = task.grids[0], [v.product_id_ref for v in task.treatment_zones[0].process_data_variables]
        cells = np.frombuffer(binaries[grid.filename], "<i4").reshape(grid.maximum_row, grid.maximum_column, -1)
        fault = FAULTS.get(number)
        width = plan["job"]["drill"]["working_width_m"]
        records, kg = driven(land_of(fields[task.partfield_id_ref]), grid, cells, width, fault, number)
        own = re.search(rf'<TSK A="{task.id}".*?</TSK>', text, re.S)[0]
        own = re.sub(r"<GRD [^>]*/>", "", own)
        names = "".join(re.search(rf'<PDT A="{product}"[^>]*/>', text)[0] for product in products)
        shown = "".join(sorted(set(re.findall(r"<(?:VPN|PGP|CTR|FRM) [^>]*/>", text))))
        field = re.search(rf'  <PFD A="{task.partfield_id_ref}".*?</PFD>', text, re.S)[0]
        crop = "".join(re.findall(r"<CTP [^>]*/>", text))
        root = '<?xml version="1.0" encoding="UTF-8"?>\n<ISO11783_TaskData VersionMajor="4" VersionMinor="3" ManagementSoftwareManufacturer="simulator" ManagementSoftwareVersion="1" DataTransferOrigin="2">'
        folder = work / "logs" / name / "TASKDATA"
        write_log(folder, f"{root}{shown}{crop}{names}{field}{own}</ISO11783_TaskData>", products, records)
        # The last record counts what the one before has sown.
        counted = np.round(records[-1][4] * 1000) / 1000
        said = json.loads(run(twinsow, "compare", work / f"{name}-plan", folder, "--ledger", ledger, "--json"))
        for product, kg in zip(said["products"], counted):
            that(product["by_total"] and abs(product["sown_kg"] - kg) < GRAM, f"{name}: {product['sown_kg']} kg sown, the log has {kg}")
        all_kg += counted
        told = {own["trouble"] for own in said["told"] if own["asks"]} - OF_LAND
        that(told == ({fault} if fault else set()), f"{name}: told {sorted(told)}, sown {fault}")
        told_by_name += told == {fault}
    rows = list(csv.DictReader((ledger / "2031.csv").open(encoding="utf-8")))
    by_plan = {}
    for row in rows:
        by_plan.setdefault((row["plan"], row["product"]), []).append(float(row["kg"]))
    that(len({plan for plan, _ in by_plan}) == len(plans), f"ledger: {len(by_plan)} fields and products")
    ledger_kg = [sum(sum(kg) for (_, product), kg in by_plan.items() if product == own) for own in ("seed", "starter")]
    # Each row is rounded to a gram.
    near = GRAM * len(rows)
    that(np.all(np.abs(np.array(ledger_kg) - all_kg) < near), f"ledger: {ledger_kg} kg, the logs have {all_kg}")
    return len(rows), told_by_name


def main():
    if len(sys.argv) != 4:
        sys.exit(__doc__)
    twinsow, shared, work = Path(sys.argv[1]).resolve(), Path(sys.argv[2]), Path(sys.argv[3]).resolve()
    if not shared.is_dir():
        print(f"NOT THERE: {shared}. No season of real parcels was checked.")
        return
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir(parents=True)
    names = jobs(shared, work)
    run(twinsow, "plan", *[work / f"{name}.toml" for name in names], "--out", work / "plans", "--only", "task-data,tables,geopackage")
    for name in names:
        made = work / "plans" / f"{name}-plan"
        (made if made.is_dir() else work / "plans" / name).rename(work / f"{name}-plan")
    plans = {name: json.loads((work / f"{name}-plan" / "plan.json").read_text(encoding="utf-8")) for name in names}
    for name, plan in plans.items():
        check_plan(name, plan)
    stick = check_stick(twinsow, work, plans)
    wanted = check_order(twinsow, work, plans)
    check_week(twinsow, work, plans)
    rows, told = check_logs(twinsow, work, plans, stick)
    for text in broken[:20]:
        print(f"season.py: BROKEN: {text}")
    print(
        f"season.py: {len(plans)} fields, {len(wanted)} articles, {rows} rows of the ledger, {told} of {len(FAULTS)} sown faults told by name: "
        f"{held} checks held, {len(broken)} broken"
    )
    sys.exit(1 if broken else 0)


main()
