//! The entries of the EPSG registry.

use super::{Area, Context, sys, text};
use std::ffi::CStr;

/// A projected CRS of the registry that is not withdrawn, and where it applies.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::frame) struct Listed {
    /// `EPSG:25832`.
    pub code: String,
    pub area: Area,
}

const REGISTRY: &CStr = c"EPSG";

/// All kinds of CRS with places on the map.
#[cfg(test)]
const ON_THE_MAP: [sys::PJ_TYPE; 4] = [
    sys::PJ_TYPE_PJ_TYPE_GEOGRAPHIC_2D_CRS,
    sys::PJ_TYPE_PJ_TYPE_GEOGRAPHIC_3D_CRS,
    sys::PJ_TYPE_PJ_TYPE_PROJECTED_CRS,
    sys::PJ_TYPE_PJ_TYPE_COMPOUND_CRS,
];

impl Context {
    /// The codes of all CRSs of the registry with places on the map, those that are withdrawn too, in order.
    #[cfg(test)]
    pub(in crate::frame) fn all_codes(&self) -> Vec<u32> {
        let mut codes = Vec::new();
        for kind in ON_THE_MAP {
            // SAFETY: the list ends with a null and is freed; texts are copied.
            unsafe {
                let list = sys::proj_get_codes_from_database(
                    self.raw.as_ptr(),
                    REGISTRY.as_ptr(),
                    kind,
                    1,
                );
                let mut at = list;
                while !at.is_null() && !(*at).is_null() {
                    codes.extend(text(*at).and_then(|code| code.parse::<u32>().ok()));
                    at = at.add(1);
                }
                sys::proj_string_list_destroy(list);
            }
        }
        codes.sort_unstable();
        codes.dedup();
        codes
    }

    /// The projected CRSs of the registry whose area of use holds all of this one, in the order of their codes.
    pub(in crate::frame) fn projected(&self, around: &Area) -> Vec<Listed> {
        let kinds = [sys::PJ_TYPE_PJ_TYPE_PROJECTED_CRS];
        let mut listed = Vec::new();
        // SAFETY: the parameters and the list are freed below; `kinds` lives until then; texts are copied; the count is that
        // of the list.
        unsafe {
            let asked = sys::proj_get_crs_list_parameters_create();
            let Some(parameters) = asked.as_mut() else {
                return listed;
            };
            parameters.types = kinds.as_ptr();
            parameters.typesCount = kinds.len();
            parameters.allow_deprecated = 0;
            parameters.bbox_valid = 1;
            parameters.crs_area_of_use_contains_bbox = 1;
            parameters.west_lon_degree = around.west;
            parameters.south_lat_degree = around.south;
            parameters.east_lon_degree = around.east;
            parameters.north_lat_degree = around.north;
            let mut count = 0;
            let list = sys::proj_get_crs_info_list_from_database(
                self.raw.as_ptr(),
                REGISTRY.as_ptr(),
                asked,
                &mut count,
            );
            sys::proj_get_crs_list_parameters_destroy(asked);
            if list.is_null() {
                return listed;
            }
            for nth in 0..usize::try_from(count).unwrap_or(0) {
                let Some(entry) = (*list.add(nth)).as_ref() else {
                    continue;
                };
                let (Some(code), true) = (text(entry.code), entry.bbox_valid != 0) else {
                    continue;
                };
                listed.push(Listed {
                    code: format!("EPSG:{code}"),
                    area: Area {
                        west: entry.west_lon_degree,
                        south: entry.south_lat_degree,
                        east: entry.east_lon_degree,
                        north: entry.north_lat_degree,
                        name: text(entry.area_name).unwrap_or_default(),
                    },
                });
            }
            sys::proj_crs_info_list_destroy(list);
        }
        let number = |entry: &Listed| entry.code.get(5..).and_then(|code| code.parse().ok());
        listed.sort_by_key(|entry| (number(entry).unwrap_or(u32::MAX), entry.code.clone()));
        listed
    }
}
