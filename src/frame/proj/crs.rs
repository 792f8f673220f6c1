//! What PROJ knows about a CRS.

use super::{Object, sys, text};
use std::ffi::c_int;
use std::ptr;

/// Where something applies: degrees, WGS 84. `west` > `east` where it crosses the antimeridian.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::frame) struct Area {
    pub west: f64,
    pub south: f64,
    pub east: f64,
    pub north: f64,
    pub name: String,
}

/// The kinds of CRS that are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::frame) enum Kind {
    Geographic,
    Projected,
    Compound,
    Bound,
    Geocentric,
    Vertical,
    Engineering,
    Other,
    NoCrs,
}

impl Object {
    pub(in crate::frame) fn kind(&self) -> Kind {
        // SAFETY: a live object.
        match unsafe { sys::proj_get_type(self.raw.as_ptr()) } {
            sys::PJ_TYPE_PJ_TYPE_GEOGRAPHIC_2D_CRS | sys::PJ_TYPE_PJ_TYPE_GEOGRAPHIC_3D_CRS => {
                Kind::Geographic
            }
            sys::PJ_TYPE_PJ_TYPE_PROJECTED_CRS | sys::PJ_TYPE_PJ_TYPE_DERIVED_PROJECTED_CRS => {
                Kind::Projected
            }
            sys::PJ_TYPE_PJ_TYPE_COMPOUND_CRS => Kind::Compound,
            sys::PJ_TYPE_PJ_TYPE_BOUND_CRS => Kind::Bound,
            sys::PJ_TYPE_PJ_TYPE_GEOCENTRIC_CRS => Kind::Geocentric,
            sys::PJ_TYPE_PJ_TYPE_VERTICAL_CRS => Kind::Vertical,
            sys::PJ_TYPE_PJ_TYPE_ENGINEERING_CRS => Kind::Engineering,
            sys::PJ_TYPE_PJ_TYPE_TEMPORAL_CRS | sys::PJ_TYPE_PJ_TYPE_OTHER_CRS => Kind::Other,
            _ => Kind::NoCrs,
        }
    }

    pub(in crate::frame) fn name(&self) -> String {
        // SAFETY: the result is copied.
        unsafe { text(sys::proj_get_name(self.raw.as_ptr())) }.unwrap_or_default()
    }

    /// Authority and code, where the object has them.
    pub(in crate::frame) fn id(&self) -> Option<(String, String)> {
        // SAFETY: the results are copied.
        unsafe {
            let authority = text(sys::proj_get_id_auth_name(self.raw.as_ptr(), 0))?;
            Some((
                authority,
                text(sys::proj_get_id_code(self.raw.as_ptr(), 0))?,
            ))
        }
    }

    /// Whether its authority has withdrawn it.
    pub(in crate::frame) fn is_deprecated(&self) -> bool {
        // SAFETY: a live object.
        unsafe { sys::proj_is_deprecated(self.raw.as_ptr()) != 0 }
    }

    /// The part of a compound CRS with this number.
    pub(in crate::frame) fn part(&self, number: c_int) -> Option<Object> {
        // SAFETY: a live object; PROJ checks the number.
        self.context
            .own(unsafe { sys::proj_crs_get_sub_crs(self.ctx(), self.raw.as_ptr(), number) })
    }

    /// The CRS without its height.
    pub(in crate::frame) fn without_height(&self) -> Option<Object> {
        // SAFETY: a live object; a null name keeps the name.
        self.context
            .own(unsafe { sys::proj_crs_demote_to_2D(self.ctx(), ptr::null(), self.raw.as_ptr()) })
    }

    /// The CRS that a bound CRS binds.
    pub(in crate::frame) fn bound(&self) -> Option<Object> {
        // SAFETY: a live object.
        self.context
            .own(unsafe { sys::proj_get_source_crs(self.ctx(), self.raw.as_ptr()) })
    }

    /// The geographic CRS under a projected one.
    pub(in crate::frame) fn geographic(&self) -> Option<Object> {
        // SAFETY: a live object.
        self.context
            .own(unsafe { sys::proj_crs_get_geodetic_crs(self.ctx(), self.raw.as_ptr()) })
    }

    /// Name of a geographic CRS's datum (or of its ensemble of datums).
    pub(in crate::frame) fn datum_name(&self) -> Option<String> {
        // SAFETY: a live object.
        let datum = unsafe { sys::proj_crs_get_datum_forced(self.ctx(), self.raw.as_ptr()) };
        self.context.own(datum).map(|datum| datum.name())
    }

    /// Whether places have a third number.
    #[cfg(test)]
    pub(in crate::frame) fn has_heights(&self) -> bool {
        if self.kind() == Kind::Compound {
            return true;
        }
        // SAFETY: live objects.
        unsafe {
            let system = sys::proj_crs_get_coordinate_system(self.ctx(), self.raw.as_ptr());
            let system = self.context.own(system);
            system.is_some_and(|system| {
                sys::proj_cs_get_axis_count(self.ctx(), system.raw.as_ptr()) > 2
            })
        }
    }

    /// Directions of the first two axes: `north`, `east`.
    #[cfg(test)]
    pub(in crate::frame) fn axes(&self) -> Option<[String; 2]> {
        if self.kind() == Kind::Compound {
            return self.part(0)?.axes();
        }
        // SAFETY: live objects; texts are copied; null is allowed for every output that is not wanted.
        unsafe {
            let system = self.context.own(sys::proj_crs_get_coordinate_system(
                self.ctx(),
                self.raw.as_ptr(),
            ))?;
            let axis = |nth: c_int| {
                let mut direction = ptr::null();
                let none = ptr::null_mut;
                let found = sys::proj_cs_get_axis_info(
                    self.ctx(),
                    system.raw.as_ptr(),
                    nth,
                    ptr::null_mut(),
                    ptr::null_mut(),
                    &mut direction,
                    none(),
                    ptr::null_mut(),
                    ptr::null_mut(),
                    ptr::null_mut(),
                );
                text(direction).filter(|_| found != 0)
            };
            Some([axis(0)?, axis(1)?])
        }
    }

    /// Degrees in one unit of a geographic CRS, and degrees from Greenwich to its prime meridian.
    pub(in crate::frame) fn degrees(&self) -> Option<(f64, f64)> {
        // SAFETY: live objects; null is allowed for every output that is not wanted.
        unsafe {
            let axes = self.context.own(sys::proj_crs_get_coordinate_system(
                self.ctx(),
                self.raw.as_ptr(),
            ))?;
            let mut unit = 0.0;
            let none = ptr::null_mut;
            let found = sys::proj_cs_get_axis_info(
                self.ctx(),
                axes.raw.as_ptr(),
                0,
                none(),
                none(),
                none(),
                &mut unit,
                none(),
                none(),
                none(),
            );
            let meridian = self
                .context
                .own(sys::proj_get_prime_meridian(self.ctx(), self.raw.as_ptr()))?;
            let (mut lon, mut lon_unit) = (0.0, 0.0);
            let known = sys::proj_prime_meridian_get_parameters(
                self.ctx(),
                meridian.raw.as_ptr(),
                &mut lon,
                &mut lon_unit,
                ptr::null_mut(),
            );
            (found != 0 && known != 0).then(|| (unit.to_degrees(), (lon * lon_unit).to_degrees()))
        }
    }

    /// Where a CRS applies.
    pub(in crate::frame) fn area_of_use(&self) -> Option<Area> {
        let (mut west, mut south, mut east, mut north) = (0.0, 0.0, 0.0, 0.0);
        let mut name = ptr::null();
        // SAFETY: outputs are on the stack; the name is copied.
        unsafe {
            let found = sys::proj_get_area_of_use(
                self.ctx(),
                self.raw.as_ptr(),
                &mut west,
                &mut south,
                &mut east,
                &mut north,
                &mut name,
            );
            // PROJ writes -1000 where an area is only named.
            (found != 0 && west >= -360.0).then(|| Area {
                west,
                south,
                east,
                north,
                name: text(name).unwrap_or_default(),
            })
        }
    }

    /// The EPSG entry a CRS is most like, with PROJ's confidence in percent (90: the same but for
    /// spelling; 70: the same under another name).
    pub(in crate::frame) fn identify(&self) -> Option<(Object, i32)> {
        let mut confidence = ptr::null_mut();
        // SAFETY: the list and the confidences are freed; there are as many of one as of the other.
        unsafe {
            let list = sys::proj_identify(
                self.ctx(),
                self.raw.as_ptr(),
                c"EPSG".as_ptr(),
                ptr::null(),
                &mut confidence,
            );
            let some =
                !list.is_null() && !confidence.is_null() && sys::proj_list_get_count(list) > 0;
            let first = if some { *confidence } else { 0 };
            let mut objects = self.context.take_list(list).into_iter();
            if !confidence.is_null() {
                sys::proj_int_list_destroy(confidence);
            }
            objects
                .next()
                .filter(|_| some)
                .map(|object| (object, first))
        }
    }

    /// Whether two CRSs mean the same, the order of axes left aside.
    pub(in crate::frame) fn is_same_as(&self, other: &Object) -> bool {
        let rule = sys::PJ_COMPARISON_CRITERION_PJ_COMP_EQUIVALENT_EXCEPT_AXIS_ORDER_GEOGCRS;
        // SAFETY: live objects of one context.
        unsafe { sys::proj_is_equivalent_to(self.raw.as_ptr(), other.raw.as_ptr(), rule) != 0 }
    }
}
