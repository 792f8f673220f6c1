//! GeoTIFF keys and tags (OGC GeoTIFF 1.1, 19-008r4): their numbers, and the directory they are
//! kept in.

/// ModelPixelScaleTag.
pub const TAG_MODEL_PIXEL_SCALE: u16 = 33550;
/// ModelTiepointTag.
pub const TAG_MODEL_TIEPOINT: u16 = 33922;
/// ModelTransformationTag.
pub const TAG_MODEL_TRANSFORMATION: u16 = 34264;
/// GeoKeyDirectoryTag.
pub const TAG_DIRECTORY: u16 = 34735;
/// GeoDoubleParamsTag.
pub const TAG_DOUBLES: u16 = 34736;
/// GeoAsciiParamsTag.
pub const TAG_ASCII: u16 = 34737;
/// Band names and other notes as XML; defined by GDAL, not by a standard.
pub const TAG_GDAL_METADATA: u16 = 42112;
/// No-data value as text; defined by GDAL, not by a standard.
pub const TAG_GDAL_NODATA: u16 = 42113;

pub const GT_MODEL_TYPE: u16 = 1024;
pub const GT_RASTER_TYPE: u16 = 1025;
pub const GT_CITATION: u16 = 1026;
pub const GEODETIC_CRS: u16 = 2048;
pub const GEODETIC_CITATION: u16 = 2049;
pub const GEOG_ANGULAR_UNITS: u16 = 2054;
pub const PROJECTED_CRS: u16 = 3072;
pub const PROJECTED_CITATION: u16 = 3073;
pub const PROJECTION: u16 = 3074;
pub const PROJ_METHOD: u16 = 3075;
pub const PROJ_LINEAR_UNITS: u16 = 3076;
pub const PROJ_NAT_ORIGIN_LONG: u16 = 3080;
pub const PROJ_NAT_ORIGIN_LAT: u16 = 3081;
pub const PROJ_FALSE_EASTING: u16 = 3082;
pub const PROJ_FALSE_NORTHING: u16 = 3083;
pub const PROJ_SCALE_AT_NAT_ORIGIN: u16 = 3092;

/// Value of a key that is spelled out by other keys.
pub const USER_DEFINED: u16 = 32767;
/// Value of [`GT_MODEL_TYPE`]: a projected CRS.
pub const MODEL_PROJECTED: u16 = 1;
/// Value of [`GT_RASTER_TYPE`]: a value stands for its cell, not for a point.
pub const PIXEL_IS_AREA: u16 = 1;
/// Value of [`PROJ_METHOD`]: transverse Mercator.
pub const TRANSVERSE_MERCATOR: u16 = 1;
/// Value of [`GEODETIC_CRS`]: WGS 84 in two dimensions (EPSG).
pub const WGS_84: u16 = 4326;
/// Value of [`GEOG_ANGULAR_UNITS`]: degree (EPSG).
pub const DEGREE: u16 = 9102;
/// Value of [`PROJ_LINEAR_UNITS`]: metre (EPSG).
pub const METRE: u16 = 9001;

/// The value of one key.
#[derive(Debug, Clone, PartialEq)]
pub enum KeyValue {
    Short(u16),
    Double(f64),
    Ascii(String),
}

/// Contents of the three tags that hold all keys.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Directory {
    /// For [`TAG_DIRECTORY`].
    pub shorts: Vec<u16>,
    /// For [`TAG_DOUBLES`].
    pub doubles: Vec<f64>,
    /// For [`TAG_ASCII`], without the closing NUL; each text ends in `|`.
    pub ascii: String,
}

/// Lays out keys, which have to be given in ascending order. `|` ends a text in this format, so it
/// is replaced in texts, as is all that is not ASCII. At most 65535 keys or characters; more are a
/// mistake of the caller and come out as counts that do not fit.
pub fn directory(keys: &[(u16, KeyValue)]) -> Directory {
    let short = |count: usize| u16::try_from(count).unwrap_or(u16::MAX);
    let mut out = Directory {
        shorts: vec![1, 1, 1, short(keys.len())],
        ..Directory::default()
    };
    for (key, value) in keys {
        let entry = match value {
            KeyValue::Short(value) => [0, 1, *value],
            KeyValue::Double(value) => {
                out.doubles.push(*value);
                [TAG_DOUBLES, 1, short(out.doubles.len() - 1)]
            }
            KeyValue::Ascii(text) => {
                let plain = text
                    .chars()
                    .map(|c| if c == '|' || !c.is_ascii() { '_' } else { c });
                let start = out.ascii.len();
                out.ascii.extend(plain);
                out.ascii.push('|');
                [TAG_ASCII, short(out.ascii.len() - start), short(start)]
            }
        };
        out.shorts.push(*key);
        out.shorts.extend(entry);
    }
    out
}
