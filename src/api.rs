//! HTTP: the route table, and what stands around every route. No formula lives here.

pub mod accept;
mod ambient;
mod balance;
mod batch;
pub mod calculation;
pub mod calculations;
mod calibrate;
pub mod caller;
mod colour;
mod energy;
pub mod exchange;
mod falloff;
pub mod front;
mod guide;
pub mod heavy;
pub mod home;
pub mod keys;
mod kit;
mod marks;
mod message;
mod modifiers;
mod motion;
mod names;
mod objects;
pub mod openapi;
pub mod origins;
mod patches;
mod predict;
pub mod problem;
pub mod rate;
pub mod read;
mod rules;
pub mod running;
mod schema;
pub mod serve;
mod stops;
mod supply;
pub mod traffic;
pub mod tree;

use std::sync::Arc;

use axum::Router;
use utoipa_axum::router::OpenApiRouter;
use utoipa_swagger_ui::{Config, SwaggerUi};

use self::running::Running;

/// Routes, with their part of the OpenAPI document.
pub type Routes = OpenApiRouter<Arc<Running>>;

/// The route table. Each line's routes are in the file of its name.
fn table() -> Routes {
    Routes::with_openapi(openapi::frame())
        .merge(home::routes())
        .merge(stops::routes())
        .merge(marks::routes())
        .merge(energy::routes())
        .merge(guide::routes())
        .merge(balance::routes())
        .merge(predict::routes())
        .merge(falloff::routes())
        .merge(modifiers::routes())
        .merge(patches::routes())
        .merge(ambient::routes())
        .merge(calibrate::routes())
        .merge(motion::routes())
        .merge(colour::routes())
        .merge(kit::routes())
        .merge(supply::routes())
        .merge(batch::routes())
}

/// The routes, and their templates. What stands before them all is in `front.rs`.
fn router(running: Arc<Running>) -> (Router, Vec<String>) {
    let (router, document) = table().split_for_parts();
    let router = router
        .merge(SwaggerUi::new("/docs").config(Config::from("/openapi.json").validator_url("none")))
        .with_state(running);
    let documented = document.paths.paths.into_keys();
    (router, documented.chain(["/docs/{file}".to_owned()]).collect())
}
