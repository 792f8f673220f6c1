//! Names of elements of GML, without their prefixes.

/// Elements that may stand in a geometry and are none of it.
pub(super) const BESIDE: [&str; 4] = [
    "metaDataProperty",
    "description",
    "descriptionReference",
    "name",
];
/// Elements around features.
pub(super) const MEMBERS: [&str; 3] = ["featureMember", "featureMembers", "member"];
/// The attribute with the id of a feature, as other programs call it.
pub(super) const ID: &str = "gml_id";
/// Elements that begin a geometry.
pub(super) const GEOMETRIES: [&str; 19] = [
    "Point",
    "LineString",
    "LinearRing",
    "Ring",
    "Curve",
    "CompositeCurve",
    "Polygon",
    "Surface",
    "CompositeSurface",
    "PolyhedralSurface",
    "TriangulatedSurface",
    "MultiPoint",
    "MultiLineString",
    "MultiCurve",
    "MultiPolygon",
    "MultiSurface",
    "MultiGeometry",
    "Envelope",
    "Box",
];
/// Elements of a geometry that are none of straight lines.
pub(super) const BENT: [&str; 16] = [
    "Arc",
    "ArcString",
    "Circle",
    "ArcByCenterPoint",
    "CircleByCenterPoint",
    "ArcByBulge",
    "ArcStringByBulge",
    "CubicSpline",
    "BSpline",
    "Bezier",
    "Clothoid",
    "GeodesicString",
    "OffsetCurve",
    "OrientableCurve",
    "Solid",
    "Tin",
];
