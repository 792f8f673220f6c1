"""Makes the files of this folder and what another program reads in them (expected.json).

Needs geopandas 1.2.0, pyogrio 0.13.0 (GDAL 3.12.4), shapely 2.2.0 and pyshp 3.1.6; run it in this
folder. All shapes are invented.
"""

import json, os, pathlib, shutil, sqlite3, zipfile
import geopandas as gpd, pyogrio, shapefile, shapely
from shapely import from_wkt

here = pathlib.Path(__file__).parent
os.chdir(here)
for old in here.iterdir():
    if old.suffix in {".shp", ".dbf", ".shx", ".prj", ".cpg", ".zip", ".gpkg", ".geojson", ".gpx", ".kml", ".kmz"}:
        old.unlink()

# A polygon with a hole, two parts with an island in a hole, a plain one.
SHAPES = [
    "POLYGON ((500000 6100000, 500300 6100010, 500280.25 6100200.125, 499990 6100190, 500000 6100000),"
    " (500100 6100050, 500120 6100050, 500120 6100070, 500100 6100070, 500100 6100050))",
    "MULTIPOLYGON (((501000 6100000, 501100 6100000, 501100 6100100, 501000 6100100, 501000 6100000),"
    " (501010 6100010, 501090 6100010, 501090 6100090, 501010 6100090, 501010 6100010)),"
    " ((501040 6100040, 501060 6100040, 501060 6100060, 501040 6100060, 501040 6100040)))",
    "POLYGON ((502000 6100000, 502000.1 6100000.3, 502050 6100050, 502000 6100000))",
]
polygons = gpd.GeoDataFrame(
    {
        "name": ["Grøde", "Mühle", None],
        "area_no": [12, -7, 2_000_000_001],
        "ph": [6.5, 7.25, None],
    },
    geometry=[from_wkt(text) for text in SHAPES],
    crs="EPSG:25832",
)


def shp(name, frame, **options):
    pyogrio.write_dataframe(frame, f"{name}.shp", driver="ESRI Shapefile", **options)


def at(frame, wkts, crs="EPSG:25832"):
    return gpd.GeoDataFrame(frame, geometry=[from_wkt(text) for text in wkts], crs=crs)


shp("polygons", polygons, encoding="UTF-8")
shp("polygons_cp850", polygons, encoding="CP850")
# GDAL names the code page only in a .cpg; older programs set the language byte (2 is 850) instead.
if os.path.exists("polygons_cp850.cpg"):
    os.remove("polygons_cp850.cpg")
dbf = bytearray(pathlib.Path("polygons_cp850.dbf").read_bytes())
dbf[29] = 2
pathlib.Path("polygons_cp850.dbf").write_bytes(dbf)
shp("polygons_latin", polygons, encoding="ISO-8859-1")
shp("polygons_z", at({"id": [1]}, ["POLYGON Z ((0 0 5, 1 1 6, 1 0 7, 0 0 5))"]))
shp("lines", at({"id": [1, 2]}, ["LINESTRING (0 0, 1 1, 2 0)", "MULTILINESTRING ((0 0, 1 1), (5 5, 6 6, 7 7))"]))
shp("points", at({"id": [1, 2]}, ["POINT (3 4)", "POINT (-1.5 2.25)"]))
shp("multipoints", at({"id": [1]}, ["MULTIPOINT (3 4, 5 6)"]))
for name in ["polygons_z", "lines", "points", "multipoints"]:
    os.remove(f"{name}.prj")
    os.remove(f"{name}.cpg")

# pyshp writes rings as they are given: here every ring clockwise, the hole too; then a null shape.
with shapefile.Writer("wound_wrong", shapeType=shapefile.POLYGON) as out:
    out.field("id", "N", 4)
    out.field("day", "D")
    out.field("wet", "L")
    out.poly([
        [[0, 0], [0, 10], [10, 10], [10, 0], [0, 0]],
        [[2, 2], [2, 4], [4, 4], [4, 2], [2, 2]],
        [[20, 0], [20, 10], [30, 10], [30, 0], [20, 0]],
    ])
    out.record(1, "20260315", True)
    out.null()
    out.record(2, None, None)


with shapefile.Writer("polygons_m", shapeType=shapefile.POLYGONM) as out:
    out.field("id", "N", 4)
    out.polym([[[0, 0, 5], [1, 1, 6], [1, 0, 7], [0, 0, 5]]])
    out.record(1)


def pack(target, folder, names):
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as out:
        for name in names:
            for part in ["shp", "dbf", "prj", "cpg", "shx"]:
                if os.path.exists(f"{name}.{part}"):
                    info = zipfile.ZipInfo(f"{folder}{name}.{part}", (2026, 1, 1, 0, 0, 0))
                    info.compress_type = zipfile.ZIP_DEFLATED
                    out.writestr(info, pathlib.Path(f"{name}.{part}").read_bytes())


pack("one.zip", "export/", ["polygons"])
pack("two.zip", "", ["polygons", "lines"])

own_crs = 'PROJCS["own plane",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",55],PARAMETER["central_meridian",10],PARAMETER["scale_factor",1],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1]]'


def gpkg(table, frame, **options):
    pyogrio.write_dataframe(
        frame, "layers.gpkg", layer=table, driver="GPKG", append=os.path.exists("layers.gpkg"),
        SPATIAL_INDEX="NO", **options,
    )


flagged = polygons.assign(wet=[True, False, True], size=[2**60 + 1, 0, -1])
gpkg("soil", flagged)
gpkg("odd \"name\"", at({"id": [1]}, ["POLYGON Z ((0 0 5, 1 1 6, 1 0 7, 0 0 5))"], "EPSG:28992"))
gpkg("own_plane", at({"id": [1]}, ["POLYGON ((0 0, 1 1, 1 0, 0 0))"], own_crs))
gpkg("points", at({"id": [1, 2]}, ["POINT (3 4)", "POINT (-1.5 2.25)"]))
gpkg("lines_z", at({"id": [1]}, ["MULTILINESTRING Z ((0 0 1, 1 1 1), (5 5 1, 6 6 1))"]))
gpkg("undefined", gpd.GeoDataFrame({"id": [1]}, geometry=[from_wkt("POINT (3 4)")]))
# Strip what only other programs need, and the dates, so that the same run gives the same file.
with sqlite3.connect("layers.gpkg") as db:
    db.execute("UPDATE gpkg_contents SET last_change = '2026-01-01T00:00:00.000Z'")
db = sqlite3.connect("layers.gpkg")
db.execute("PRAGMA page_size = 1024")
db.execute("VACUUM")
db.close()

degrees = polygons.to_crs("EPSG:4326")
pyogrio.write_dataframe(degrees, "rfc7946.geojson", driver="GeoJSON", RFC7946="YES", ID_FIELD="area_no")
pyogrio.write_dataframe(polygons, "projected.geojson", driver="GeoJSON")


def parts(shape):
    """Polygons as rings of points, or lines, or points; Z and M left out."""
    if shape is None or shape.is_empty:
        return []
    if hasattr(shape, "geoms"):
        return [part for one in shape.geoms for part in parts(one)]
    ring = lambda line: [[x, y] for x, y, *_ in line.coords]
    if shape.geom_type == "Polygon":
        return [[ring(shape.exterior)] + [ring(hole) for hole in shape.interiors]]
    return [ring(shape)] if shape.geom_type == "LineString" else ring(shape)


def plain(value):
    if value is None or value != value:
        return None
    value = value.item() if hasattr(value, "item") else value
    return value if isinstance(value, (str, int, float, bool)) else str(value)[:10]


# What a handheld receiver records: a walk in two pieces, and a way to go.
walk = at({"name": ["Brook & bank"]}, ["MULTILINESTRING ((2.5 54.8, 2.501 54.8005), (2.502 54.801, 2.503 54.8, 2.504 54.799))"], "EPSG:4326")
pyogrio.write_dataframe(walk, "tracks.gpx", driver="GPX", layer="tracks")
way = at({"name": ["Gate", "Grøde"]}, ["LINESTRING (2.5 54.8, 2.501 54.8005)", "LINESTRING (-2.5 -54.8, 2.501 54.8, 0 0)"], "EPSG:4326")
pyogrio.write_dataframe(way, "routes.gpx", driver="GPX", layer="routes")

# What a globe viewer saves, by two writers; one of them packs it, with all heights 0.
drawn = degrees.rename(columns={"name": "Name"})
pyogrio.write_dataframe(drawn, "soil.kml", driver="KML", layer="soil")
pyogrio.write_dataframe(drawn, "soil.kmz", driver="LIBKML", layer="soil")

expected = []
sources = [(path.name, None) for path in sorted(here.glob("*.shp"))]
sources += [(path.name, None) for path in sorted(here.glob("*.geojson"))]
sources += [(path.name, path.stem) for path in sorted(here.glob("*.gpx"))]
sources += [("soil.kml", "polygons"), ("soil.kmz", "polygons")]
sources += [("layers.gpkg", str(name)) for name, _ in pyogrio.list_layers("layers.gpkg")]
for name, table in sources:
    # Tables of KML are ours: kinds of geometry.
    own = table if table and ".km" not in name else None
    frame = pyogrio.read_dataframe(name, layer=own) if own else pyogrio.read_dataframe(name)
    columns = [column for column in frame.columns if column != "geometry"]
    if name.endswith(".gpx"):
        # GDAL lists all that the format has, filled or not.
        columns = [column for column in columns if frame[column].notna().any()]
    if ".km" in name:
        # GDAL lists what it keeps of a placemark's looks as well.
        frame = frame.rename(columns={"Name": "name"})
        columns = ["name", "area_no", "ph"]
    authority = frame.crs.to_authority() if frame.crs else None
    expected.append({
        "file": name,
        "table": table,
        "crs": ":".join(authority) if authority else None,
        "attributes": columns,
        "rows": [[plain(row[column]) for column in columns] for _, row in frame.iterrows()],
        "parts": [parts(shape) for shape in frame.geometry],
    })
text = json.dumps(expected, ensure_ascii=False)
pathlib.Path("expected.json").write_text(text.replace('{"file"', '\n{"file"') + "\n", encoding="utf-8")
