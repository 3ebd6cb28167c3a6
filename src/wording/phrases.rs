//! Every sentence that people read in an answer, derived from its structure.

mod kit;
mod remark;

use serde::{Serialize, Serializer};
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{RefOr, Schema},
};

pub use self::{kit::kit_summary, remark::remark};

use crate::light::{kit::summary::Summary, remark::Remark};

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

impl Serialize for Summary {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&kit_summary(self))
    }
}
