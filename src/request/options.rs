//! The options that a request may state at top level beside its own fields: those that its calculation has a use for.
//! They apply to the whole request, so they are read first, wherever they occur.

use utoipa::{IntoParams, ToSchema};

use crate::{
    light::quantity::{
        marks::Step,
        rules::{Reading, Rules},
        units::Units,
    },
    request::{
        fields::PictureWidth,
        place::At,
        reader::{Read, Reader, field},
        value::{Entries, Value},
    },
};

/// Names of options, in the order of a query; a body has no `format`. Other names are unknown fields.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options(&'static [&'static str]);

impl Options {
    /// No marks and no lengths.
    pub const NONE: Self = Self(&[crate::request::format::NAME]);
    /// Marks in the request or the answer.
    pub const MARKS: Self = Self(&[crate::request::format::NAME, "reading", "step"]);
    /// Lengths in the answer, and no marks.
    pub const LENGTHS: Self = Self(&[crate::request::format::NAME, "units"]);
    /// Marks, and lengths in the answer.
    pub const ALL: Self = Self(&[crate::request::format::NAME, "reading", "step", "units"]);
    /// Marks, and a picture.
    pub const MARKS_DRAWN: Self = Self(&[crate::request::format::NAME, "reading", "step", "width"]);
    /// Marks, lengths in the answer, and a picture.
    pub const ALL_DRAWN: Self = Self(&[crate::request::format::NAME, "reading", "step", "units", "width"]);

    /// Those of a query.
    pub const fn of_query(self) -> &'static [&'static str] {
        self.0
    }

    /// Those of a body.
    pub fn of_body(self) -> &'static [&'static str] {
        &self.0[1..]
    }
}

/// The options of a request. The OpenAPI document adds them to the requests that have them; see `openapi/options.rs`.
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
    /// The width of the picture, px; 900 if left out, and about 390 for a phone. It changes nothing else of the answer.
    #[schema(minimum = 320, maximum = 1600)]
    #[param(minimum = 320, maximum = 1600)]
    width: Option<u32>,
}

/// Reads the options that a request may have. An invalid option is a fault, and its default is used.
pub fn rules(value: &Value<'_>, reader: &mut Reader) -> Rules {
    let Value::Object(entries) = value else { return Rules::default() };
    Rules {
        reading: option(entries, "reading", reader).unwrap_or_default(),
        step: option(entries, "step", reader).unwrap_or_default(),
        units: option(entries, "units", reader).unwrap_or_default(),
    }
}

/// The width of the picture, px, if this one may have a picture.
pub fn width(value: &Value<'_>, reader: &mut Reader) -> f64 {
    const DEFAULT: PictureWidth = PictureWidth(900);
    let Value::Object(entries) = value else { return DEFAULT.0.into() };
    f64::from(option::<PictureWidth>(entries, "width", reader).unwrap_or(DEFAULT).0)
}

fn option<T: Read>(entries: &Entries<'_>, name: &str, reader: &mut Reader) -> Option<T> {
    let is_known = reader.options().contains(&name);
    is_known.then(|| field::<Option<T>>(entries, name, &At::Root, reader).flatten()).flatten()
}
