"""Makes frame_pyproj.csv: places in national grids and their WGS 84 longitudes and latitudes.

Made with pyproj 3.7.2 (wheel with PROJ 9.5.1, its own database, no grids, network off):

    python3 -m venv v && v/bin/pip install pyproj==3.7.2 && v/bin/python frame_pyproj.py > frame_pyproj.csv

Points are chosen by hand inside each CRS's area of use. Axes: always x east, y north.
"""

import pyproj
from pyproj.aoi import AreaOfInterest
from pyproj.transformer import TransformerGroup

pyproj.network.set_network_enabled(False)

PLACES = [
    ("EPSG:28992", [(155000, 463000), (98000, 482000), (256000, 571000)]),
    ("EPSG:25832", [(600000, 5800000), (512345.678, 6180000)]),
    ("EPSG:25833", [(410000, 5812000)]),
    ("EPSG:2193", [(1570000, 5180000), (1300000, 4900000)]),
    ("EPSG:3067", [(385000, 6672000), (440000, 7500000)]),
    ("EPSG:27700", [(450000, 250000), (310000, 690000)]),
    ("EPSG:31467", [(3500000, 5800000)]),
    ("EPSG:2154", [(652000, 6862000)]),
    ("EPSG:2056", [(2600000, 1200000), (2700000, 1250000)]),
    ("EPSG:2180", [(500000, 480000)]),
    ("EPSG:3006", [(500000, 6400000)]),
    ("EPSG:3857", [(600000, 6800000)]),
    ("EPSG:32615", [(480000, 4980000)]),
    ("EPSG:31370", [(150000, 170000)]),
    ("EPSG:4258", [(10.5, 52.25)]),
    ("EPSG:4807", [(0.1, 54.0)]),
    ("EPSG:2236", [(700000, 700000)]),
]

print("crs,x,y,lon,lat")
for code, places in PLACES:
    crs = pyproj.CRS(code)
    for x, y in places:
        # The area: the place itself in the CRS's own degrees, a small box round it.
        own = pyproj.Transformer.from_crs(crs, crs.geodetic_crs.to_2d(), always_xy=True)
        lon, lat = own.transform(x, y)
        if code == "EPSG:4807":
            lon, lat = lon * 0.9 + 2.33722917, lat * 0.9
        area = AreaOfInterest(lon - 0.001, lat - 0.001, lon + 0.001, lat + 0.001)
        group = TransformerGroup(crs, "EPSG:4326", always_xy=True, area_of_interest=area)
        lon, lat = group.transformers[0].transform(x, y)
        print(f"{code},{x},{y},{lon:.12f},{lat:.12f}")
