//! web.

pub(crate) mod front_page;
pub(crate) mod pages;
