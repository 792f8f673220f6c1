"""Makes the GML files of this folder and what GDAL reads in each (expected.json): kind of features, CRS, values, and the
coordinates with x (east, longitude) first.

Needs geopandas 1.2.0, pyogrio 0.13.0 (GDAL 3.12.4) and shapely 2.2.0; run it in this folder. All shapes are invented.
"""

import json, os, pathlib
import geopandas as gpd, pyogrio, shapely

here = pathlib.Path(__file__).parent
os.chdir(here)
for old in here.iterdir():
    if old.suffix in {".gml", ".xsd", ".gfs"}:
        old.unlink()

# A hole, two parts, a plain one, in metres from a corner.
SHAPES = [
    [[(0, 0), (300, 10), (280, 200), (-10, 190)], [(100, 50), (120, 50), (120, 70), (100, 70)]],
    [[(400, 0), (500, 0), (500, 100), (400, 100)]],
    [[(600, 0), (650, 0.5), (640, 50)]],
]


def polygon(rings, corner, scale):
    rings = [[(corner[0] + x * scale, corner[1] + y * scale) for x, y in ring] for ring in rings]
    return shapely.Polygon(rings[0], rings[1:])


def frame(epsg, corner, scale):
    shapes = [polygon(rings, corner, scale) for rings in SHAPES]
    geometry = [shapes[0], shapely.MultiPolygon(shapes[1:]), shapes[2]]
    values = {"name": ["Grøde & Söhne", None, "loam"], "area_no": [12, -7, 2_000_000_001], "ph": [6.5, 7.25, None], "code": ["007", "010", "x"]}
    return gpd.GeoDataFrame(values, geometry=geometry, crs=f"EPSG:{epsg}")


# The order of axes in the registry: 25832 and 31370 have east first, 4326 and 4258 latitude, 31467 and 3035 north.
PLACES = {
    25832: ((500_000, 6_100_000), 1.0),
    31370: ((150_000, 170_000), 1.0),
    4326: ((9.5, 55.0), 1e-5),
    4258: ((9.5, 55.0), 1e-5),
    31467: ((3_500_000, 5_800_000), 1.0),
    3035: ((4_321_000, 3_210_000), 1.0),
}
files = []
for epsg, (corner, scale) in PLACES.items():
    for version in ["GML2", "GML3", "GML3.2"]:
        # Every way of writing for one CRS, the newest for the others.
        if version != "GML3.2" and epsg != 4258:
            continue
        name = f"{version.lower().replace('.', '')}_{epsg}.gml"
        pyogrio.write_dataframe(frame(epsg, corner, scale), name, driver="GML", layer="soil", FORMAT=version)
        files.append(name)
# GML 3 with the names that GML 2 had, and with web addresses.
for style in ["OGC_URL", "SHORT"]:
    name = f"gml3_{style.lower()}_4258.gml"
    pyogrio.write_dataframe(frame(4258, *PLACES[4258]), name, driver="GML", layer="soil", FORMAT="GML3", SRSNAME_FORMAT=style)
    files.append(name)
lines = gpd.GeoDataFrame(
    {"id_no": [1, 2]},
    geometry=[shapely.MultiLineString([[(500_000, 6_100_000, 5), (500_100, 6_100_050, 6)]]), shapely.MultiLineString([[(0, 0, 1), (1, 1, 1)], [(5, 5, 1), (6, 7, 1)]])],
    crs="EPSG:25832",
)
points = gpd.GeoDataFrame({"id_no": [1, 2]}, geometry=[shapely.Point(9.5, 55.0), shapely.Point(9.625, 55.25)], crs="EPSG:4326")
for name, of in [("lines_z.gml", lines), ("points.gml", points)]:
    pyogrio.write_dataframe(of, name, driver="GML", layer="things", FORMAT="GML3.2")
    files.append(name)

expected = {}
for name in files:
    read = pyogrio.read_dataframe(name)
    for side in [name.replace(".gml", ".gfs"), name.replace(".gml", ".xsd")]:
        if os.path.exists(side):
            os.remove(side)
    rings = []
    for shape in read.geometry:
        rings.append(shapely.get_coordinates(shape).tolist())
    expected[name] = {
        "features": len(read),
        "epsg": read.crs.to_epsg() if read.crs else None,
        "names": [None if value is None or value != value else value for value in (read["name"] if "name" in read else [])],
        "coordinates": rings,
    }
pathlib.Path("expected.json").write_text(json.dumps(expected, ensure_ascii=False, indent=1) + "\n")
