//! The error responses that every operation of the OpenAPI document shares.

use std::collections::BTreeMap;

use utoipa::{
    IntoResponses,
    openapi::{ContentBuilder, Ref, RefOr, Response, ResponseBuilder},
};

use super::kind::Kind;

/// One error response for each [`Kind`], by status. Add it to the `responses` of a handler.
pub struct Refusals;

impl IntoResponses for Refusals {
    fn responses() -> BTreeMap<String, RefOr<Response>> {
        Kind::ALL
            .into_iter()
            .map(|kind| {
                let content = ContentBuilder::new().schema(Some(Ref::from_schema_name("Problem"))).build();
                let response = ResponseBuilder::new()
                    .description(kind.title())
                    .content("application/problem+json", content)
                    .build();
                (kind.status().as_str().to_owned(), response.into())
            })
            .collect()
    }
}
