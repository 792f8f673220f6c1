#!/usr/bin/env python3
"""Opens the GIS files of delivered folders with GDAL (through pyogrio and rasterio) and SQLite.

Checked: schema, CRS, values, geometry, and that the kilograms recomputed from each file alone are those of
plan.json, up to what the file's own number format loses.

Standards: RFC 7946 (GeoJSON: ring direction, no CRS member, at most WGS 84); OGC 12-128r17 (GeoPackage 1.3:
requirements 2, 10, 11, 12, 13, 77 and annex F.3 on the R-tree; extensions gpkg_schema and gpkg_metadata); OGC 07-147r2 (KML 2.2); Shapefile description of July 1998;
OGC 19-008r4 (GeoTIFF 1.1).

ISO 19139 for the metadata, read by OWSLib; OGC 02-070 (SLD 1.0.0). With --styles DIR the styles are put there for styles_js.

Usage: gis.py [--styles DIR] FOLDER...
"""

import json
import shutil
import sqlite3
import sys
import tempfile
import warnings
import xml.etree.ElementTree as ElementTree
import zipfile
from pathlib import Path

import numpy as np
import pyogrio
import pyproj
import rasterio
import shapely
from lxml import etree
from owslib.iso import MD_Metadata
from delivered import Plan, cell_shares, geodesic_m2, majority, run, table, zones_of

STYLES = None
if "--styles" in sys.argv:
    at = sys.argv.index("--styles")
    STYLES = Path(sys.argv[at + 1])
    STYLES.mkdir(parents=True, exist_ok=True)
    del sys.argv[at : at + 2]


def wanted_columns(plan):
    names = {"zone": "integer", "part": "text"}
    names |= {f"class_{layer}": "text" for layer in plan.layers}
    names |= {"area_ha": "number"} | {plan.column[p]: "number" for p in plan.products}
    names |= {f"{p}_kg": "number" for p in plan.products}
    return names | {"field": "text", "farm": "text", "plan": "text"}


def vector(checks, plan, what, columns, shapes, crs, kinds, short=False):
    """The checks that all vector files of the rate map share."""
    checks.equal(pyproj.CRS(crs).to_epsg(min_confidence=70), 4326, f"{what}: CRS")
    names = wanted_columns(plan)
    if short:
        checks.that(all(len(n) <= 10 and n.isascii() for n in kinds), f"{what}: a field name is too long: {list(kinds)}")
        checks.equal(list(kinds.values()), list(names.values()), f"{what}: kinds of the fields, in order")
        columns = dict(zip(names, columns.values()))
    else:
        checks.equal(kinds, names, f"{what}: columns")
    checks.equal(set(columns["plan"]), {plan.id}, f"{what}: plan id on every feature")
    checks.that(len(set(columns["zone"])) == len(shapes), f"{what}: zone numbers repeat")
    checks.that(set(columns["part"]) <= {"headland", "interior"}, f"{what}: land parts {set(columns['part'])}")
    checks.that(bool(shapely.is_valid(shapes).all()), f"{what}: a geometry is not valid")
    total = 0.0
    for number, shape in enumerate(shapes):
        area = geodesic_m2(shape)
        total += area
        # Degrees with nine decimals move a border by up to 0.1 mm; area_ha in a table has six decimals.
        loose = 1e-6 * area + 1.5e-4 * shape_length_m(plan, shape) + 0.01
        checks.near(columns["area_ha"][number] * 1e4, area, loose, f"{what}: area of zone {columns['zone'][number]}, m2")
    checks.near(total, plan.tally["mapped_m2"], 1e-6 * total + 0.5, f"{what}: sum of areas, m2")
    for product in plan.products:
        kg = float(np.dot(columns[plan.column[product]], columns["area_ha"]))
        # Half a digit of each column, summed up over the zones.
        lost = float(np.abs(columns[plan.column[product]]).sum() * 5e-7 + np.sum(columns["area_ha"]) * 5e-7)
        checks.near(kg, plan.map_kg(product), lost + 1e-6, f"{what}: {product}, kg")
        each = columns[f"{product}_kg"]
        lost += 5e-7 * len(each)
        checks.near(float(each.sum()), plan.map_kg(product), lost + 1e-6, f"{what}: {product}, kg of each zone")
    field = plan.json["job"]["field"]
    # An empty text is a missing one in some formats.
    found = ({(text or "") for text in columns["field"]}, {(text or "") for text in columns["farm"]})
    checks.equal(found, ({field["name"]}, {field["farm"]}), f"{what}: field and farm on every feature")


def shape_length_m(plan, shape):
    return shapely.length(plan.to_plane(shape))


def geojson(checks, plan, path):
    raw = json.loads(path.read_text(encoding="utf-8"))
    checks.equal(raw["type"], "FeatureCollection", "GeoJSON: type")
    checks.that("crs" not in raw, "GeoJSON: RFC 7946 has no crs member")
    for feature in raw["features"]:
        shape = shapely.geometry.shape(feature["geometry"])
        for part in shapely.get_parts(shape):
            right_hand = part.exterior.is_ccw and not any(hole.is_ccw for hole in part.interiors)
            checks.that(right_hand, f"GeoJSON: feature {feature.get('id')}: a ring breaks the right-hand rule")
    vector(checks, plan, "GeoJSON", *table(path))


def geopackage(checks, plan, path):
    vector(checks, plan, "GeoPackage", *table(path, "rates"))
    layers = {name for name, _ in pyogrio.list_layers(path)}
    driven = set() if plan.json.get("as_driven") is None else {"bouts", "sections", "tramline_rows", "difference"}
    driven |= set() if plan.json.get("refills") is None else {"refills"}
    driven |= {"trial_plots"} if plan.json.get("trials") else set()
    left = {"balance"} if plan.json["balance"] else set()
    layers -= {"layer_styles"}
    checks.equal(layers, {"rates", "boundary", "exclusions"} | driven | left, "GeoPackage: layers")
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        pyogrio.read_info(path, layer="rates")
    checks.equal([str(one.message) for one in said], [], "GeoPackage: what GDAL warns about")
    _, boundary, _, _ = table(path, "boundary")
    area = sum(geodesic_m2(shape) for shape in boundary)
    checks.near(area, plan.tally["boundary_m2"], 1e-6 * area, "GeoPackage: boundary, m2")
    database = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
    one = lambda sql: database.execute(sql).fetchone()[0]
    checks.equal(one("PRAGMA application_id"), 0x47504B47, "GeoPackage: application id (requirement 2)")
    checks.equal(one("PRAGMA user_version"), 10300, "GeoPackage: version (requirement 2)")
    checks.equal(one("PRAGMA integrity_check"), "ok", "GeoPackage: integrity (requirement 6)")
    checks.equal(database.execute("PRAGMA foreign_key_check").fetchall(), [], "GeoPackage: foreign keys (requirement 7)")
    ids = {row[0] for row in database.execute("SELECT srs_id FROM gpkg_spatial_ref_sys")}
    checks.that({-1, 0, 4326} <= ids, f"GeoPackage: reference systems (requirement 11): {ids}")
    rows = database.execute("SELECT table_name, data_type, min_x, min_y, max_x, max_y, srs_id FROM gpkg_contents WHERE data_type = 'features'").fetchall()
    checks.equal({row[0] for row in rows}, layers, "GeoPackage: gpkg_contents (requirement 13)")
    for name, kind, west, south, east, north, srs in rows:
        _, shapes, _, _ = table(path, name)
        checks.equal((kind, srs), ("features", 4326), f"GeoPackage: {name}: kind and CRS")
        bounds = [None] * 4 if len(shapes) == 0 else list(shapely.total_bounds(shapes))
        checks.equal([west, south, east, north], bounds, f"GeoPackage: {name}: extent")
        kept = one(f"SELECT count(*) FROM gpkg_extensions WHERE table_name = '{name}' AND extension_name = 'gpkg_rtree_index'")
        checks.equal(kept, 1, f"GeoPackage: {name}: index extension (requirement 77)")
        checks.equal(one(f'SELECT count(*) FROM "rtree_{name}_geom"'), len(shapes), f"GeoPackage: {name}: rows of the index")
        boxes = database.execute(f'SELECT id, minx, miny, maxx, maxy FROM "rtree_{name}_geom"').fetchall()
        fids = [row[0] for row in database.execute(f'SELECT fid FROM "{name}" ORDER BY fid')]
        checks.equal(sorted(row[0] for row in boxes), fids, f"GeoPackage: {name}: ids in the index")
        covers = all(
            box[1] <= s.bounds[0] and box[2] <= s.bounds[1] and box[3] >= s.bounds[2] and box[4] >= s.bounds[3]
            for box, s in zip(sorted(boxes), shapes)
        )
        checks.that(covers, f"GeoPackage: {name}: an index box does not hold its feature")
    about(checks, plan, path, database)
    database.close()
    edited(checks, path)


def about(checks, plan, path, database):
    """Names with units, colours and metadata in the GeoPackage; the colours against those of the KML, which another module makes."""
    units = dict(database.execute("SELECT column_name, title FROM gpkg_data_columns WHERE table_name = 'rates'"))
    checks.equal(set(units), set(wanted_columns(plan)), "GeoPackage: columns with a name for people")
    for product in plan.products:
        checks.that(units.get(plan.column[product], "").endswith(", kg/ha"), f"GeoPackage: unit of {plan.column[product]}")
    registered = {row[0] for row in database.execute("SELECT table_name FROM gpkg_extensions WHERE extension_name IN ('gpkg_schema', 'gpkg_metadata')")}
    wanted = {"gpkg_data_columns", "gpkg_data_column_constraints", "gpkg_metadata", "gpkg_metadata_reference"}
    checks.equal(registered, wanted, "GeoPackage: tables of extensions are listed")
    text = database.execute("SELECT metadata FROM gpkg_metadata JOIN gpkg_metadata_reference ON md_file_id = id WHERE reference_scope = 'geopackage'").fetchone()[0]
    checks.that(text == (path.parent / "metadata.xml").read_text(encoding="utf-8"), "GeoPackage: metadata are not those of metadata.xml")
    metadata(checks, plan, text)

    styles = database.execute("SELECT styleQML, styleSLD, useAsDefault FROM layer_styles WHERE f_table_name = 'rates' ORDER BY id").fetchall()
    checks.equal([row[2] for row in styles], [1] + [0] * (len(plan.products) - 1), "GeoPackage: style that a layer opens with")
    colours = kml_colours(path.parent / "rates.kml")
    for product, (qml, sld, _) in zip(plan.products, styles):
        column = plan.column[product]
        rates = sorted({row[0] for row in database.execute(f'SELECT "{column}" FROM rates')})
        root = ElementTree.fromstring(qml)
        fills = {}
        for symbol in root.iter("symbol"):
            properties = {prop.get("k"): prop.get("v") for prop in symbol.iter("prop")}
            fills[symbol.get("name")] = "#{:02x}{:02x}{:02x}".format(*map(int, properties["color"].split(",")[:3]))
        found = [(float(c.get("value")), fills[c.get("symbol")]) for c in root.iter("category")]
        checks.equal((root.find("renderer-v2").get("attr"), [rate for rate, _ in found]), (column, rates), f"GeoPackage: QML of {product}: a class for each rate")
        off = [rate for rate, colour in found if rate > 0 and colours.get((product, rate)) != colour]
        checks.equal(off, [], f"GeoPackage: QML of {product}: rates that have another colour in the KML")
        checks.equal(len(list(ElementTree.fromstring(sld).iter("{http://www.opengis.net/sld}Rule"))), len(rates), f"GeoPackage: SLD of {product}: rules")
        if STYLES:
            front = STYLES / f"{plan.id}-{product}"
            front.with_suffix(".qml").write_text(qml, encoding="utf-8")
            front.with_suffix(".sld").write_text(sld, encoding="utf-8")
            as_text = [[int(rate) if rate == int(rate) else rate, colour] for rate, colour in found]
            front.with_suffix(".json").write_text(json.dumps({"column": column, "rates": as_text}), encoding="utf-8")


def metadata(checks, plan, text):
    """ISO 19139 as OWSLib reads it."""
    found = MD_Metadata(etree.fromstring(text.encode()))
    about = found.identification[0]
    checks.that(plan.id in about.title and plan.json["job"]["field"]["name"] in about.title, f"metadata: title {about.title!r}")
    box = [float(side) for side in (about.extent.boundingBox.minx, about.extent.boundingBox.miny, about.extent.boundingBox.maxx, about.extent.boundingBox.maxy)]
    checks.near(np.abs(np.subtract(box, plan.json["map"]["extent_lon_lat"])).max(), 0, 1e-9, "metadata: extent")
    checks.equal(found.referencesystem.code, "4326", "metadata: CRS")
    checks.equal(about.date[0].date, plan.json["made_at"][:10], "metadata: date")
    for entry in plan.json["inputs"]:
        checks.that(entry["sha256"] in found.dataquality.lineage, f"metadata: hash of {entry['file']}")
    checks.equal(about.topiccategory, ["farming"], "metadata: topic")


def kml_colours(path):
    """Colour `#rrggbb` by product and rate, as the KML has it."""
    space = "{http://www.opengis.net/kml/2.2}"
    document = ElementTree.parse(path).getroot().find(f"{space}Document")
    fills = {f"#{s.get('id')}": s.find(f"{space}PolyStyle/{space}color").text for s in document.iter(f"{space}Style")}
    out = {}
    plan = Plan(path.parent.parent)
    for folder, product in zip(document.findall(f"{space}Folder"), plan.products):
        for mark in folder.iter(f"{space}Placemark"):
            data = {each.get("name"): each.text for each in mark.iter(f"{space}SimpleData")}
            # A style that is not there is none; the check of the KML tells of it.
            blue_first = fills.get(mark.find(f"{space}styleUrl").text, "")
            out[product, float(data[plan.column[product]])] = f"#{blue_first[6:8]}{blue_first[4:6]}{blue_first[2:4]}"
    return out


def edited(checks, path):
    """A GIS edits a copy: the triggers must keep the index in step (annex F.3)."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "copy.gpkg"
        shutil.copy2(path, copy)
        meta, _, wkb, values = pyogrio.raw.read(copy, layer="boundary")
        one = [value[:1] for value in values]
        pyogrio.raw.write(
            copy, wkb[:1], one, meta["fields"], layer="boundary", driver="GPKG", append=True,
            geometry_type="MultiPolygon", crs=meta["crs"],
        )  # fmt: skip
        database = sqlite3.connect(copy)
        rows = database.execute('SELECT count(*) FROM "boundary"').fetchone()[0]
        boxes = database.execute('SELECT count(*) FROM "rtree_boundary_geom"').fetchone()[0]
        database.close()
    checks.equal((rows, boxes), (len(wkb) + 1, len(wkb) + 1), "GeoPackage: rows and index after an edit by GDAL")


def kml(checks, plan, path):
    """A folder for each product, all zones in each, coloured by that product's rate, the first one shown."""
    names = [product["name"] for product in plan.tally["products"]]
    checks.equal([name for name, _ in pyogrio.list_layers(path)], names, "KML: folders")
    wanted = wanted_columns(plan)
    for name, product in zip(names, plan.products):
        columns, shapes, crs, kinds = table(path, name)
        checks.equal(pyproj.CRS(crs).to_epsg(min_confidence=70), 4326, "KML: CRS")
        checks.equal({k: v for k, v in kinds.items() if k in wanted}, wanted, f"KML: {name}: columns")
        checks.that(bool(shapely.is_valid(shapes).all()), f"KML: {name}: a geometry is not valid")
        for number, shape in enumerate(shapes):
            # Seven decimals move a border by up to 8 mm.
            loose = 0.01 * shape_length_m(plan, shape) + 0.01
            checks.near(columns["area_ha"][number] * 1e4, geodesic_m2(shape), loose, f"KML: {name}: area of zone {number + 1}, m2")
        kg = float(np.dot(columns[plan.column[product]], columns["area_ha"]))
        checks.near(kg, plan.map_kg(product), 1e-6 * kg + 1e-6, f"KML: {name}: kg")
    space = "{http://www.opengis.net/kml/2.2}"
    document = ElementTree.parse(path).getroot().find(f"{space}Document")
    fills = {f"#{style.get('id')}": style.find(f"{space}PolyStyle/{space}color").text for style in document.iter(f"{space}Style")}
    for nth, (folder, product) in enumerate(zip(document.findall(f"{space}Folder"), plan.products)):
        checks.equal(folder.find(f"{space}visibility").text, "1" if nth == 0 else "0", f"KML: {product}: is shown")
        pairs = set()
        for mark in folder.iter(f"{space}Placemark"):
            data = {each.get("name"): each.text for each in mark.iter(f"{space}SimpleData")}
            pairs.add((float(data[plan.column[product]]), fills.get(mark.find(f"{space}styleUrl").text)))
        colours = {colour for _, colour in pairs}
        checks.that(None not in colours, f"KML: {product}: a zone has no colour")
        checks.equal(len({rate for rate, _ in pairs}), len(pairs), f"KML: {product}: a rate has two colours")


def shapefile(checks, plan, path):
    with zipfile.ZipFile(path) as archive:
        checks.equal(archive.testzip(), None, "Shapefile: zip check sums")
        endings = sorted(name.rsplit(".", 1)[-1] for name in archive.namelist())
        checks.equal(endings, ["cpg", "dbf", "prj", "qml", "shp", "shx"], "Shapefile: parts in the zip")
        style = ElementTree.fromstring(archive.read("rates.qml"))
    fields = pyogrio.read_info(f"/vsizip/{path}")["fields"]
    checks.that(style.find("renderer-v2").get("attr") in fields, "Shapefile: column of the style")
    vector(checks, plan, "Shapefile", *table(f"/vsizip/{path}"), short=True)


def terminal_shapefiles(checks, plan, folder):
    """One folder per product, one rate column each; one with all of them.

    Borders have fewer points, so kilograms differ by what plan.json says, no more. Neighbours have to share every point
    (shapely's test of a coverage), and no rate may reach into land where the full map has 0.
    """
    maps = {tuple(m["products"]): m for m in plan.json["terminal"]["polygons"]}
    zones = zones_of(folder.parent.parent / "gis" / "rates.geojson")
    if len(plan.products) > 1:
        found = sorted(folder.glob("shapefile-all-products/**/*.shp"))
        if checks.that(len(found) == 1, f"terminal Shapefile of all products: {len(found)} .shp"):
            columns, shapes, _, kinds = table(found[0])
            rates = [name for name, kind in kinds.items() if kind == "number"]
            checks.equal(len(rates), len(plan.products), "terminal Shapefile of all products: rate columns")
            areas = np.array([geodesic_m2(shape) for shape in shapes])
            checks.that(shapely.coverage_is_valid(shapes), "terminal Shapefile of all products: gaps or overlaps")
            for at, product in enumerate(plan.products):
                kg = float(np.dot(columns[rates[at]], areas)) / 1e4
                wanted = plan.map_kg(product) + maps[tuple(plan.products)]["change_kg"][at]
                checks.near(kg, wanted, 2e-6 * kg + 0.05, f"terminal Shapefile of all products: kg of {product}")
    for product in plan.products:
        found = sorted(folder.glob(f"shapefile-{product}/**/*.shp"))
        if not checks.that(len(found) == 1, f"terminal Shapefile of {product}: {len(found)} .shp under {folder}"):
            continue
        columns, shapes, crs, kinds = table(found[0])
        what = f"terminal Shapefile of {product}"
        checks.equal(pyproj.CRS(crs).to_epsg(min_confidence=70), 4326, f"{what}: CRS")
        rates = [name for name, kind in kinds.items() if kind == "number"]
        checks.equal(len(rates), 1, f"{what}: rate columns")
        checks.that(all(len(n) <= 10 for n in kinds), f"{what}: field names {list(kinds)}")
        areas = np.array([geodesic_m2(shape) for shape in shapes])
        kg = float(np.dot(columns[rates[0]], areas)) / 1e4
        change = maps[(product,)]["change_kg"][0]
        checks.near(kg, plan.map_kg(product) + change, 2e-6 * kg + 0.05, f"{what}: kg")
        checks.near(change, 0, 0.002 * kg, f"{what}: kg that fewer points change")
        checks.that(maps[(product,)]["points"] <= maps[(product,)]["points_before"], f"{what}: points")
        checks.that(shapely.coverage_is_valid(shapes), f"{what}: gaps or overlaps between polygons")
        checks.equal({shapely.get_type_id(shape) for shape in shapes}, {3}, f"{what}: single polygons")
        on = plan.to_plane(shapely.union_all([s for s, r in zip(shapes, columns[rates[0]]) if r > 0]))
        off = [plan.to_plane(shape) for p, shape in zones if p[plan.column[product]] == 0]
        gained = sum(shapely.intersection(on, shape).area for shape in off)
        checks.that(gained < 0.01, f"{what}: {gained} m2 with a rate where the map has 0")


def geotiff(checks, plan, path, zones):
    """Grid against zones cell by cell: orientation, position, coverage and rates at once."""
    with rasterio.open(path) as grid:
        lon0, lat0 = plan.origin
        crs = pyproj.CRS(grid.crs.to_wkt())
        checks.equal(crs.coordinate_operation.method_name, "Transverse Mercator", "GeoTIFF: projection")
        found = {p.name: p.value for p in crs.coordinate_operation.params}
        wanted = {
            "Longitude of natural origin": lon0,
            "Latitude of natural origin": lat0,
            "Scale factor at natural origin": 1,
            "False easting": 0,
            "False northing": 0,
        }
        checks.equal(set(found), set(wanted), "GeoTIFF: parameters of the projection")
        for name, value in wanted.items():
            checks.near(found.get(name, 999), value, 1e-9, f"GeoTIFF: {name}")
        checks.equal({axis.unit_name for axis in crs.axis_info}, {"metre"}, "GeoTIFF: unit of the axes")
        ellipsoid = (crs.ellipsoid.semi_major_metre, round(crs.ellipsoid.inverse_flattening, 9))
        checks.equal(ellipsoid, (6378137.0, 298.257223563), "GeoTIFF: ellipsoid")
        datum = crs.datum.name if crs.datum else "none"
        checks.that("World Geodetic System 1984" in datum or "WGS" in datum, f"GeoTIFF: datum {datum!r}")
        checks.equal(set(grid.dtypes), {"float32"}, "GeoTIFF: type of the bands")
        checks.equal(grid.count, len(plan.products) + 1, "GeoTIFF: bands")
        names = [name or "" for name in grid.descriptions]
        named = all(p in name for p, name in zip(plan.products, names)) and "covered" in names[-1]
        checks.that(named, f"GeoTIFF: band names {names}")
        checks.that(grid.nodata is not None, "GeoTIFF: no nodata value")
        checks.equal(list(grid.units), ["kg/ha"] * len(plan.products) + ["m2"], "GeoTIFF: units of the bands")
        made = plan.json["made_at"]
        checks.equal(grid.tags().get("TIFFTAG_DATETIME"), f"{made[:10].replace('-', ':')} {made[11:19]}", "GeoTIFF: time")
        for number, product in enumerate(plan.products):
            alone(checks, grid, number, plan.json["terminal"]["carried_as"][number], path.parent)
        # A tile as wide as the grid is none to GDAL's mind; edges of tiles are multiples of 16 (TIFF 6.0, section 15).
        sixteens = all(edge % 16 == 0 and edge <= 256 for shape in grid.block_shapes for edge in shape)
        checks.that(sixteens, f"GeoTIFF: blocks of {grid.block_shapes}")
        checks.that(grid.compression is not None, "GeoTIFF: not compressed")
        t = grid.transform
        checks.that(t.b == 0 and t.d == 0 and t.a > 0 and t.e < 0, f"GeoTIFF: not north-up: {t}")
        bands = grid.read(masked=True)
        rows, columns = np.indices((grid.height, grid.width)).reshape(2, -1)
    boxes = shapely.box(t.c + columns * t.a, t.f + (rows + 1) * t.e, t.c + (columns + 1) * t.a, t.f + rows * t.e)
    shares = cell_shares([shape for _, shape in zones], boxes)
    covered = bands[-1].filled(0).reshape(-1).astype(float)
    # float32 keeps 24 bits; the zones' degrees are rounded to nine decimals.
    off = np.abs(covered - shares.sum(axis=1)).max()
    checks.near(off, 0, 0.01, "GeoTIFF: covered m2, largest difference to the zones in any cell")
    checks.near(covered.sum(), plan.tally["mapped_m2"], 1e-6 * covered.sum() + 0.01, "GeoTIFF: covered m2, sum")
    rates = [[properties[plan.column[p]] for p in plan.products] for properties, _ in zones]
    allowed = majority(shares, rates)
    for number, product in enumerate(plan.products):
        band = bands[number].reshape(-1)
        value = band.filled(-1).astype(float)
        kg = float((np.where(band.mask, 0, value) * covered).sum()) / 1e4
        wanted = plan.product(product)["metric_grid_kg"] + plan.map_kg(product)
        checks.near(kg, wanted, 1e-6 * abs(kg) + 0.01, f"GeoTIFF: {product}, kg")
        # A zero may stand where a setback touches the cell; that it must is checked in setbacks.py.
        touched = {i for i, z in enumerate(rates) if z[number] == 0}
        strange = 0
        for cell in np.flatnonzero(shares.sum(axis=1) > 1e-3):
            mine = {np.float32(row[number]) for row in allowed[cell]}
            zero = value[cell] == 0 and any(shares[cell, i] > 0 for i in touched)
            strange += not (np.float32(value[cell]) in mine or zero)
        checks.equal(strange, 0, f"GeoTIFF: cells whose {product} rate is not that of the land they cover most")


def alone(checks, grid, number, carried, folder):
    """The file of one product: the same bands, and a colour for each rate in it."""
    front = folder / f"rates-{carried['file']}"
    with rasterio.open(front.with_suffix(".tif")) as own:
        checks.equal((own.transform, own.shape, own.crs), (grid.transform, grid.shape, grid.crs), f"{front.name}.tif: place")
        checks.equal(list(own.descriptions), [carried["column"], "covered_m2"], f"{front.name}.tif: bands")
        bands = own.read()
    same = np.array_equal(bands[0], grid.read(number + 1), equal_nan=True) and np.array_equal(bands[1], grid.read(grid.count))
    checks.that(same, f"{front.name}.tif: other values than rates.tif has")
    items = ElementTree.parse(front.with_suffix(".qml")).getroot().iter("item")
    shown = [np.float32(item.get("value")) for item in items]
    checks.equal(shown, sorted(np.unique(bands[0][~np.isnan(bands[0])])), f"{front.name}.qml: a colour for each rate")


def balance(checks, plan, folder):
    """What is left to broadcast, in all three formats: kilograms against the tally, the grid against the zones."""
    balances = plan.tally.get("balances", [])
    paths = [folder / "gis" / f"balance.{ending}" for ending in ("geojson", "tif")]
    checks.equal([path.exists() for path in paths], [bool(balances)] * 2, "balance: files")
    if not balances:
        return
    names = [f"{b['of']}_balance_kg_ha" for b in balances]
    for what, (columns, shapes, _, _) in (("GeoJSON", table(paths[0])), ("GeoPackage", table(folder / "gis/rates.gpkg", "balance"))):
        checks.equal(set(columns["plan"]), {plan.id}, f"balance, {what}: plan id")
        areas = np.array([geodesic_m2(shape) for shape in shapes])
        for name, tally in zip(names, balances):
            kg, wanted = float(np.dot(columns[name], areas)) / 1e4, tally["steps"][0]["kg"]
            checks.near(kg, wanted, 2e-6 * wanted + 0.05, f"balance, {what}: {name}, kg")
    zones = [(p, plan.to_plane(shape)) for p, shape in zones_of(paths[0])]
    with rasterio.open(paths[1]) as grid, rasterio.open(folder / "gis" / "rates.tif") as rates:
        checks.equal(list(grid.descriptions), [*names, "covered_m2"], "balance, GeoTIFF: bands")
        checks.equal((grid.transform, grid.shape, grid.crs), (rates.transform, rates.shape, rates.crs), "balance, GeoTIFF: place")
        bands, t = grid.read(masked=True), grid.transform
        rows, columns = np.indices((grid.height, grid.width)).reshape(2, -1)
        checks.that(bool(np.array_equal(bands[-1], rates.read()[-1])), "balance, GeoTIFF: covered m2")
    boxes = shapely.box(t.c + columns * t.a, t.f + (rows + 1) * t.e, t.c + (columns + 1) * t.a, t.f + rows * t.e)
    shares = cell_shares([shape for _, shape in zones], boxes)
    allowed = majority(shares, [[p[name] for name in names] for p, _ in zones])
    for number, name in enumerate(names):
        value = bands[number].filled(-1).reshape(-1).astype(float)
        zero = {i for i, (p, _) in enumerate(zones) if p[name] == 0}
        strange = [
            cell for cell in np.flatnonzero(shares.sum(axis=1) > 1e-3)
            if np.float32(value[cell]) not in {np.float32(row[number]) for row in allowed[cell]}
            and not (value[cell] == 0 and any(shares[cell, i] > 0 for i in zero))
        ]  # fmt: skip
        checks.equal(strange, [], f"balance, GeoTIFF: cells whose {name} is not that of the land they cover most")


def check(folder, checks):
    plan = Plan(folder)
    geojson(checks, plan, folder / "gis" / "rates.geojson")
    geopackage(checks, plan, folder / "gis" / "rates.gpkg")
    kml(checks, plan, folder / "gis" / "rates.kml")
    shapefile(checks, plan, folder / "gis" / "rates.shp.zip")
    terminal_shapefiles(checks, plan, folder / "terminal" / "fallback")
    zones = [(p, plan.to_plane(shape)) for p, shape in zones_of(folder / "gis" / "rates.geojson")]
    geotiff(checks, plan, folder / "gis" / "rates.tif", zones)
    balance(checks, plan, folder)


run("gis.py", check, __doc__)
