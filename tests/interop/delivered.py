"""What the checks of delivered folders have in common: counting checks, and the plan's own figures."""

import json
import sys
from pathlib import Path

import numpy as np
import pyogrio
import pyproj
import shapely


# What GDAL calls our columns: Integer, Real, String are enough.
KINDS = {"int32": "integer", "int64": "integer", "float64": "number", "object": "text"}


def table(path, layer=None):
    """`(columns by name, geometries, crs, kinds by name)` as GDAL reads them."""
    meta, _, wkb, values = pyogrio.raw.read(path, layer=layer)
    columns = dict(zip(meta["fields"], values))
    kinds = {name: KINDS.get(str(v.dtype), str(v.dtype)) for name, v in columns.items()}
    return columns, shapely.from_wkb(wkb), meta["crs"], kinds


class Checks:
    """Counts what held and keeps what did not."""

    def __init__(self, folder):
        self.folder = folder
        self.held = 0
        self.broken = []

    def that(self, holds, text):
        if holds:
            self.held += 1
        else:
            self.broken.append(text)
        return bool(holds)

    def equal(self, found, wanted, what):
        return self.that(found == wanted, f"{what}: found {found!r}, wanted {wanted!r}")

    def near(self, found, wanted, tolerance, what):
        fine = abs(found - wanted) <= tolerance
        return self.that(fine, f"{what}: found {found!r}, wanted {wanted!r} within {tolerance:.3g}")


def run(script, check, usage):
    """Runs `check(folder, checks)` over the folders of the command line and leaves with its verdict."""
    arguments = sys.argv[1:]
    if "--cells" in arguments:
        at = arguments.index("--cells")
        del arguments[at : at + 2]
    folders = [Path(a) for a in arguments]
    if not folders:
        sys.exit(usage)
    bad = False
    for folder in folders:
        checks = Checks(folder)
        check(folder, checks)
        if checks.held + len(checks.broken) == 0:
            checks.broken.append("nothing was checked")
        for text in checks.broken[:20]:
            print(f"{script}: {folder}: BROKEN: {text}")
        print(f"{script}: {folder}: {checks.held} checks held, {len(checks.broken)} broken")
        bad |= bool(checks.broken)
    sys.exit(1 if bad else 0)


class Plan:
    """plan.json, as far as the checks need it."""

    def __init__(self, folder):
        self.json = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        self.id = self.json["id"]
        self.products = [p["id"] for p in self.json["job"]["product"]]
        self.layers = [layer["name"] for layer in self.json["job"].get("layer", [])]
        self.tally = self.json["tally"]
        self.column = self.rate_columns()
        self.origin = self.json["frame"]["origin_lon_lat"]

    def rate_columns(self):
        """Column of each product's rate; names that are alike when case is ignored get _2, _3 ..."""
        taken = {"zone", "part", "area_ha"} | {f"class_{layer}".lower() for layer in self.layers}
        names = {}
        for product in self.products:
            name, number = f"{product}_kg_ha", 2
            while name.lower() in taken:
                name, number = f"{product}_kg_ha_{number}", number + 1
            taken.add(name.lower())
            names[product] = name
        return names

    def map_kg(self, product):
        """Total of a product's polygon map."""
        steps = self.product(product)["steps"]
        return next(step["kg"] for step in steps if step["step"] == "map")

    def product(self, product):
        return next(p for p in self.tally["products"] if p["id"] == product)

    def surface(self, product):
        """Whether a product is spread by a unit of its own."""
        return next(p for p in self.json["job"]["product"] if p["id"] == product)["surface_applied"]

    def to_degrees(self, places):
        """Places in the field's own plane, array (n, 2), to degrees."""
        lon0, lat0 = self.origin
        crs = f"+proj=tmerc +lon_0={lon0!r} +lat_0={lat0!r} +k=1 +datum=WGS84 +units=m +no_defs"
        to = pyproj.Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
        return np.column_stack(to.transform(places[:, 0], places[:, 1]))

    def to_plane(self, shapes):
        """Degrees to the field's own plane (transverse Mercator on WGS 84, scale 1)."""
        lon0, lat0 = self.origin
        crs = f"+proj=tmerc +lon_0={lon0!r} +lat_0={lat0!r} +k=1 +datum=WGS84 +units=m +no_defs"
        to = pyproj.Transformer.from_crs("EPSG:4326", crs, always_xy=True)
        return shapely.transform(shapes, lambda xy: np.column_stack(to.transform(xy[:, 0], xy[:, 1])))


def geodesic_m2(shape):
    """Area on the ellipsoid of a (multi)polygon in degrees, by GeographicLib's algorithms."""
    area, _ = pyproj.Geod(ellps="WGS84").geometry_area_perimeter(shapely.orient_polygons(shape))
    return area


def zones_of(path):
    """`(properties, geometry)` of every feature of a GeoJSON file, read with nothing but json."""
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    return [(f["properties"], shapely.geometry.shape(f["geometry"])) for f in features]


def cell_shares(zones, boxes):
    """Area of every zone in every cell: array (cells, zones), plane units; zones and boxes in the plane."""
    shares = np.zeros((len(boxes), len(zones)))
    tree = shapely.STRtree(boxes)
    for number, zone in enumerate(zones):
        zone = zone if zone.is_valid else shapely.make_valid(zone)  # that it is not valid is another check's business
        shapely.prepare(zone)
        near = tree.query(zone, predicate="intersects")
        inside = shapely.contains_properly(zone, boxes[near])
        shares[near[inside], number] = shapely.area(boxes[near[inside]])
        edge = near[~inside]
        shares[edge, number] = shapely.area(shapely.intersection(boxes[edge], zone))
    return shares


def majority(shares, rates):
    """Per cell: the rates that may stand for it, one row of `rates` each.

    A cell carries the rates that cover the most of it; where two cover the same to 1 cm2, either will do.
    Returns a list of sets of rate tuples; empty where the cell covers no land.
    """
    kinds = {}
    for number, row in enumerate(rates):
        kinds.setdefault(tuple(row), []).append(number)
    rows = list(kinds)
    areas = np.column_stack([shares[:, numbers].sum(axis=1) for numbers in kinds.values()])
    out = []
    for cell in areas:
        most = cell.max(initial=0.0)
        out.append({rows[k] for k in np.flatnonzero(cell >= most - 1e-4)} if most > 0 else set())
    return out
