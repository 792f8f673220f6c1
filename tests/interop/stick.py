#!/usr/bin/env python3
"""Many plans on one stick: `twinsow stick`, its sets read by the PyPI library `isoxml`.

For every form on the stick: one partfield for each plan; each task by its plan id, with the products of that plan in its
order; its grid the same bytes as in the plan's own folder, its field the plan's area. Ids of one form are not those of
another. The stick made again from the plans in another order is the same bytes; one plan less changes no byte of another
field's elements and grids. `twinsow contents` has to give the rates that numpy gives over the cells with land, to 0.005 in the mean.

The schemas and the npm library are asked by `taskdata_schema.py` and `taskdata_js/stick.js`, which `.ci/run` starts.

Usage: stick.py TWINSOW STICK PLAN_FOLDER...
"""

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import shapely
from isoxml.util.isoxml_io import isoxml_from_path

held, broken = 0, []


def that(holds, text):
    global held
    held += bool(holds)
    if not holds:
        broken.append(text)


def run(*arguments, exits=(0,)):
    result = subprocess.run([str(a) for a in arguments], capture_output=True, text=True)
    that(result.returncode in exits, f"{arguments[1]}: exit {result.returncode}: {result.stdout[-800:]}{result.stderr[-800:]}")
    return result.stdout


def forms_of(stick):
    """`(name of the form, folder)`; the ready one first."""
    record = json.loads((stick / "stick.json").read_text(encoding="utf-8"))
    out = [(record["form"], stick / "TASKDATA")]
    return out + [(form, stick / "fallback" / form / "TASKDATA") for form in record["other_forms"]]


def own_folder(plan, form, ready):
    return plan / "terminal" / ("TASKDATA" if form == ready else f"fallback/{form}/TASKDATA")


def ids_of(data):
    things = (data.customers, data.farms, data.partfields, data.products, data.tasks)
    return {thing.id for group in things for thing in group}


def tasks_by_plan(data):
    found = {}
    for task in data.tasks:
        found.setdefault(task.designator.split()[0], []).append(task)
    return found


def order_of(data, task):
    """Names of the products in the order of the variables."""
    names = {product.id: product.designator for product in data.products}
    return [names[variable.product_id_ref] for variable in task.treatment_zones[0].process_data_variables]


def same_as_planned(form, folder, plans, ready):
    data, binaries = isoxml_from_path(folder)
    that(len(data.partfields) == len(plans), f"{form}: {len(data.partfields)} fields for {len(plans)} plans")
    ids = ids_of(data)
    that(all(i[3:] == str(int(i[3:])) and 0 < int(i[3:]) < 2**31 for i in ids), f"{form}: ids with zeros or too large")
    names = [grid.filename for task in data.tasks for grid in task.grids]
    that(len(names) == len(set(names)), f"{form}: a grid stands in two tasks")
    fields = {field.id: field for field in data.partfields}
    found = tasks_by_plan(data)
    for folder_of_plan, plan in plans:
        own, own_binaries = isoxml_from_path(own_folder(folder_of_plan, form, ready))
        mine, theirs = found.get(plan["id"], []), own.tasks
        that(len(mine) == len(theirs), f"{form}: {len(mine)} tasks of {plan['id']}, planned {len(theirs)}")
        for one, other in zip(mine, theirs):
            that(one.designator == other.designator, f"{form}: {one.designator}")
            that(order_of(data, one) == order_of(own, other), f"{form}: {plan['id']}: order of the products")
            values = lambda task: [[v.process_data_value for v in z.process_data_variables] for z in task.treatment_zones]
            that(values(one) == values(other), f"{form}: {plan['id']}: values of the zones")
            for grid, planned in zip(one.grids, other.grids):
                that(binaries[grid.filename] == own_binaries[planned.filename], f"{form}: {plan['id']}: cells")
                place = lambda g: (g.minimum_north_position, g.minimum_east_position, g.cell_north_size, g.maximum_row)
                that(place(grid) == place(planned), f"{form}: {plan['id']}: place of the grid")
            field = fields[one.partfield_id_ref]
            that(abs(float(field.area) - plan["tally"]["mapped_m2"]) <= 0.5, f"{form}: {plan['id']}: {field.area} m2")
    return ids


def by_field(folder):
    """Text of each field and its tasks, with its grids, by the field's name."""
    text = (folder / "TASKDATA.XML").read_text(encoding="utf-8")
    found = {}
    for field in re.findall(r'  <PFD .*?</PFD>', text, re.S):
        own = re.match(r'  <PFD A="(\w+)" C="([^"]*)"', field)
        tasks = [task for task in re.findall(r"  <TSK .*?</TSK>", text, re.S) if f' E="{own[1]}"' in task.split(">")[0]]
        grids = [(folder / f"{name}.bin").read_bytes() for task in tasks for name in re.findall(r' G="(GRD\d+)"', task)]
        found[own[2]] = (field, tasks, grids)
    return found


def all_bytes(stick):
    return {path.relative_to(stick): path.read_bytes() for path in sorted(stick.rglob("*")) if path.is_file()}


def contents(twinsow, stick, plans, ready):
    """What the command says of the ready form, against the cells that lie on land, by numpy and shapely."""
    said = json.loads(run(twinsow, "contents", stick / "TASKDATA", "--json", "--plans", *[folder for folder, _ in plans]))
    (kept,) = said["sets"]
    that(kept["damage"] == [] and len(kept["tasks"]) == len(plans), f"contents: {kept['damage']}")
    that(all(task["here"] == {"is": "same"} for task in kept["tasks"]), "contents: plans are not the same")
    tasks = {task["plan"]: task for task in kept["tasks"]}
    for folder, plan in plans[:8]:
        data, binaries = isoxml_from_path(own_folder(folder, ready, ready))
        grid, field = data.tasks[0].grids[0], data.partfields[0]
        products = len(data.tasks[0].treatment_zones[0].process_data_variables)
        cells = np.frombuffer(binaries[grid.filename], "<i4").reshape(-1, products) / 100
        rings = lambda polygon, kind: [[(float(p.east), float(p.north)) for p in line.points] for line in polygon.line_strings if line.type.value == kind]
        land = shapely.union_all([shapely.make_valid(shapely.Polygon(rings(p, "1")[0], rings(p, "2"))) for p in field.polygons])
        r, c = np.indices((grid.maximum_row, grid.maximum_column)).reshape(2, -1)
        west, south = float(grid.minimum_east_position), float(grid.minimum_north_position)
        wide, high = float(grid.cell_east_size), float(grid.cell_north_size)
        boxes = shapely.box(west + c * wide, south + r * high, west + (c + 1) * wide, south + (r + 1) * high)
        shares = shapely.area(shapely.intersection(boxes, land))
        for number, product in enumerate(tasks[plan["id"]]["products"]):
            on = (shares > 1e-6 * wide * high) & (cells[:, number] > 0)
            wanted = (cells[on, number].min(), np.average(cells[on, number], weights=shares[on]), cells[on, number].max())
            got = (product["lowest"], product["mean"], product["highest"])
            that(product["unit"] == "kg/ha", f"contents: {product['unit']}")
            that(np.allclose(got, wanted, rtol=0, atol=5e-3), f"contents: {plan['id']} {product['name']}: {got}, wanted {wanted}")


def main():
    if len(sys.argv) < 4:
        sys.exit(__doc__)
    twinsow, stick = Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve()
    plans = [(Path(folder), json.loads((Path(folder) / "plan.json").read_text(encoding="utf-8"))) for folder in sys.argv[3:]]
    folders = [folder for folder, _ in plans]
    run(twinsow, "stick", *folders, "--to", stick)
    forms = forms_of(stick)
    ready = forms[0][0]
    seen = set()
    for form, folder in forms:
        skipped = not all(own_folder(plan, form, ready).is_dir() for plan in folders)
        that(not skipped or form != ready, f"{form} is not there for every plan")
        own = [(folder, plan) for folder, plan in plans if own_folder(folder, form, ready).is_dir()]
        ids = same_as_planned(form, folder, own, ready)
        that(not ids & seen, f"{form}: ids of another form: {sorted(ids & seen)[:3]}")
        seen |= ids
    contents(twinsow, stick, plans, ready)
    # Again, in another order, in a new folder: no record to lean on.
    again = stick.with_name(stick.name + "-again")
    for folder in (again,):
        shutil.rmtree(folder, ignore_errors=True)
    run(twinsow, "stick", *reversed(folders), "--to", again)
    one, other = all_bytes(stick), all_bytes(again)
    differ = [name for name in sorted(set(one) | set(other)) if one.get(name) != other.get(name) and name.suffix in (".XML", ".bin")]
    that(not differ, f"another order gives other bytes: {differ[:3]}")
    # One field less: in the folder of before, where the record keeps the numbers.
    before = {form: by_field(folder) for form, folder in forms}
    run(twinsow, "stick", *folders[1:], "--to", again)
    gone = plans[0][1]["job"]["field"]["name"]
    for form, folder in forms_of(again):
        now = by_field(folder)
        that(gone not in now and len(now) == len(before[form]) - 1, f"{form}: {len(now)} fields")
        that(all(now[name] == before[form][name] for name in now), f"{form}: another field has changed")
    # Spoilt: one cell of a plan, and the stick is not made.
    spoilt = stick.with_name(stick.name + "-spoilt")
    shutil.rmtree(spoilt, ignore_errors=True)
    shutil.copytree(folders[0], spoilt / "plan")
    grid = next((spoilt / "plan" / "terminal" / "TASKDATA").glob("GRD*.bin"))
    cells = np.frombuffer(grid.read_bytes(), "<i4").copy()
    cells[np.argmax(cells)] += 1
    grid.write_bytes(cells.tobytes())
    run(twinsow, "stick", spoilt / "plan", "--to", spoilt / "stick", exits=(2,))
    that(not (spoilt / "stick").exists(), "a stick was made of a spoilt plan")
    for text in broken[:20]:
        print(f"stick.py: BROKEN: {text}")
    print(f"stick.py: {len(plans)} plans in {len(forms)} forms: {held} checks held, {len(broken)} broken")
    sys.exit(1 if broken else 0)


main()
