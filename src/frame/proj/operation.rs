//! Coordinate operations of PROJ: which there are, what they need, carrying them out.

use super::{Area, Context, Object, sys, text};
use crate::read::Xy;
use std::ptr;
use std::rc::Rc;

impl Context {
    /// The operations from one CRS to another, best first. `area` is where they are needed;
    /// `containing` keeps only those that hold all over it. Grids count as if all of them were there.
    pub(in crate::frame) fn operations(
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
            let list =
                sys::proj_create_operations(ctx, from.raw.as_ptr(), to.raw.as_ptr(), factory);
            sys::proj_operation_factory_context_destroy(factory);
            self.take_list(list)
        }
    }
}

/// An operation that has its context to itself, so that it may move from thread to thread.
pub(in crate::frame) struct Operation(Object);

// SAFETY: PROJ binds contexts and objects to no thread; two threads must not use them at once. The only handle to this
// object and its context is in here and is never handed out, and two threads cannot share it, since `Object` is not `Sync`.
unsafe impl Send for Operation {}

impl Operation {
    /// `None` while another object holds the context.
    pub(in crate::frame) fn alone(mut object: Object) -> Option<Self> {
        Rc::get_mut(&mut object.context)?;
        Some(Self(object))
    }

    /// As [`Object::transform`].
    pub(in crate::frame) fn transform(&self, points: &mut [Xy]) {
        self.0.transform(points);
    }

    /// Carries it out the other way round, in place. What cannot be transformed becomes infinite.
    pub(in crate::frame) fn transform_back(&self, points: &mut [Xy]) {
        self.0.carry_out(points, sys::PJ_DIRECTION_PJ_INV);
    }
}

impl Object {
    /// Whether an operation only assumes that two datums are the same.
    pub(in crate::frame) fn is_ballpark(&self) -> bool {
        // SAFETY: a live object.
        unsafe {
            sys::proj_coordoperation_has_ballpark_transformation(self.ctx(), self.raw.as_ptr()) != 0
        }
    }

    /// Whether an operation can be carried out: its method is known, its grids are there.
    pub(in crate::frame) fn is_usable(&self) -> bool {
        // SAFETY: a live object.
        unsafe { sys::proj_coordoperation_is_instantiable(self.ctx(), self.raw.as_ptr()) != 0 }
    }

    /// Stated accuracy of an operation, metres.
    pub(in crate::frame) fn accuracy_m(&self) -> Option<f64> {
        // SAFETY: a live object. PROJ gives -1 where none is stated.
        let metres =
            unsafe { sys::proj_coordoperation_get_accuracy(self.ctx(), self.raw.as_ptr()) };
        (metres >= 0.0).then_some(metres)
    }

    /// Names of the grids that an operation needs; whether it finds them.
    pub(in crate::frame) fn grids(&self) -> Vec<(String, bool)> {
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
                    text(name)
                        .filter(|_| found != 0)
                        .map(|name| (name, there != 0))
                })
                .collect()
        }
    }

    /// The same operation with x east and y north on both sides.
    pub(in crate::frame) fn east_north(&self) -> Option<Object> {
        // SAFETY: a live object.
        self.context
            .own(unsafe { sys::proj_normalize_for_visualization(self.ctx(), self.raw.as_ptr()) })
    }

    /// Carries out an operation on all points, in place. What cannot be transformed becomes infinite.
    pub(in crate::frame) fn transform(&self, points: &mut [Xy]) {
        self.carry_out(points, sys::PJ_DIRECTION_PJ_FWD);
    }

    fn carry_out(&self, points: &mut [Xy], direction: sys::PJ_DIRECTION) {
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
                direction,
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
