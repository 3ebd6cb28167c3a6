//! The documents that only a new version changes: the index, the front page, the OpenAPI document. Each is made once.

use std::sync::LazyLock;

use super::front_page;
use crate::{
    endpoints::service,
    openapi,
    server::{caching::Fixed, negotiation, state::Site},
};

/// All of them.
pub const SITE: Site = Site { index, front_page, openapi };

fn index() -> &'static Fixed {
    static INDEX: LazyLock<Fixed> =
        LazyLock::new(|| Fixed::new(negotiation::JSON, service::index(openapi::operations())));
    &INDEX
}

fn front_page() -> &'static Fixed {
    static PAGE: LazyLock<Fixed> =
        LazyLock::new(|| Fixed::new(negotiation::HTML_UTF8, front_page::page(&openapi::operations())));
    &PAGE
}

fn openapi() -> &'static Fixed {
    static DOCUMENT: LazyLock<Fixed> =
        LazyLock::new(|| Fixed::new(negotiation::JSON, openapi::document().as_bytes()));
    &DOCUMENT
}
