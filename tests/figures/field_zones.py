"""Invented zone layers for real parcels: two layers of two classes each, as GeoJSON text.

Both layers cover the parcel and reach 20 to 60 m over its boundary; their dividing lines cross each
other somewhere in the parcel and follow no border of it. Inside a layer the two polygons share their
dividing line vertex by vertex: there is nothing to repair, so areas can be compared exactly.
Vertices are at most 15 m apart, so that "straight in degrees" and "straight in the plane" are the
same line to 10 micrometres. The same parcel and seed give the same bytes.
"""

import json

import numpy as np
import pyproj
import shapely
from shapely.geometry import LineString, Polygon, mapping

CLASSES = {"soil": ("light", "heavy"), "need": ("low", "high")}


def plane(lon0, lat0):
    """The field's own plane: transverse Mercator on WGS 84, scale 1, metres."""
    return f"+proj=tmerc +lon_0={lon0!r} +lat_0={lat0!r} +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m +no_defs"


def centre(lon_lat):
    """Middle of the bounding box, to a millionth of a degree."""
    west, south, east, north = shapely.bounds(lon_lat)
    return round(float(west + east) / 2, 6), round(float(south + north) / 2, 6)


def change(shape, transformer):
    """The shape through a pyproj transformer."""
    return shapely.transform(shape, lambda xy: np.column_stack(transformer.transform(xy[:, 0], xy[:, 1])))


def divided(rng, parcel, turn_degrees, names):
    """Two polygons side by side, well over the parcel, with a crooked line between them.

    `parcel` is in the plane; the line runs through a point of the parcel, turned by `turn_degrees`
    from the parcel's long side.
    """
    corners = np.array(parcel.minimum_rotated_rectangle.exterior.coords)
    sides = corners[1:3] - corners[0:2]
    along = sides[np.argmax(np.hypot(*sides.T))]
    angle = np.arctan2(along[1], along[0]) + np.radians(turn_degrees)
    ux, uy = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    middle = np.array(parcel.representative_point().coords[0])
    reach = np.array(parcel.exterior.coords if parcel.geom_type == "Polygon" else shapely.get_coordinates(parcel)) - middle
    left, right = (reach @ ux).min() - rng.uniform(20, 60), (reach @ ux).max() + rng.uniform(20, 60)
    low, high = (reach @ uy).min() - rng.uniform(20, 60), (reach @ uy).max() + rng.uniform(20, 60)
    x = np.linspace(left, right, max(8, int((right - left) / 13)))
    y = np.interp(x, np.linspace(left, right, 9), rng.uniform(-0.12, 0.12, 9) * (high - low)) + rng.normal(0, 0.4, len(x))
    y = np.clip(y, 0.8 * low, 0.8 * high)
    line = middle + np.outer(x, ux) + np.outer(y, uy)
    far = lambda level: LineString([middle + left * ux + level * uy, middle + right * ux + level * uy]).segmentize(14)
    below = [tuple(p) for p in line] + list(far(low).reverse().coords)
    above = [tuple(p) for p in line] + list(far(high).reverse().coords)
    rings = (LineString(below + below[:1]).segmentize(14), LineString(above + above[:1]).segmentize(14))
    return [(name, Polygon(ring.coords)) for name, ring in zip(names, rings)]


def layers(lon_lat, seed):
    """`{layer: [(class, polygon in degrees), ...]}` for a parcel given in WGS 84 degrees."""
    rng = np.random.default_rng(seed)
    lon0, lat0 = centre(lon_lat)
    to_plane = pyproj.Transformer.from_crs("EPSG:4326", plane(lon0, lat0), always_xy=True)
    to_degrees = pyproj.Transformer.from_crs(plane(lon0, lat0), "EPSG:4326", always_xy=True)
    parcel = change(lon_lat, to_plane)
    out = {}
    for layer, turn in (("soil", 68.0), ("need", -24.0)):
        pieces = divided(rng, parcel, turn + rng.uniform(-8, 8), CLASSES[layer])
        degrees = [(name, shapely.transform(change(shape, to_degrees), lambda xy: np.round(xy, 9))) for name, shape in pieces]
        out[layer] = [(name, shapely.orient_polygons(shape)) for name, shape in degrees]
    return out


def geojson(layer, pieces):
    """GeoJSON text (RFC 7946), one feature a line; the class is in the attribute named as the layer."""
    rows = [
        json.dumps({"type": "Feature", "properties": {layer: name}, "geometry": mapping(shape)}, separators=(",", ":"))
        for name, shape in pieces
    ]
    return '{"type":"FeatureCollection","features":[\n' + ",\n".join(rows) + "\n]}\n"
