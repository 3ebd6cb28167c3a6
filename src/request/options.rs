//! What every request may say at top level beside its own fields. It rules all that is below, so it is read
//! first, wherever it stands.

use utoipa::{IntoParams, ToSchema};

use crate::{
    light::quantity::{
        marks::Step,
        rules::{Reading, Rules},
        units::Units,
    },
    request::{
        place::At,
        reader::{Read, Reader, field},
        value::{Entries, Value},
    },
};

/// The names of [`RulesInput`].
pub const NAMES: [&str; 3] = ["reading", "step", "units"];
/// And of [`crate::request::format::FormInput`], which queries may say as well.
pub const QUERY_NAMES: [&str; 4] = [NAMES[0], NAMES[1], NAMES[2], crate::request::format::NAME];

/// The rules of a request. The OpenAPI document adds them to every request; see `openapi.rs`.
#[derive(ToSchema, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "stands in the OpenAPI document only; read as `Rules`")]
pub struct RulesInput {
    /// How numbers are read; `marked` if left out.
    reading: Option<Reading>,
    /// The series of marks; thirds if left out.
    step: Option<Step>,
    /// The units of lengths in the answer; `metric` if left out.
    units: Option<Units>,
}

/// Reads the rules of a request. A rule that is wrong is a fault, and the default holds.
pub fn rules(tree: &Value<'_>, reader: &mut Reader) -> Rules {
    let Value::Object(entries) = tree else { return Rules::default() };
    Rules {
        reading: one(entries, "reading", reader),
        step: one(entries, "step", reader),
        units: one(entries, "units", reader),
    }
}

fn one<T: Read + Default>(entries: &Entries<'_>, name: &str, reader: &mut Reader) -> T {
    field::<Option<T>>(entries, name, &At::Root, reader).flatten().unwrap_or_default()
}
