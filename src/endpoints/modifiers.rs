//! `/v1/modifiers`.

use axum::{http::HeaderMap, response::Response};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::extract::Query,
    light::set::modifier::{KINDS, ModifierKind},
    request::reader::Nothing,
    server::{problem::Problem, state::Routes},
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(list_modifiers))
}

/// Kinds of modifier.
#[derive(Serialize, ToSchema)]
struct ModifierTable {
    /// The kinds.
    modifiers: [ModifierKind; 9],
}

/// List kinds of modifier
///
/// The effect of common kinds of modifier on the light on the axis, relative to a standard reflector: low, typical and high. The values are rough and from memory, good enough to start a plan. `modifier_stops` in any request may be `{"kind": "softbox_one_diffuser"}`; the answer then includes the uncertainty. A meter reading is more accurate.
#[utoipa::path(get, path = "/v1/modifiers", tag = "ratios",
    responses((status = 200, description = "The kinds", body = ModifierTable)))]
async fn list_modifiers(headers: HeaderMap, query: Query<Nothing>) -> Result<Response, Problem> {
    query.respond(&headers, &ModifierTable { modifiers: KINDS })
}
