#!/usr/bin/env python3
"""Task data that other libraries have written, read by twinsow.

With the PyPI library `isoxml` (versions 3 and 4, folder and zip, grids of type 1 and 2, a machine, a guidance line) and with the
npm library `isoxml` (`taskdata_js/write.js`, versions 3 and 4) sets are made; `twinsow audit --json` has to give the corner,
the cells (sum of every row and column) and the area that went in, and `twinsow describe` the layers. At last a set with a
machine is what a job names as coming from its terminal: every form of the plan has to be valid by the public schemas, and the
PyPI library has to find each product's variable at its hopper's element.

Usage: others.py [--standards FOLDER] TWINSOW FOLDER_OF_TASKDATA_JS FOLDER_OF_THE_DEMO WORK
"""

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import isoxml.models.base.v3 as iso3
import isoxml.models.base.v4 as iso4
import numpy as np
import pyproj
import shapely
from isoxml.converter.np_grid import from_numpy_array_to_type_1, from_numpy_array_to_type_2
from isoxml.models.ddi_entities import DDEntity
from isoxml.util.isoxml_io import isoxml_from_path, isoxml_to_dir, isoxml_to_zip

HERE = Path(__file__).resolve().parent
WEST, SOUTH, EAST, NORTH = 8.0, 50.0, 8.004, 50.002
CORNERS = [(WEST, SOUTH), (EAST, SOUTH), (EAST, NORTH), (WEST, NORTH), (WEST, SOUTH)]
held, broken = 0, []


def that(holds, text):
    global held
    held += bool(holds)
    if not holds:
        broken.append(text)


def point(iso, lon, lat, kind="2"):
    return iso.Point(type=iso.PointType(kind), north=Decimal(repr(lat)), east=Decimal(repr(lon)))


def outline(iso, corners):
    line = iso.LineString(type=iso.LineStringType("1"), points=[point(iso, *corner) for corner in corners])
    return iso.Polygon(type=iso.PolygonType("1"), line_strings=[line])


def customer(iso):
    name = {"designator": "Estate"} if iso is iso3 else {"last_name": "Estate"}
    return iso.Customer(id="CTR3", **name)


def made(iso, kind):
    """`(task data, binaries, cells)`: two products on 9 rows of 13 columns."""
    rows, columns = 9, 13
    random = np.random.default_rng(20260320)
    table = random.integers(0, 25_000, (6, 2))
    codes = random.integers(0, 6, (rows, columns)).astype(np.uint8)
    cells = table[codes] if kind == 1 else random.integers(0, 25_000, (rows, columns, 2))
    variables = lambda values: [
        iso.ProcessDataVariable(process_data_ddi=b"\x00\x06", process_data_value=int(value), product_id_ref=f"PDT{at + 1}")
        for at, value in enumerate(values)
    ]
    zone = lambda code, values: iso.TreatmentZone(code=code, process_data_variables=variables(values))
    zones = [zone(at, values) for at, values in enumerate(table)] if kind == 1 else [zone(1, (0, 0))]
    grid = iso.Grid(
        minimum_north_position=Decimal(repr(SOUTH)),
        minimum_east_position=Decimal(repr(WEST)),
        cell_north_size=(NORTH - SOUTH) / rows,
        cell_east_size=(EAST - WEST) / columns,
        maximum_column=columns,
        maximum_row=rows,
        filename="GRD00001",
        type=iso.GridType(str(kind)),
        treatment_zone_code=1 if kind == 2 else None,
    )
    entities = [DDEntity.from_id(6), DDEntity.from_id(6)]
    binary = (
        from_numpy_array_to_type_1(codes, grid)
        if kind == 1
        else from_numpy_array_to_type_2(cells.astype(np.int32), grid, ddi_list=entities, scale=False)
    )
    grid.filelength = len(binary)
    field = iso.Partfield(id="PFD5", designator="Long Shoal", area=63_700, customer_id_ref="CTR3", farm_id_ref="FRM4", polygons=[outline(iso, CORNERS)])
    data = iso.Iso11783TaskData(
        management_software_manufacturer="another writer",
        management_software_version="1",
        data_transfer_origin=iso.Iso11783TaskDataDataTransferOrigin("1"),
        customers=[customer(iso)],
        farms=[iso.Farm(id="FRM4", designator="Farm", customer_id_ref="CTR3")],
        partfields=[field],
        products=[iso.Product(id="PDT1", designator="Oats"), iso.Product(id="PDT2", designator="Starter")],
        tasks=[iso.Task(id="TSK1", designator="another task", partfield_id_ref="PFD5", status=iso.TaskStatus("1"), treatment_zones=zones, grids=[grid])],
    )
    if iso is iso4:
        data.version_minor = iso.Iso11783TaskDataVersionMinor("3")
    return data, {"GRD00001": binary}, cells


def audited(twinsow, path):
    result = subprocess.run([twinsow, "audit", path, "--json"], capture_output=True, text=True)
    that(result.returncode == 0, f"{path}: audit says {result.stdout}{result.stderr}")
    return json.loads(result.stdout)["files"] if result.stdout.startswith("{") else []


def same(twinsow, path, cells, corner, cell, m2):
    files = audited(twinsow, path)
    that(len(files) == 1, f"{path}: {len(files)} tasks")
    for file in files:
        grid = file["grid"]
        rows, columns, products = cells.shape
        that((grid["rows"], grid["columns"]) == (rows, columns), f"{path}: {grid['rows']} x {grid['columns']}")
        that(grid["origin"] == list(corner) and grid["cell"] == list(cell), f"{path}: corner {grid['origin']}, cell {grid['cell']}")
        for product in range(products):
            that(grid["row_sums"][product] == cells[..., product].sum(axis=1).tolist(), f"{path}: rows of product {product}")
            that(grid["column_sums"][product] == cells[..., product].sum(axis=0).tolist(), f"{path}: columns of product {product}")
        that(abs(file["area_m2"] - m2) < 1e-6 * m2 + 0.5, f"{path}: {file['area_m2']} m2, wanted {m2}")


def described(twinsow, path, words):
    said = subprocess.run([twinsow, "describe", path], capture_output=True, text=True).stdout
    for word in words:
        that(word in said, f"{path}: describe does not say {word}: {said}")


def machine(iso):
    element = lambda number, kind, name, *objects: iso.DeviceElement(
        id=f"DET{number}",
        object_id=number,
        type=iso.DeviceElementType(str(kind)),
        designator=name,
        number=number,
        parent_object_id=0 if number == 1 else 1,
        device_object_references=[iso.DeviceObjectReference(device_object_id=at) for at in objects],
    )
    rate = lambda at: iso.DeviceProcessData(object_id=at, ddi=b"\x00\x06", property=2, trigger_methods=9, device_value_presentation_object_id=30)
    return iso.Device(
        id="DVC1",
        designator="drill",
        client_name=bytes.fromhex("A00086000DE0012A"),
        structure_label="41424344454647",
        localization_label="FF000000006564",
        elements=[element(1, 1, "drill"), element(2, 3, "Front", 20), element(3, 3, "Tank 2", 21)],
        process_data=[rate(20), rate(21)],
        value_presentations=[iso.DeviceValuePresentation(object_id=30, offset=0, scale=Decimal("0.01"), number_of_decimals=1, unit_designator="kg/ha")],
    )


def from_terminal(twinsow, demo, work, standards):
    """The demo's job with task data of its terminal: schema, elements, ids."""
    data, binaries, _ = made(iso4, 2)
    data.data_transfer_origin = iso4.Iso11783TaskDataDataTransferOrigin("2")
    data.devices = [machine(iso4)]
    data.task_controller_capabilities = [
        iso4.TaskControllerCapabilities(
            task_controller_control_function_name=bytes.fromhex("A000860020000001"),
            task_controller_designator="cab",
            version_number=iso4.TaskControllerCapabilitiesC("4"),
            provided_capabilities=63,
            number_of_booms_section_control=1,
            number_of_sections_section_control=2,
            number_of_control_channels=2,
        )
    ]
    folder = work / "job"
    folder.mkdir(parents=True)
    for path in demo.iterdir():
        if path.is_file():
            (folder / path.name).write_bytes(path.read_bytes())
    (folder / "TERMINAL").mkdir()
    isoxml_to_dir(folder / "TERMINAL", data, binaries)
    line = {"type": "LineString", "coordinates": None}
    boundary = shapely.from_geojson((folder / "boundary.geojson").read_text())
    west, south, east, north = boundary.bounds
    line["coordinates"] = [[(west + east) / 2, south + 0.25 * (north - south)], [(west + east) / 2, south + 0.75 * (north - south)]]
    (folder / "ab.geojson").write_text(json.dumps(line))
    job = (folder / "job.toml").read_text(encoding="utf-8")
    for old, new in (
        ('heading = "longest_edge"', 'along = { file = "ab.geojson" }'),
        ("closable_outlets = [18, 19, 30, 31]", ""),
        ("[headland]", '[terminal]\nfrom = "TERMINAL"\n\n[headland]'),
        ('name = "rear"', 'name = "rear"\nelement = "DET3"'),
    ):
        assert old in job, old
        job = job.replace(old, new, 1)
    (folder / "job.toml").write_text(job, encoding="utf-8")
    out = folder / "out"
    result = subprocess.run([twinsow, "plan", folder / "job.toml", "--out", out], capture_output=True, text=True)
    that(result.returncode < 2, f"plan with a terminal's set: {result.stdout}{result.stderr}")
    check = [sys.executable, HERE / "taskdata_schema.py", *(["--standards", standards] if standards else []), out]
    result = subprocess.run(check, capture_output=True, text=True)
    that(result.returncode == 0, f"schemas: {result.stdout}{result.stderr}")
    forms = sorted(out.glob("terminal/**/TASKDATA.XML"))
    that(len(forms) >= 4, f"{forms}")
    for form in forms:
        data, _ = isoxml_from_path(form)
        field = data.partfields[0]
        that((field.id, field.customer_id_ref, field.farm_id_ref) == ("PFD5", "CTR3", "FRM4"), f"{form}: {field.id}")
        that([element.id for element in data.devices[0].elements] == ["DET1", "DET2", "DET3"], f"{form}: elements")
        found = []
        for task in data.tasks:
            for zone in task.treatment_zones:
                at = [variable.device_element_id_ref for variable in zone.process_data_variables]
                that(at == [allocation.device_element_id_ref for allocation in task.product_allocations], f"{form}: {at}")
            found += at
        that(found == ["DET2", "DET3"], f"{form}: {found}")
        lines = field.line_strings if not hasattr(field, "guidance_groups") else field.guidance_groups[0].guidance_patterns[0].line_strings
        ends = [(float(p.east), float(p.north)) for p in lines[0].points]
        off = max(abs(a - b) for one, other in zip(ends, line["coordinates"]) for a, b in zip(one, other))
        that(off < 2e-9 and lines[0].width == 7200, f"{form}: the line {ends}")


def main():
    arguments = sys.argv[1:]
    standards = None
    if arguments[:1] == ["--standards"]:
        standards, arguments = arguments[1], arguments[2:]
    if len(arguments) != 4:
        sys.exit(__doc__)
    twinsow, js, demo, work = (Path(argument).resolve() for argument in arguments)
    work.mkdir(parents=True)
    square = shapely.Polygon(CORNERS)
    m2 = abs(pyproj.Geod(ellps="WGS84").geometry_area_perimeter(shapely.segmentize(square, 1e-5))[0])
    for iso, version in ((iso3, 3), (iso4, 4)):
        for kind in (1, 2):
            data, binaries, cells = made(iso, kind)
            corner, cell = (WEST, SOUTH), ((EAST - WEST) / 13, (NORTH - SOUTH) / 9)
            folder = work / f"version{version}-type{kind}" / "TASKDATA"
            folder.mkdir(parents=True)
            isoxml_to_dir(folder, data, binaries)
            same(twinsow, folder.parent, cells, corner, cell, m2)
            archive = work / f"version{version}-type{kind}.zip"
            isoxml_to_zip(archive, data, binaries)
            same(twinsow, archive, cells, corner, cell, m2)
            described(twinsow, archive, ["boundary", "grid", "Long Shoal", "Oats_kg_per_ha", "Starter_kg_per_ha"])
        archive = work / f"npm{version}.zip"
        subprocess.run(["node", js / "write.js", str(version), archive], check=True)
        inner = work / f"npm{version}"
        inner.mkdir()
        subprocess.run([sys.executable, "-m", "zipfile", "-e", archive, inner], check=True)
        data, binaries = isoxml_from_path(inner / "TASKDATA")
        grid = data.tasks[0].grids[0]
        cells = np.frombuffer(binaries["GRD00001"], "<i4").reshape(grid.maximum_row, grid.maximum_column, 2)
        that(cells.max() == 19050 and cells[0, 0].tolist() == [18000, 9000], "the npm library's own cells")
        corner = (float(grid.minimum_east_position), float(grid.minimum_north_position))
        same(twinsow, archive, cells, corner, (grid.cell_east_size, grid.cell_north_size), m2)
        described(twinsow, archive, ["boundary", "Grüner Acker"])
    from_terminal(twinsow, demo, work / "terminal", standards)
    for text in broken[:20]:
        print(f"others.py: BROKEN: {text}")
    print(f"others.py: {held} checks held, {len(broken)} broken")
    sys.exit(1 if broken else 0)


main()
