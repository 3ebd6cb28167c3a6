//! Stopwright: the lighting arithmetic of a flash studio, as an HTTP JSON API.
//!
//! - [`light`] is the maths: typed quantities in, typed answers out, no HTTP.
//! - [`api`] is HTTP: reading requests with every fault located, the route table, problems, OpenAPI.
//! - [`config`] and [`run`] are the command line.

pub mod api;
pub mod config;
pub mod light;
pub mod run;
mod tour;
