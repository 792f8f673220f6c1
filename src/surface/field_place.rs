//! Where the field lies.

use crate::coordinates::PlaneXy;
use crate::frame::Frame;
use crate::read::Layer;

/// The field's plane, and its boundary in it.
#[derive(Clone, Copy)]
pub struct FieldPlace<'a> {
    pub frame: &'a Frame,
    pub boundary: &'a Layer<PlaneXy>,
}
