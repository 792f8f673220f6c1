//! The only unsafe code of this crate (in this folder): PROJ through its C interface, behind types that
//! cannot be misused.
//!
//! A [`Context`] uses the database that is linked into this program and nothing else: it is named by
//! the path under which PROJ knows it, so that neither `PROJ_DATA` nor a `proj.db` in some folder is
//! looked for. Without a folder of transformation grids a context opens no file at all. PROJ's messages
//! are collected and never printed. Objects hold their context alive; raw pointers keep all of this on
//! one thread, but for an [`Operation`] that has its context to itself.

#![allow(unsafe_code)]

mod crs;
mod list;
mod no_files;
mod operation;

pub(in crate::frame) use crs::{Area, Kind};
pub(in crate::frame) use operation::Operation;

use proj_sys as sys;
use std::cell::RefCell;
use std::ffi::{CStr, CString, c_char, c_int, c_void};
use std::path::Path;
use std::ptr::{self, NonNull};
use std::rc::Rc;

/// PROJ's own name for the database inside the library (`EMBEDDED_PROJ_DB` in its source,
/// `src/iso19111/factory.cpp`, 9.6.2).
const DATABASE_INSIDE: &CStr = c"__embedded_proj_db__";

/// A PROJ context.
pub(in crate::frame) struct Context {
    raw: NonNull<sys::PJ_CONTEXT>,
    /// What PROJ logged since it was last asked. Boxed: PROJ holds its address.
    log: Box<RefCell<Vec<String>>>,
}

/// A CRS or a coordinate operation.
pub(in crate::frame) struct Object {
    raw: NonNull<sys::PJ>,
    context: Rc<Context>,
}

unsafe extern "C" fn keep_message(log: *mut c_void, _level: c_int, message: *const c_char) {
    // SAFETY: `log` is the box of the context that logs, alive as long as the context is; PROJ hands in
    // a terminated string or null.
    if let (Some(log), Some(message)) =
        unsafe { (log.cast::<RefCell<Vec<String>>>().as_ref(), text(message)) }
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
    (!raw.is_null()).then(|| {
        unsafe { CStr::from_ptr(raw) }
            .to_string_lossy()
            .into_owned()
    })
}

impl Context {
    /// A context on the database inside the program, with this folder of transformation grids if any.
    ///
    /// The error is what PROJ said.
    pub(in crate::frame) fn open(grids: Option<&Path>) -> Result<Rc<Self>, String> {
        // SAFETY: every pointer handed in outlives its use: the log is boxed in the context, the file API
        // and the paths are copied by PROJ, the database's name is static.
        unsafe {
            let raw = NonNull::new(sys::proj_context_create()).ok_or("PROJ gives no context")?;
            let context = Self {
                raw,
                log: Box::default(),
            };
            sys::proj_log_level(raw.as_ptr(), sys::PJ_LOG_LEVEL_PJ_LOG_ERROR);
            let log: *const RefCell<Vec<String>> = &*context.log;
            sys::proj_log_func(raw.as_ptr(), log.cast_mut().cast(), Some(keep_message));
            match grids {
                None => {
                    if sys::proj_context_set_fileapi(raw.as_ptr(), &no_files::API, ptr::null_mut())
                        == 0
                    {
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
            if found == 0 {
                Err(context.said())
            } else {
                Ok(Rc::new(context))
            }
        }
    }

    /// What PROJ said since it was last asked.
    pub(in crate::frame) fn said(&self) -> String {
        self.log.take().join("; ")
    }

    /// An entry of the database's table of metadata, such as `EPSG.VERSION`.
    #[cfg(test)]
    pub(in crate::frame) fn metadata(&self, key: &CStr) -> Option<String> {
        // SAFETY: the result is copied before the context is used again.
        unsafe {
            text(sys::proj_context_get_database_metadata(
                self.raw.as_ptr(),
                key.as_ptr(),
            ))
        }
    }

    /// The object this text defines: `EPSG:n`, URN, WKT, PROJ string. The error is what PROJ said.
    pub(in crate::frame) fn parse(self: &Rc<Self>, definition: &str) -> Result<Object, String> {
        let definition = CString::new(definition).map_err(|_| "it holds a NUL character")?;
        self.said();
        // SAFETY: PROJ copies the text.
        let raw = unsafe { sys::proj_create(self.raw.as_ptr(), definition.as_ptr()) };
        self.own(raw).ok_or_else(|| self.said())
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
        NonNull::new(raw).map(|raw| Object {
            raw,
            context: Rc::clone(self),
        })
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

    pub(in crate::frame) fn context(&self) -> &Rc<Context> {
        &self.context
    }
}
