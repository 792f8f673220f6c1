//! Counts what is allocated, so that a test can see that memory follows the size of a file. An allocator cannot be had without unsafe code.

#![allow(unsafe_code)]

use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

struct Counting;

static NOW: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);

// SAFETY: all calls go to the system's allocator; only sizes are counted.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let now = NOW.fetch_add(layout.size(), Relaxed) + layout.size();
        MOST.fetch_max(now, Relaxed);
        // SAFETY: the caller's promises are passed on.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        NOW.fetch_sub(layout.size(), Relaxed);
        // SAFETY: the caller's promises are passed on.
        unsafe { System.dealloc(place, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

/// Most bytes that `run` holds at once. Nothing else may run meanwhile.
pub fn most_of(run: impl FnOnce()) -> usize {
    let before = NOW.load(Relaxed);
    MOST.store(before, Relaxed);
    run();
    MOST.load(Relaxed).saturating_sub(before)
}
