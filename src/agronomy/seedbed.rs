//! Moist or dry: how the operator chooses between two maps at the field. The one home of these texts.
//!
//! The feel of soil: USDA Natural Resources Conservation Service, *Estimating Soil Moisture by Feel and Appearance* (its
//! guidelines by texture as circulated by extension services: 'moist', 50 to 75 % of the available water, is a ball with
//! finger marks, darkened, with light staining of the fingers; on sands a weak ball with staining; below that no staining).
//! University of Minnesota Extension, *Estimating soil moisture by feel and appearance method*, has the same by deficit.
//! That this line, half of the available water, is the one between moist and dry for fertiliser beside the seed, that the
//! driest place counts, and that a field is finished by the dry map: common practice, no source.

use crate::job::Moisture;
use std::borrow::Cow;

/// What moist soil is.
pub const SQUEEZE: &str = "Moist is soil that, squeezed firmly in the hand, makes a ball with the marks of the fingers, looks darkened and leaves a light stain of moisture on them; on sand a weak ball, with such a stain. Soil that crumbles, or leaves the fingers clean, is dry.";

/// How to choose, in the order in which it is done.
pub fn how_to_choose() -> [Cow<'static, str>; 4] {
    let [dry, moist] = Moisture::BOTH.map(Moisture::mark);
    [
        Cow::from(format!(
            "Choose by hand at the field, before the first bout: {moist} or {dry} stands in the task's name behind the plan id. Take soil from sowing depth at several places, the driest among them."
        )),
        Cow::from(SQUEEZE),
        Cow::from(format!(
            "If one place is dry, if in doubt, or if it may dry before you are done: the {dry} map."
        )),
        Cow::from(format!(
            "Once {dry}, never change to {moist} in that field. From {moist} to {dry} you may change at any time."
        )),
    ]
}

/// What holds where only one of the two maps is there.
pub fn only_one(there: Moisture) -> String {
    let mark = there.mark();
    match there {
        Moisture::Moist => format!(
            "Only the {mark} map is here. In a dry seedbed do not sow fertiliser by it: shut that product off, or wait."
        ),
        Moisture::Dry => format!(
            "Only the {mark} map is here. It may be used in a moist seedbed too: it lays no more beside the seed."
        ),
    }
}
