//! Every sentence that people read in an answer, derived from its structure.

pub mod ambient_picture;
mod assumption;
pub mod calibrate_picture;
pub mod change;
pub mod correct_picture;
pub mod equivalence_picture;
pub mod estimate_picture;
pub mod falloff_picture;
mod invalid_value;
mod kit;
pub mod kit_picture;
pub mod kits_picture;
pub mod motion_picture;
pub mod picture;
pub mod plan_picture;
pub mod readings_picture;
mod remark;
mod remedy;
pub mod remedy_picture;
pub mod response_picture;
pub mod set_picture;
mod supply;
pub mod supply_picture;

pub use self::{
    kit::{kit_optimality, kit_summary, too_strong_at},
    remedy::remedy,
    supply::supply_summary,
};

use crate::{
    light::{
        self,
        remark::{Caution, Remark, Warning},
    },
    wording::phrase::Phrased,
};

/// The sentence of a warning or a caution.
pub fn remark<Kind: Phrased>(remark: &Remark<Kind>) -> String {
    remark.kind.sentence().text
}

/// The sentences of warnings, then of cautions.
pub fn remarks(warnings: &[Warning], cautions: &[Caution]) -> impl Iterator<Item = String> {
    warnings.iter().map(remark).chain(cautions.iter().map(remark))
}

/// Writes a type of `light` as a text, in answers. The OpenAPI document has it as a string by `#[schema(value_type)]`.
macro_rules! written_as_text {
    ($type:ty, $write:expr) => {
        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let write: fn(&$type) -> _ = $write;
                serde::Serialize::serialize(&write(self), serializer)
            }
        }
    };
}

written_as_text!(light::kit::summary::Summary, kit_summary);
written_as_text!(light::kit::Optimality, |it| kit_optimality(*it));
