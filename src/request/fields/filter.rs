//! Filters and gels.

use std::f64::consts::LOG10_2;

use utoipa::openapi::{ObjectBuilder, OneOfBuilder, Ref, Type};

use crate::{
    light::{
        quantity::{Stops, kind::Kind, notation},
        set::filter::Filter,
    },
    request::{
        declare::request,
        field_schema::{Named, add, looks_like},
        fields::numbers::{Correction, MiredShift, Tolerance},
        place::At,
        reader::{Read, Reader, lists::Item, values::is_too_long},
        schema::Name,
        value::Value,
    },
    wording::fault::Fault,
};

/// What is expected of a filter.
const EXPECTED: &str = "a filter, as \"ND 0.9\" (density), \"ND8\" (factor), \"-1.5 stops\", or {\"name\": \"half blue\", \"stops\": -1, \"mired\": -68}";

request! {
    /// A filter by its effect, with a name and a colour shift.
    struct FilterInput {
        /// Its name.
        name: String as Name,
        /// Its effect on the light, stops, 0 or less.
        stops: Correction,
        /// How far its effect may be off, ± stops at 95 %, 0.001 to 4; 0.1 if left out.
        plus_minus_stops: Option<Tolerance>,
        /// Its colour shift, mired.
        mired: Option<MiredShift>,
    }
}

/// The schema of a filter in a request.
struct AnyFilter;

impl utoipa::PartialSchema for AnyFilter {
    fn schema() -> utoipa::openapi::RefOr<utoipa::openapi::Schema> {
        let text = ObjectBuilder::new()
            .schema_type(Type::String)
            .max_length(Some(64))
            .pattern(Some(r"^\s*([nN][dD]\s*[0-9.]+|-?\s*[0-9./ ]+\s*stops?)\s*$"));
        OneOfBuilder::new()
            .item(text)
            .item(Ref::from_schema_name("FilterInput"))
            .description(Some("A filter: \"ND 0.9\" (a decimal point makes it a density), \"ND8\" (a whole number makes it a factor), \"-1.5 stops\", or its effect with a name."))
            .into()
    }
}

impl utoipa::ToSchema for AnyFilter {
    fn name() -> std::borrow::Cow<'static, str> {
        "Filter".into()
    }

    fn schemas(all: &mut Named) {
        add::<FilterInput>(all);
    }
}

looks_like!(Filter as AnyFilter);

impl Read for Filter {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let (name, stops_at, stops, plus_minus, mired) = match value {
            Value::Object(_) | Value::LongObject(_) => {
                let input = FilterInput::read(value, at, reader)?;
                let plus_minus = input.plus_minus_stops.map(|it| it.0);
                let mired = input.mired.map(|it| it.0);
                (Some(input.name), At::Field(at, "stops"), input.stops.0.get(), plus_minus, mired)
            }
            Value::Text(text) | Value::Parameter(text) if !is_too_long(text) => {
                // A name alone, whose effect is not known.
                if !text.contains(|letter: char| letter.is_ascii_digit()) {
                    return reader.push_wrong_type(at, value, EXPECTED);
                }
                (None, *at, effect(text, at, reader)?, None, None)
            }
            _ => return reader.push_wrong_type(at, value, EXPECTED),
        };
        if stops > 0.0 {
            return reader.push_fault(&stops_at, Fault::GelAddsLight);
        }
        Some(Self { name, stops: Stops::new_unchecked(stops), plus_minus, mired })
    }

    fn expected() -> String {
        EXPECTED.to_owned()
    }
}

/// The effect of a filter in stops, from its notation.
fn effect(text: &str, at: &At<'_>, reader: &mut Reader) -> Option<f64> {
    if let Some(stops) = notation::named_stops(text) {
        return Some(stops);
    }
    let kind =
        if notation::is_of(Kind::FilterFactor, text) { Kind::FilterFactor } else { Kind::OpticalDensity };
    let written = reader.checked(at, notation::read(kind, text))?;
    let (value, _) = reader.rules.interpret(kind, written);
    let value = reader.checked(at, kind.bounds().check(value))?;
    Some(match kind {
        Kind::FilterFactor => -value.log2(),
        _ => -value / LOG10_2,
    })
}

impl Item for Filter {
    const MIN: usize = 0;
    const MAX: usize = 8;
    const PLURAL: &'static str = "filters";
}
