//! File callbacks that open nothing: with them a context can touch no file.

use proj_sys as sys;
use std::ffi::{c_char, c_int, c_longlong, c_ulonglong, c_void};
use std::ptr;

type Ctx = *mut sys::PJ_CONTEXT;
type Handle = *mut sys::PROJ_FILE_HANDLE;

unsafe extern "C" fn open(
    _: Ctx,
    _: *const c_char,
    _: sys::PROJ_OPEN_ACCESS,
    _: *mut c_void,
) -> Handle {
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
