//! What GeoKeys say about the CRS (OGC GeoTIFF 1.1, 19-008r4).

use super::super::DeclaredCrs;
use crate::codec::geokeys as k;

/// The values of the three tags that hold the keys.
pub(super) struct Keys {
    pub shorts: Vec<u16>,
    pub doubles: Vec<f64>,
}

impl Keys {
    fn entry(&self, key: u16) -> Option<&[u16]> {
        // The first four numbers are version and count.
        let entries = self.shorts.get(4..)?;
        entries.chunks_exact(4).find(|entry| entry[0] == key)
    }

    pub(super) fn short(&self, key: u16) -> Option<u16> {
        match self.entry(key)? {
            [_, 0, 1, value] => Some(*value),
            _ => None,
        }
    }

    fn double(&self, key: u16) -> Option<f64> {
        match self.entry(key)? {
            [_, k::TAG_DOUBLES, 1, at] => self.doubles.get(usize::from(*at)).copied(),
            _ => None,
        }
    }

    /// The CRS: by its EPSG code, or transverse Mercator spelled out on a datum with a code.
    pub(super) fn crs(&self) -> DeclaredCrs {
        let coded = |key| {
            self.short(key)
                .filter(|code| (1..k::USER_DEFINED).contains(code))
        };
        let epsg = |code: u16| DeclaredCrs::Text(format!("EPSG:{code}"));
        let projected = self.short(k::GT_MODEL_TYPE) == Some(k::MODEL_PROJECTED);
        match (projected, coded(k::PROJECTED_CRS), coded(k::GEODETIC_CRS)) {
            (_, Some(code), _) => epsg(code),
            (false, None, Some(code)) => epsg(code),
            (true, None, Some(k::WGS_84)) => self.transverse_mercator(),
            _ => DeclaredCrs::None,
        }
    }

    fn transverse_mercator(&self) -> DeclaredCrs {
        let metres = self
            .short(k::PROJ_LINEAR_UNITS)
            .is_none_or(|unit| unit == k::METRE);
        if self.short(k::PROJ_METHOD) != Some(k::TRANSVERSE_MERCATOR) || !metres {
            return DeclaredCrs::None;
        }
        let number = |key| self.double(key).unwrap_or(0.0);
        DeclaredCrs::Text(format!(
            "+proj=tmerc +lat_0={} +lon_0={} +k={} +x_0={} +y_0={} +datum=WGS84 +units=m",
            number(k::PROJ_NAT_ORIGIN_LAT),
            number(k::PROJ_NAT_ORIGIN_LONG),
            self.double(k::PROJ_SCALE_AT_NAT_ORIGIN).unwrap_or(1.0),
            number(k::PROJ_FALSE_EASTING),
            number(k::PROJ_FALSE_NORTHING),
        ))
    }
}
