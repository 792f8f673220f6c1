#!/usr/bin/env python3
"""Reads every form of task data of delivered folders with the PyPI library `isoxml` and compares them cell by cell.

The form under terminal/TASKDATA is checked against the plan elsewhere (taskdata_py.py). Here every form under
terminal/fallback/ has to say the same: same corner, cell and counts, same rate of every product in every cell, same rates
for the default, a lost position and outside the field, no id of it, and no zone that a task names may be missing. A form with
polygons instead of a grid has to give each cell the rate that most of its land has in the polygons, wherever that is clear
though borders have moved to take points out; and its polygons must not overlap.

Usage: taskdata_forms.py FOLDER...
"""

import sys
from pathlib import Path

import numpy as np
import shapely
from isoxml.converter.np_grid import to_numpy_array
from isoxml.models.ddi_entities import DDEntity
from isoxml.util.isoxml_io import isoxml_from_path

SPECIAL = ("default_treatment_zone_code", "position_lost_treatment_zone_code", "out_of_field_treatment_zone_code")


def form(folder):
    """`{product: (placement, special values, cells)}` over all tasks of one data set."""
    data, binaries = isoxml_from_path(folder)
    out = {}
    for task in data.tasks:
        zones = {zone.code: zone for zone in task.treatment_zones}
        assert len(zones) == len(task.treatment_zones), "codes repeat"
        (grid,) = task.grids
        placement = tuple(
            float(value)
            for value in (
                grid.minimum_north_position,
                grid.minimum_east_position,
                grid.cell_north_size,
                grid.cell_east_size,
                grid.maximum_column,
                grid.maximum_row,
            )
        )
        raw = binaries[grid.filename]
        assert len(raw) == grid.filelength, "length attribute"
        special = [zones[getattr(task, name)] for name in SPECIAL]
        # Ids are each form's own; products are known by their names.
        names = {product.id: product.designator for product in data.products}
        order = [names[v.product_id_ref] for v in special[0].process_data_variables]
        for zone in task.treatment_zones:
            assert [names[v.product_id_ref] for v in zone.process_data_variables] == order, "order of the variables"
        if str(grid.type_value.value if hasattr(grid, "type_value") else grid.type.value) == "1":
            codes = np.frombuffer(raw, np.uint8).reshape(grid.maximum_row, grid.maximum_column)
            table = np.full((256, len(order)), -1)
            for code, zone in zones.items():
                table[code] = [v.process_data_value for v in zone.process_data_variables]
            cells = table[codes]
            assert (cells >= 0).all(), "a cell names a zone that is not there"
        else:
            cells = to_numpy_array(raw, grid, [DDEntity.from_id(6)] * len(order), scale=False)
            cells = cells.reshape(grid.maximum_row, grid.maximum_column, len(order))
        for at, product in enumerate(order):
            assert product not in out, "a product in two tasks"
            values = [zone.process_data_variables[at].process_data_value for zone in special]
            out[product] = (placement, values, cells[..., at])
    return out


def ids(folder):
    """Ids of what a terminal would keep: customers, farms, fields, products and tasks, but those that it has given itself."""
    data, _ = isoxml_from_path(folder)
    if data.devices:
        return set()
    return {thing.id for group in (data.customers, data.farms, data.partfields, data.products, data.tasks) for thing in group}


def polygons(folder):
    """`(special values by product, [(polygon, values by product)])` of a data set without grids; None with them."""
    data, _ = isoxml_from_path(folder)
    special, found = {}, []
    for task in data.tasks:
        if task.grids:
            return None
        zones = {zone.code: zone for zone in task.treatment_zones}
        assert len(zones) == len(task.treatment_zones), "codes repeat"
        names = {product.id: product.designator for product in data.products}
        values = lambda zone: {names[v.product_id_ref]: v.process_data_value for v in zone.process_data_variables}
        for product in values(zones[task.default_treatment_zone_code]):
            special[product] = [values(zones[getattr(task, name)])[product] for name in SPECIAL]
        for zone in task.treatment_zones:
            assert len(zone.polygons) < 2, "a zone with two polygons: some readers take the first only"
            for polygon in zone.polygons:
                assert polygon.type.value == "2" or polygon.type.value == 2, "no treatment-zone polygon"
                rings = [[(float(p.east), float(p.north)) for p in line.points] for line in polygon.line_strings]
                found.append((shapely.Polygon(rings[0], rings[1:]), values(zone)))
    return special, found


# To take points out, a border may have been moved by as much, in metres.
MOVED_M = 0.5


def same_as_polygons(wanted, special, found):
    """A cell has the rates that most of its land has in the polygons, where that is clear though borders have moved."""
    compared = 0
    for product, (placement, values, cells) in wanted.items():
        assert special[product] == values, f"{product}: special zones"
        south, west, high, wide, columns, rows = placement
        rows, columns = np.indices(cells.shape)
        left, low = (west + columns * wide).ravel(), (south + rows * high).ravel()
        boxes = shapely.box(left, low, left + wide, low + high)
        moved = MOVED_M / 111_000 / np.cos(np.radians(south))
        land, near = {}, {}
        for polygon, rates in found:
            assert polygon.is_valid, "a polygon crosses itself"
            share = land.setdefault(rates[product], np.zeros(cells.size))
            touched = np.flatnonzero(shapely.intersects(polygon, boxes))
            share[touched] += shapely.area(shapely.intersection(polygon, boxes[touched]))
            near.setdefault(rates[product], np.zeros(cells.size, bool))
            near[rates[product]] |= shapely.intersects(polygon.buffer(moved), boxes)
        rates, land = np.array(list(land)), np.array(list(land.values()))
        first = land.max(axis=0)
        second = np.sort(land, axis=0)[-2] if len(land) > 1 else np.zeros(cells.size)
        # Clear: more than can have changed sides within a cell, or no other rate anywhere near.
        clear = first - second > moved * 2 * (wide + high)
        clear |= (first > 0) & (sum(near.values()) == 1)
        # Any touch of a strip where a product is off makes a cell 0.
        clear &= ~((cells.ravel() == 0) & (land[rates == 0].sum(axis=0) > 0))
        same = cells.ravel()[clear] == rates[land.argmax(axis=0)][clear]
        assert same.all(), f"{product}: {(~same).sum()} cells have another rate than the polygons"
        compared += clear.sum()
    assert compared > 0, "nothing was compared"
    for at, (one, _) in enumerate(found):
        for other, _ in found[:at]:
            assert shapely.intersection(one, other).area < 1e-9 * one.area, "two polygons overlap"


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    bad, compared = 0, 0
    for folder in map(Path, sys.argv[1:]):
        wanted = form(folder / "terminal/TASKDATA")
        others = sorted(path.parent for path in folder.glob("terminal/fallback/*/TASKDATA/TASKDATA.XML"))
        if not others:
            sys.exit(f"taskdata_forms.py: {folder}: no other form of task data")
        for other in others:
            try:
                assert not ids(other) & ids(folder / "terminal/TASKDATA"), "ids of the form that lies ready"
                without_grid = polygons(other)
                if without_grid:
                    same_as_polygons(wanted, *without_grid)
                    compared += 1
                    continue
                found = form(other)
                assert found.keys() == wanted.keys(), "products"
                for product, (placement, values, cells) in wanted.items():
                    assert found[product][0] == placement, f"{product}: corner, cell or counts"
                    assert found[product][1] == values, f"{product}: special zones"
                    assert np.array_equal(found[product][2], cells), f"{product}: cells"
                compared += 1
            except AssertionError as error:
                bad += 1
                print(f"taskdata_forms.py: BROKEN: {other}: {error}")
    print(f"taskdata_forms.py: {compared} forms say the same as the one ready for the stick")
    sys.exit(1 if bad else 0)


main()
