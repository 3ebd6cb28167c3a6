//! Every sentence that people read in an answer, derived from its structure.

mod assumption;
pub mod calibrate_picture;
pub mod falloff_picture;
mod invalid_value;
mod kit;
pub mod kit_picture;
pub mod picture;
mod remark;
mod remedy;
pub mod response_picture;
pub mod set_picture;
mod supply;

use serde::{Serialize, Serializer};
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{RefOr, Schema},
};

pub use self::{invalid_value::invalid_value, kit::kit_summary, remark::remark, remedy::remedy};

use self::{
    assumption::{assumed_value, source},
    kit::kit_optimality,
    supply::supply_summary,
};
use crate::light::{
    self,
    assumption::Assumption,
    remark::Remark,
    remedy::{By, Change, Remedy},
};

/// Writes a type of `light` as another one with sentences, in answers and in the OpenAPI document.
macro_rules! written_as {
    ($type:ty as $written:ty, $write:expr) => {
        impl Serialize for $type {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let write: fn(&$type) -> $written = $write;
                write(self).serialize(serializer)
            }
        }

        impl PartialSchema for $type {
            fn schema() -> RefOr<Schema> {
                <$written>::schema()
            }
        }

        impl ToSchema for $type {
            fn name() -> std::borrow::Cow<'static, str> {
                <$written>::name()
            }

            fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
                <$written>::schemas(schemas);
            }
        }
    };
}

/// Writes a type of `light` as a text, in answers. The OpenAPI document has it as a string by `#[schema(value_type)]`.
macro_rules! written_as_text {
    ($type:ty, $write:expr) => {
        impl Serialize for $type {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                let write: fn(&$type) -> _ = $write;
                write(self).serialize(serializer)
            }
        }
    };
}

/// A warning about an answer, or a safety caution.
#[derive(Serialize, ToSchema)]
#[schema(as = Remark)]
struct WrittenRemark {
    /// A stable code for programs.
    code: &'static str,
    /// The text for a person.
    text: String,
}
written_as!(Remark as WrittenRemark, |it| WrittenRemark { code: it.code(), text: remark(it).into_owned() });

/// One assumption behind an estimate.
#[derive(Serialize, ToSchema)]
#[schema(as = Assumption)]
struct WrittenAssumption {
    /// The name of the assumption.
    name: &'static str,
    /// The assumed value.
    value: String,
    /// The source of the value, with its grade: published, derived, common practice, from memory, stated by the caller.
    source: String,
}
written_as!(Assumption as WrittenAssumption, |it| WrittenAssumption {
    name: it.name(),
    value: assumed_value(it),
    source: source(it).into_owned(),
});

/// A change that would make the set-up work.
#[derive(Serialize, ToSchema)]
#[schema(as = Remedy)]
struct WrittenRemedy {
    /// What to change.
    change: Change,
    /// The amount, one of: `stops` (of exposure, or of a light's power); `pops`; `distance_m` (the new distance; the first if there are several), with `distance_ft` if units are imperial, and with the new `position` if the light has one: the distance is then measured from its aim, or from its first point if it has no aim; `energy_j`; `guide_number_m` with `guide_number_ft`; `ratio`.
    by: By,
    /// The remedy as a sentence.
    detail: String,
}
written_as!(Remedy as WrittenRemedy, |it| WrittenRemedy { change: it.change, by: it.by, detail: remedy(it) });

written_as_text!(light::kit::summary::Summary, kit_summary);
written_as_text!(light::kit::Optimality, |it| kit_optimality(*it));
written_as_text!(light::supply::summary::Summary, supply_summary);
