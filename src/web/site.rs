//! The documents that are the same until the next version, each made once: index, front page, OpenAPI document.

use std::sync::LazyLock;

use super::{front_page, problem_page};
use crate::{
    endpoints::service,
    openapi,
    server::{caching::StaticDocument, negotiation, state::Site},
};

/// The documents, for the state.
pub const SITE: Site = Site {
    index,
    front_page,
    openapi,
    problem_page: problem_page::problem,
    explanation_page: problem_page::explanation,
};

fn index() -> &'static StaticDocument {
    static INDEX: LazyLock<StaticDocument> =
        LazyLock::new(|| StaticDocument::new(negotiation::JSON, service::index(openapi::operations())));
    &INDEX
}

fn front_page() -> &'static StaticDocument {
    static PAGE: LazyLock<StaticDocument> = LazyLock::new(|| {
        StaticDocument::new(negotiation::HTML_UTF8, front_page::page(&openapi::operations()))
    });
    &PAGE
}

fn openapi() -> &'static StaticDocument {
    static DOCUMENT: LazyLock<StaticDocument> =
        LazyLock::new(|| StaticDocument::new(negotiation::JSON, openapi::document().as_bytes()));
    &DOCUMENT
}
