//! `/v1/stops/convert`.

use axum::{http::HeaderMap, response::Response};
use utoipa_axum::routes;

use crate::{
    endpoints::{
        calculation::Calculation,
        extract::{Body, Query},
    },
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        quantity::{Stops, kind::Kind, notation, rules::Rules},
        stops::{self, Conversion, Given, Target},
    },
    request::{
        declare::request,
        field_schema::looks_like,
        options::Options,
        place::At,
        reader::{
            Read, Reader,
            values::{is_too_long, too_long},
        },
        schema::ConvertInput,
        value::Value,
    },
    server::{problem::Problem, state::Routes},
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(convert_stops_by_query, convert_stops))
}

request! {
    /// A conversion from one setting to another, or by a shift.
    pub struct ConvertRequest {
        /// The start value.
        from: Given,
        /// The end value, of the same kind as `from`; a filter's density and its factor are one kind. Exactly one of `to` and `shift` is required.
        to: Option<Given>,
        /// The shift in stops; + is brighter.
        shift: Option<Stops>,
        /// The kind of the values, if their notation does not show it.
        kind: Option<Kind>,
    }
    exactly one of "the target": to | shift
    checked by Self::check(from, to, kind)
}

/// A conversion whose values are of one kind.
pub(crate) struct ConvertQuestion {
    from: Given,
    target: Target,
    kind: Option<Kind>,
    rules: Rules,
}

impl Read for ConvertQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let request = ConvertRequest::read(value, at, reader)?;
        let target = match (request.to, request.shift) {
            (Some(to), None) => Target::To(to),
            (None, Some(shift)) => Target::Shift(shift),
            // Refused by the reader.
            _ => return None,
        };
        Some(Self { from: request.from, target, kind: request.kind, rules: reader.rules })
    }
}

impl ConvertRequest {
    /// Checks the values against each other if another part is wrong, since there is no answer then that would do so.
    fn check(
        from: Option<&Given>,
        to: Option<&Option<Given>>,
        kind: Option<&Option<Kind>>,
        _: &At<'_>,
        reader: &mut Reader,
    ) {
        if let (Some(kind), false) = (kind, reader.is_clean()) {
            for error in stops::faults(from, to.and_then(Option::as_ref), *kind, reader.rules) {
                reader.push_located(error);
            }
        }
    }
}

looks_like!(Given as ConvertInput);

impl Read for Given {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        match value {
            Value::Number(_) => value.number().map(Self::Number),
            Value::Text(text) | Value::Parameter(text) if is_too_long(text) => {
                reader.push_fault(at, too_long(text, &Self::expected()))
            }
            Value::Parameter(text) => {
                let as_text = || Self::Text(text.clone().into_owned());
                Some(notation::bare_number(text).map_or_else(as_text, Self::Number))
            }
            Value::Text(text) => Some(Self::Text(text.clone().into_owned())),
            _ => reader.push_wrong_type(at, value, "a number or a text, as 8 or \"f/8\""),
        }
    }

    fn expected() -> String {
        "a value, as \"f/8\"".to_owned()
    }
}

impl Calculation for ConvertQuestion {
    type Answer = Conversion;
    const OPTIONS: Options = Options::ALL;

    fn answer(&self, _: &dyn Interrupt) -> Result<Conversion, Vec<InvalidPart>> {
        stops::convert(&self.from, &self.target, self.kind, self.rules)
    }
}

/// Convert stops, by query
///
/// The stops between two settings (`from`, `to`), or the setting that a shift leads to (`from`, `shift`). Write `%2B` for a plus sign inside a value. Answers may be cached.
#[utoipa::path(get, path = "/v1/stops/convert", tag = "stops", params(ConvertRequest),
    responses((status = 200, description = "The conversion", body = Conversion)))]
async fn convert_stops_by_query(
    headers: HeaderMap,
    query: Query<ConvertQuestion>,
) -> Result<Response, Problem> {
    query.answer(&headers)
}

/// Convert stops
///
/// The stops between two settings (`from`, `to`), or the setting that a shift leads to (`from`, `shift`): apertures, times, ISO speeds, energies, power fractions, distances, guide numbers, filters, light ratios, exposure values, illuminances and reflectances. Closing the lens, moving away, adding a filter and setting a higher exposure value are negative; more light and a lighter surface are positive.
#[utoipa::path(post, path = "/v1/stops/convert", tag = "stops", request_body = ConvertRequest,
    responses((status = 200, description = "The conversion", body = Conversion)))]
async fn convert_stops(body: Body<ConvertQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
