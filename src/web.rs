//! The pages for people: the front page, the API reference (Swagger UI) and the files that they load.
//!
//! Everything is in the binary, so that no page needs the internet. The HTML, styles and scripts are in `web/pages/`;
//! the calculations that pages call are in `endpoints`.

pub(crate) mod front_page;
pub(crate) mod pages;
pub(crate) mod problem_page;
pub(crate) mod site;
