//! The options that every request may state at top level beside its own fields. They apply to the whole request, so they
//! are read first, wherever they occur.

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
/// The same, and `format`, for queries.
pub const QUERY_NAMES: [&str; 4] = [NAMES[0], NAMES[1], NAMES[2], crate::request::format::NAME];

/// The options of a request. The OpenAPI document adds them to every request; see `openapi.rs`.
#[derive(ToSchema, IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "for the OpenAPI document only; read as `Rules`")]
pub struct RulesInput {
    /// How numbers are read; `marked` if left out.
    reading: Option<Reading>,
    /// The series of marks; third stops if left out.
    step: Option<Step>,
    /// Units of length in the answer; `metric` if left out.
    units: Option<Units>,
}

/// Reads the options of a request. An invalid option is a fault, and its default is used.
pub fn rules(value: &Value<'_>, reader: &mut Reader) -> Rules {
    let Value::Object(entries) = value else { return Rules::default() };
    Rules {
        reading: option(entries, "reading", reader),
        step: option(entries, "step", reader),
        units: option(entries, "units", reader),
    }
}

fn option<T: Read + Default>(entries: &Entries<'_>, name: &str, reader: &mut Reader) -> T {
    field::<Option<T>>(entries, name, &At::Root, reader).flatten().unwrap_or_default()
}
