//! `/v1/modifiers`.

use axum::{http::HeaderMap, response::Response};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::extract::Query,
    light::set::modifier::{KINDS, ModifierKind},
    request::reader::Nothing,
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
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
/// What common kinds of modifier do to the light on the axis, against a standard reflector: low, typical and high, from memory and rough. A start for a plan: wherever `modifier_stops` is asked for, `{"kind": "softbox_one_diffuser"}` may stand, and the answer then carries the uncertainty. A meter knows better.
#[utoipa::path(get, path = "/v1/modifiers", tag = "ratios",
    responses((status = 200, description = "The kinds", body = ModifierTable), Refusals))]
async fn list_modifiers(headers: HeaderMap, query: Query<Nothing>) -> Result<Response, Problem> {
    query.tell(&headers, &ModifierTable { modifiers: KINDS })
}
