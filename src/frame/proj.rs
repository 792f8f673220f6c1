//! The only unsafe code of this crate: PROJ through its C interface, behind types that cannot be
//! misused.
//!
//! A [`Context`] uses the database that is linked into this program and nothing else: it is named by
//! the path under which PROJ knows it, so that neither `PROJ_DATA` nor a `proj.db` in some folder is
//! looked for. Without a folder of transformation grids a context opens no file at all. PROJ's messages
//! are collected and never printed. Objects hold their context alive; raw pointers keep all of this on
//! one thread.

use crate::read::Xy;
use proj_sys as sys;
use std::cell::RefCell;
use std::ffi::{CStr, CString, c_char, c_int, c_longlong, c_ulonglong, c_void};
use std::path::Path;
use std::ptr::{self, NonNull};
use std::rc::Rc;

/// PROJ's own name for the database inside the library (`EMBEDDED_PROJ_DB` in its source,
/// `src/iso19111/factory.cpp`, 9.6.2).
const DATABASE_INSIDE: &CStr = c"__embedded_proj_db__";

/// A PROJ context.
pub(super) struct Context {
    raw: NonNull<sys::PJ_CONTEXT>,
    /// What PROJ logged since it was last asked. Boxed: PROJ holds its address.
    log: Box<RefCell<Vec<String>>>,
}

/// Where something applies: degrees, WGS 84. `west` > `east` where it crosses the antimeridian.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Area {
    pub west: f64,
    pub south: f64,
    pub east: f64,
    pub north: f64,
    pub name: String,
}

/// The kinds of CRS that are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
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

/// A CRS or a coordinate operation.
pub(super) struct Object {
    raw: NonNull<sys::PJ>,
    context: Rc<Context>,
}

unsafe extern "C" fn keep_message(log: *mut c_void, _level: c_int, message: *const c_char) {
    // SAFETY: `log` is the box of the context that logs, alive as long as the context is; PROJ hands in
    // a terminated string or null.
    if let (Some(log), Some(message)) = unsafe { (log.cast::<RefCell<Vec<String>>>().as_ref(), text(message)) }
        && let Ok(mut log) = log.try_borrow_mut()
    {
        log.push(message);
    }
}

/// Copies a C string; `None` for null.
///
/// # Safety
/// `raw` is null or a terminated string that lives for the call.
unsafe fn text(raw: *const c_char) -> Option<String> {
    (!raw.is_null()).then(|| unsafe { CStr::from_ptr(raw) }.to_string_lossy().into_owned())
}

/// File callbacks that open nothing.
mod no_files {
    use super::*;
    type Ctx = *mut sys::PJ_CONTEXT;
    type Handle = *mut sys::PROJ_FILE_HANDLE;

    unsafe extern "C" fn open(_: Ctx, _: *const c_char, _: sys::PROJ_OPEN_ACCESS, _: *mut c_void) -> Handle {
        ptr::null_mut()
    }
    unsafe extern "C" fn read(_: Ctx, _: Handle, _: *mut c_void, _: usize, _: *mut c_void) -> usize {
        0
    }
    unsafe extern "C" fn write(_: Ctx, _: Handle, _: *const c_void, _: usize, _: *mut c_void) -> usize {
        0
    }
    unsafe extern "C" fn seek(_: Ctx, _: Handle, _: c_longlong, _: c_int, _: *mut c_void) -> c_int {
        0
    }
    unsafe extern "C" fn tell(_: Ctx, _: Handle, _: *mut c_void) -> c_ulonglong {
        0
    }
    unsafe extern "C" fn close(_: Ctx, _: Handle, _: *mut c_void) {}
    unsafe extern "C" fn no(_: Ctx, _: *const c_char, _: *mut c_void) -> c_int {
        0
    }
    unsafe extern "C" fn rename(_: Ctx, _: *const c_char, _: *const c_char, _: *mut c_void) -> c_int {
        0
    }

    pub(super) const API: sys::PROJ_FILE_API = sys::PROJ_FILE_API {
        version: 1,
        open_cbk: Some(open),
        read_cbk: Some(read),
        write_cbk: Some(write),
        seek_cbk: Some(seek),
        tell_cbk: Some(tell),
        close_cbk: Some(close),
        exists_cbk: Some(no),
        mkdir_cbk: Some(no),
        unlink_cbk: Some(no),
        rename_cbk: Some(rename),
    };
}

impl Context {
    /// A context on the database inside the program, with this folder of transformation grids if any.
    ///
    /// The error is what PROJ said.
    pub(super) fn open(grids: Option<&Path>) -> Result<Rc<Self>, String> {
        // SAFETY: every pointer handed in outlives its use: the log is boxed in the context, the file API
        // and the paths are copied by PROJ, the database's name is static.
        unsafe {
            let raw = NonNull::new(sys::proj_context_create()).ok_or("PROJ gives no context")?;
            let context = Self { raw, log: Box::default() };
            sys::proj_log_level(raw.as_ptr(), sys::PJ_LOG_LEVEL_PJ_LOG_ERROR);
            let log: *const RefCell<Vec<String>> = &*context.log;
            sys::proj_log_func(raw.as_ptr(), log.cast_mut().cast(), Some(keep_message));
            match grids {
                None => {
                    if sys::proj_context_set_fileapi(raw.as_ptr(), &no_files::API, ptr::null_mut()) == 0 {
                        return Err(context.said());
                    }
                }
                Some(folder) => {
                    let folder = CString::new(folder.to_string_lossy().as_bytes())
                        .map_err(|_| "the folder's name holds a NUL character")?;
                    let list = [folder.as_ptr()];
                    sys::proj_context_set_search_paths(raw.as_ptr(), 1, list.as_ptr());
                }
            }
            sys::proj_context_set_enable_network(raw.as_ptr(), 0);
            sys::proj_context_use_proj4_init_rules(raw.as_ptr(), 0);
            let found = sys::proj_context_set_database_path(
                raw.as_ptr(),
                DATABASE_INSIDE.as_ptr(),
                ptr::null(),
                ptr::null(),
            );
            if found == 0 { Err(context.said()) } else { Ok(Rc::new(context)) }
        }
    }

    /// What PROJ said since it was last asked.
    pub(super) fn said(&self) -> String {
        self.log.take().join("; ")
    }

    /// An entry of the database's table of metadata, such as `EPSG.VERSION`.
    pub(super) fn metadata(&self, key: &CStr) -> Option<String> {
        // SAFETY: the result is copied before the context is used again.
        unsafe { text(sys::proj_context_get_database_metadata(self.raw.as_ptr(), key.as_ptr())) }
    }

    /// The object this text defines: `EPSG:n`, URN, WKT, PROJ string. The error is what PROJ said.
    pub(super) fn parse(self: &Rc<Self>, definition: &str) -> Result<Object, String> {
        let definition = CString::new(definition).map_err(|_| "it holds a NUL character")?;
        self.said();
        // SAFETY: PROJ copies the text.
        let raw = unsafe { sys::proj_create(self.raw.as_ptr(), definition.as_ptr()) };
        self.own(raw).ok_or_else(|| self.said())
    }

    /// The operations from one CRS to another, best first. `area` is where they are needed;
    /// `containing` keeps only those that hold all over it. Grids count as if all of them were there.
    pub(super) fn operations(
        self: &Rc<Self>,
        from: &Object,
        to: &Object,
        area: Option<&Area>,
        containing: bool,
    ) -> Vec<Object> {
        let ctx = self.raw.as_ptr();
        // SAFETY: the factory and the list are freed below; what is taken from the list is owned.
        unsafe {
            let factory = sys::proj_create_operation_factory_context(ctx, ptr::null());
            if factory.is_null() {
                return Vec::new();
            }
            if let Some(a) = area {
                sys::proj_operation_factory_context_set_area_of_interest(
                    ctx, factory, a.west, a.south, a.east, a.north,
                );
            }
            let criterion = if containing {
                sys::PROJ_SPATIAL_CRITERION_PROJ_SPATIAL_CRITERION_STRICT_CONTAINMENT
            } else {
                sys::PROJ_SPATIAL_CRITERION_PROJ_SPATIAL_CRITERION_PARTIAL_INTERSECTION
            };
            sys::proj_operation_factory_context_set_spatial_criterion(ctx, factory, criterion);
            sys::proj_operation_factory_context_set_grid_availability_use(
                ctx,
                factory,
                sys::PROJ_GRID_AVAILABILITY_USE_PROJ_GRID_AVAILABILITY_IGNORED,
            );
            let list = sys::proj_create_operations(ctx, from.raw.as_ptr(), to.raw.as_ptr(), factory);
            sys::proj_operation_factory_context_destroy(factory);
            self.take_list(list)
        }
    }

    /// # Safety
    /// `list` is null or a list of this context; it is freed.
    unsafe fn take_list(self: &Rc<Self>, list: *mut sys::PJ_OBJ_LIST) -> Vec<Object> {
        if list.is_null() {
            return Vec::new();
        }
        // SAFETY: by the caller; indices are below the count.
        unsafe {
            let objects = (0..sys::proj_list_get_count(list))
                .filter_map(|i| self.own(sys::proj_list_get(self.raw.as_ptr(), list, i)))
                .collect();
            sys::proj_list_destroy(list);
            objects
        }
    }

    fn own(self: &Rc<Self>, raw: *mut sys::PJ) -> Option<Object> {
        NonNull::new(raw).map(|raw| Object { raw, context: Rc::clone(self) })
    }
}

impl Drop for Context {
    fn drop(&mut self) {
        // SAFETY: objects hold the context by `Rc`, so none is left.
        unsafe { sys::proj_context_destroy(self.raw.as_ptr()) };
    }
}

impl Drop for Object {
    fn drop(&mut self) {
        // SAFETY: owned; its context is alive.
        unsafe { sys::proj_destroy(self.raw.as_ptr()) };
    }
}

impl Object {
    fn ctx(&self) -> *mut sys::PJ_CONTEXT {
        self.context.raw.as_ptr()
    }

    pub(super) fn context(&self) -> &Rc<Context> {
        &self.context
    }

    pub(super) fn kind(&self) -> Kind {
        // SAFETY: a live object.
        match unsafe { sys::proj_get_type(self.raw.as_ptr()) } {
            sys::PJ_TYPE_PJ_TYPE_GEOGRAPHIC_2D_CRS | sys::PJ_TYPE_PJ_TYPE_GEOGRAPHIC_3D_CRS => Kind::Geographic,
            sys::PJ_TYPE_PJ_TYPE_PROJECTED_CRS | sys::PJ_TYPE_PJ_TYPE_DERIVED_PROJECTED_CRS => Kind::Projected,
            sys::PJ_TYPE_PJ_TYPE_COMPOUND_CRS => Kind::Compound,
            sys::PJ_TYPE_PJ_TYPE_BOUND_CRS => Kind::Bound,
            sys::PJ_TYPE_PJ_TYPE_GEOCENTRIC_CRS => Kind::Geocentric,
            sys::PJ_TYPE_PJ_TYPE_VERTICAL_CRS => Kind::Vertical,
            sys::PJ_TYPE_PJ_TYPE_ENGINEERING_CRS => Kind::Engineering,
            sys::PJ_TYPE_PJ_TYPE_TEMPORAL_CRS | sys::PJ_TYPE_PJ_TYPE_OTHER_CRS => Kind::Other,
            _ => Kind::NoCrs,
        }
    }

    pub(super) fn name(&self) -> String {
        // SAFETY: the result is copied.
        unsafe { text(sys::proj_get_name(self.raw.as_ptr())) }.unwrap_or_default()
    }

    /// Authority and code, where the object has them.
    pub(super) fn id(&self) -> Option<(String, String)> {
        // SAFETY: the results are copied.
        unsafe {
            let authority = text(sys::proj_get_id_auth_name(self.raw.as_ptr(), 0))?;
            Some((authority, text(sys::proj_get_id_code(self.raw.as_ptr(), 0))?))
        }
    }

    /// Whether its authority has withdrawn it.
    pub(super) fn is_deprecated(&self) -> bool {
        // SAFETY: a live object.
        unsafe { sys::proj_is_deprecated(self.raw.as_ptr()) != 0 }
    }

    /// The part of a compound CRS with this number.
    pub(super) fn part(&self, number: c_int) -> Option<Object> {
        // SAFETY: a live object; PROJ checks the number.
        self.context.own(unsafe { sys::proj_crs_get_sub_crs(self.ctx(), self.raw.as_ptr(), number) })
    }

    /// The CRS without its height.
    pub(super) fn without_height(&self) -> Option<Object> {
        // SAFETY: a live object; a null name keeps the name.
        self.context.own(unsafe { sys::proj_crs_demote_to_2D(self.ctx(), ptr::null(), self.raw.as_ptr()) })
    }

    /// The CRS that a bound CRS binds.
    pub(super) fn bound(&self) -> Option<Object> {
        // SAFETY: a live object.
        self.context.own(unsafe { sys::proj_get_source_crs(self.ctx(), self.raw.as_ptr()) })
    }

    /// The geographic CRS under a projected one.
    pub(super) fn geographic(&self) -> Option<Object> {
        // SAFETY: a live object.
        self.context.own(unsafe { sys::proj_crs_get_geodetic_crs(self.ctx(), self.raw.as_ptr()) })
    }

    /// Degrees in one unit of a geographic CRS, and degrees from Greenwich to its prime meridian.
    pub(super) fn degrees(&self) -> Option<(f64, f64)> {
        // SAFETY: live objects; null is allowed for every output that is not wanted.
        unsafe {
            let axes = self.context.own(sys::proj_crs_get_coordinate_system(self.ctx(), self.raw.as_ptr()))?;
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
            let meridian = self.context.own(sys::proj_get_prime_meridian(self.ctx(), self.raw.as_ptr()))?;
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
    pub(super) fn area_of_use(&self) -> Option<Area> {
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
    pub(super) fn identify(&self) -> Option<(Object, i32)> {
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
            let some = !list.is_null() && !confidence.is_null() && sys::proj_list_get_count(list) > 0;
            let first = if some { *confidence } else { 0 };
            let mut objects = self.context.take_list(list).into_iter();
            if !confidence.is_null() {
                sys::proj_int_list_destroy(confidence);
            }
            objects.next().filter(|_| some).map(|object| (object, first))
        }
    }

    /// Whether two CRSs mean the same, the order of axes left aside.
    pub(super) fn is_same_as(&self, other: &Object) -> bool {
        let rule = sys::PJ_COMPARISON_CRITERION_PJ_COMP_EQUIVALENT_EXCEPT_AXIS_ORDER_GEOGCRS;
        // SAFETY: live objects of one context.
        unsafe { sys::proj_is_equivalent_to(self.raw.as_ptr(), other.raw.as_ptr(), rule) != 0 }
    }

    /// Whether an operation only assumes that two datums are the same.
    pub(super) fn is_ballpark(&self) -> bool {
        // SAFETY: a live object.
        unsafe { sys::proj_coordoperation_has_ballpark_transformation(self.ctx(), self.raw.as_ptr()) != 0 }
    }

    /// Whether an operation can be carried out: its method is known, its grids are there.
    pub(super) fn is_usable(&self) -> bool {
        // SAFETY: a live object.
        unsafe { sys::proj_coordoperation_is_instantiable(self.ctx(), self.raw.as_ptr()) != 0 }
    }

    /// Stated accuracy of an operation, metres.
    pub(super) fn accuracy_m(&self) -> Option<f64> {
        // SAFETY: a live object. PROJ gives -1 where none is stated.
        let metres = unsafe { sys::proj_coordoperation_get_accuracy(self.ctx(), self.raw.as_ptr()) };
        (metres >= 0.0).then_some(metres)
    }

    /// Names of the grids that an operation needs and does not find.
    pub(super) fn missing_grids(&self) -> Vec<String> {
        // SAFETY: a live object; the name is copied; null is allowed for outputs that are not wanted.
        unsafe {
            let count = sys::proj_coordoperation_get_grid_used_count(self.ctx(), self.raw.as_ptr());
            (0..count)
                .filter_map(|i| {
                    let (mut name, mut there) = (ptr::null(), 1);
                    let none = ptr::null_mut;
                    let found = sys::proj_coordoperation_get_grid_used(
                        self.ctx(),
                        self.raw.as_ptr(),
                        i,
                        &mut name,
                        none(),
                        none(),
                        none(),
                        ptr::null_mut(),
                        ptr::null_mut(),
                        &mut there,
                    );
                    (found != 0 && there == 0).then(|| text(name)).flatten()
                })
                .collect()
        }
    }

    /// The same operation with x east and y north on both sides.
    pub(super) fn east_north(&self) -> Option<Object> {
        // SAFETY: a live object.
        self.context.own(unsafe { sys::proj_normalize_for_visualization(self.ctx(), self.raw.as_ptr()) })
    }

    /// Carries out an operation on all points, in place. What cannot be transformed becomes infinite.
    pub(super) fn transform(&self, points: &mut [Xy]) {
        let count = points.len();
        if count == 0 {
            return;
        }
        let x = points.as_mut_ptr().cast::<f64>();
        // SAFETY: a point is two numbers, and there is at least one point.
        let y = unsafe { x.add(1) };
        let step = size_of::<Xy>();
        // SAFETY: both coordinates are walked `count` times in steps of one point, which stays inside the
        // slice; no heights and no times are handed in.
        let done = unsafe {
            sys::proj_trans_generic(
                self.raw.as_ptr(),
                sys::PJ_DIRECTION_PJ_FWD,
                x,
                step,
                count,
                y,
                step,
                count,
                ptr::null_mut(),
                0,
                0,
                ptr::null_mut(),
                0,
                0,
            )
        };
        for point in points.iter_mut().skip(done) {
            *point = [f64::INFINITY; 2];
        }
        // SAFETY: a live object. A failed point must not colour later calls.
        unsafe { sys::proj_errno_reset(self.raw.as_ptr()) };
    }
}
