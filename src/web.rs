//! Pages for people, and the files that they load.

pub(crate) mod front_page;
pub(crate) mod pages;
pub(crate) mod site;
