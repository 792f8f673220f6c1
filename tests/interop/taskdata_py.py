#!/usr/bin/env python3
"""Reads the task data of delivered folders with the PyPI library `isoxml` and checks it cell by cell.

What a cell should hold is worked out here from gis/rates.geojson alone, by shapely in the field's own plane,
on the corners that the task data's own GRD element gives. So a wrong corner, a turned grid, swapped products
or a wrong factor cannot agree with both.

Facts about the format: ISO 11783-10 schema 4.3; data dictionary (ISO 11783-11) entries 6 and 75.

Usage: taskdata_py.py [--cells FOLDER_FOR_CELLS] FOLDER...
       --cells writes <folder name>.json with the values as read, for taskdata_js to compare with.
"""

import json
import sys
from decimal import Decimal
from pathlib import Path

import numpy as np
import shapely
from delivered import Plan, cell_shares, geodesic_m2, majority, run, zones_of
from isoxml.converter.np_grid import to_numpy_array
from isoxml.models.ddi_entities import DDEntity
from isoxml.util.isoxml_io import isoxml_from_path

RAW_PER_KG_HA = 100  # DDI 6 counts mg/m2; 1 kg/ha = 100 mg/m2


def only(checks, things, what):
    checks.equal(len(things), 1, f"number of {what}")
    return things[0] if things else None


def ddi(variable):
    """The entry's number, whatever type the reader made of the hexadecimal text."""
    raw = variable.process_data_ddi
    return int.from_bytes(raw, "big") if isinstance(raw, bytes) else int(str(raw), 16)


def zone_values(checks, plan, task):
    """Treatment zones: codes unique, the same variables in the same order, values as the plan says."""
    codes = [zone.code for zone in task.treatment_zones]
    checks.that(len(set(codes)) == len(codes), f"treatment zone codes repeat: {codes}")
    order = [[(ddi(v), v.product_id_ref) for v in zone.process_data_variables] for zone in task.treatment_zones]
    checks.that(all(o == order[0] for o in order), "the process data variables differ between zones")
    checks.equal(len(order[0]), len(plan.products), "process data variables per zone")
    checks.equal({number for number, _ in order[0]}, {6}, "data dictionary entries")
    by_code = {zone.code: [v.process_data_value for v in zone.process_data_variables] for zone in task.treatment_zones}
    for name, code in (
        ("default", task.default_treatment_zone_code),
        ("position lost", task.position_lost_treatment_zone_code),
        ("out of field", task.out_of_field_treatment_zone_code),
    ):
        checks.that(code in by_code, f"{name} zone {code} is not among {codes}")
    for key, code in (
        ("position_lost_kg_per_ha", task.position_lost_treatment_zone_code),
        ("out_of_field_kg_per_ha", task.out_of_field_treatment_zone_code),
    ):
        wanted = [round(row[key] * RAW_PER_KG_HA) for row in plan.json["terminal"]["products"]]
        checks.equal(by_code.get(code), wanted, f"values of the zone for {key}")
    return by_code, order[0]


def frame_elements(checks, plan, data, task):
    """Customer, farm, field, products and how they are shown."""
    customer, farm = only(checks, data.customers, "customers"), only(checks, data.farms, "farms")
    field = only(checks, data.partfields, "partfields")
    checks.that(customer and task.customer_id_ref == customer.id, "the task names no customer")
    checks.that(farm and task.farm_id_ref == farm.id, "the task names no farm")
    checks.that(field and task.partfield_id_ref == field.id, "the task names no partfield")
    checks.that((task.designator or "").startswith(plan.id), f"the task name {task.designator!r} does not start with the plan id {plan.id}")
    ids = [data_id for thing in (data.customers, data.farms, data.partfields, data.products, data.tasks) for data_id in [t.id for t in thing]]
    checks.that(all("-" not in i and i[3:] == str(int(i[3:])) for i in ids), f"ids with a hyphen or leading zeros: {ids}")
    shown = {v.id: (v.offset, Decimal(str(v.scale)), v.unit_designator) for v in data.value_presentations}
    for zone in task.treatment_zones:
        for variable in zone.process_data_variables:
            wanted = (0, Decimal("0.01"), "kg/ha")
            checks.equal(shown.get(variable.value_presentation_id_ref), wanted, f"how zone {zone.code} is shown")
    # The land: boundary polygons (type 1) with their holes, less obstacles (type 6); area attribute in whole m2.
    total = 0.0
    for polygon in field.polygons:
        rings = {1: [], 2: []}
        for line in polygon.line_strings:
            points = [(float(p.east), float(p.north)) for p in line.points]
            checks.equal(points[0], points[-1], "a boundary ring is not closed")
            rings[int(line.type.value)].append(points)
        checks.equal(len(rings[1]), 1, "exteriors in a boundary polygon")
        sign = {1: 1, 6: -1}.get(int(polygon.type.value), 0)
        total += sign * geodesic_m2(shapely.Polygon(rings[1][0], rings[2]))
    checks.near(total, plan.tally["mapped_m2"], 1e-6 * total + 0.5, "land in the task data, m2")
    checks.near(float(field.area), total, 0.5 + 1e-6 * total, "area attribute of the partfield, m2")


def cells(checks, plan, folder, grid, values, by_code):
    """Every cell against the land it covers."""
    rows, columns = grid.maximum_row, grid.maximum_column
    south, west = float(grid.minimum_north_position), float(grid.minimum_east_position)
    high, wide = float(grid.cell_north_size), float(grid.cell_east_size)
    r, c = np.indices((rows, columns)).reshape(2, -1)
    boxes = plan.to_plane(shapely.box(west + c * wide, south + r * high, west + (c + 1) * wide, south + (r + 1) * high))
    zones = [(p, plan.to_plane(shape)) for p, shape in zones_of(folder / "gis" / "rates.geojson")]
    shares = cell_shares([shape for _, shape in zones], boxes)
    covered = shares.sum(axis=1)
    checks.near(covered.sum(), plan.tally["mapped_m2"], 1e-6 * covered.sum() + 0.5, "land under the grid, m2")
    rates = [[p[plan.column[product]] for product in plan.products] for p, _ in zones]
    allowed = majority(shares, rates)
    flat = values.reshape(-1, len(plan.products))
    for number, product in enumerate(plan.products):
        zero_zones = [i for i, row in enumerate(rates) if row[number] == 0]
        raw = {round(row[number] * RAW_PER_KG_HA) for row in rates} | {0}
        strange, odd = 0, 0
        for cell in range(len(flat)):
            found = int(flat[cell, number])
            odd += found not in raw
            if covered[cell] > 1e-3:
                mine = {round(row[number] * RAW_PER_KG_HA) for row in allowed[cell]}
                touches_zero = found == 0 and any(shares[cell, i] > 0 for i in zero_zones)
                strange += not (found in mine or touches_zero)
        checks.equal(strange, 0, f"cells whose {product} value is not that of the land they cover most")
        checks.equal(odd, 0, f"cells with a {product} value that no land has")
        kg = float(flat[:, number] @ covered) / RAW_PER_KG_HA / 1e4
        wanted = plan.map_kg(product) + plan.product(product)["degrees_grid_kg"]
        # Half a raw step everywhere is the most that whole numbers can lose.
        checks.near(kg, wanted, covered.sum() / 1e4 * 0.5 / RAW_PER_KG_HA + 0.01, f"{product} from the grid, kg")
        checks.that(flat[covered > 1e-3, number].max() > 0, f"{product}: all cells are zero")
    rim = (covered == 0) & (flat.sum(axis=1) > 0)
    checks.that(rim.any(), "no cell outside the field carries a rate: the edge rim is missing")


def check(folder, checks):
    plan = Plan(folder)
    task_folder = folder / "terminal" / "TASKDATA"
    names = sorted(p.name for p in task_folder.iterdir())
    checks.that("TASKDATA.XML" in names, f"TASKDATA.XML is not there in upper case: {names}")
    checks.that(all(n == "TASKDATA.XML" or n.startswith("GRD") for n in names), f"foreign files in TASKDATA: {names}")
    data, binaries = isoxml_from_path(task_folder)
    checks.equal((str(data.version_major.value), str(data.version_minor.value)), ("4", "3"), "version")
    checks.equal(str(data.data_transfer_origin.value), "1", "origin of the data")
    task = only(checks, data.tasks, "tasks")
    checks.equal(str(task.status.value), "1", "status of the task")
    grid = only(checks, task.grids, "grids")
    by_code, variables = zone_values(checks, plan, task)
    frame_elements(checks, plan, data, task)
    names_by_id = {p.id: p.designator for p in data.products}
    wanted = [p["name"][:32] for p in plan.json["job"]["product"]]
    checks.equal([names_by_id.get(ref) for _, ref in variables], wanted, "products, in the order of the variables")
    checks.equal(str(grid.type.value), "2", "type of the grid")
    checks.that(grid.treatment_zone_code in by_code, "the grid's template zone is missing")
    binary = binaries[grid.filename]
    checks.equal(len(binary), grid.maximum_row * grid.maximum_column * 4 * len(plan.products), "length of the grid file")
    checks.equal(grid.filelength, len(binary), "length attribute of the grid")
    entities = [DDEntity.from_id(number) for number, _ in variables]
    values = to_numpy_array(binary, grid, entities, scale=False)
    checks.equal(values.shape, (grid.maximum_row, grid.maximum_column, len(plan.products)), "shape of the grid")
    cells(checks, plan, folder, grid, values, by_code)
    if "--cells" in sys.argv:
        target = Path(sys.argv[sys.argv.index("--cells") + 1])
        target.mkdir(parents=True, exist_ok=True)
        kept = {
            "rows": grid.maximum_row,
            "columns": grid.maximum_column,
            "south": float(grid.minimum_north_position),
            "west": float(grid.minimum_east_position),
            "high": float(grid.cell_north_size),
            "wide": float(grid.cell_east_size),
            "values": values.reshape(-1, len(plan.products)).tolist(),
        }
        (target / f"{folder.resolve().name}.json").write_text(json.dumps(kept), encoding="utf-8")


run("taskdata_py.py", check, __doc__)
