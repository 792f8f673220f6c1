#!/usr/bin/env python3
"""Reads every form of task data of delivered folders with the PyPI library `isoxml` and compares them cell by cell.

The form under terminal/TASKDATA is checked against the plan elsewhere (taskdata_py.py). Here every form under
terminal/fallback/ has to say the same: same corner, cell and counts, same rate of every product in every cell, same rates
for the default, a lost position and outside the field, and no zone that a task names may be missing.

Usage: taskdata_forms.py FOLDER...
"""

import sys
from pathlib import Path

import numpy as np
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
        order = [v.product_id_ref for v in special[0].process_data_variables]
        for zone in task.treatment_zones:
            assert [v.product_id_ref for v in zone.process_data_variables] == order, "order of the variables"
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
