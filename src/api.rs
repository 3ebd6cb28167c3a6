//! HTTP: the route table, and what stands around every route. No formula lives here.

pub mod accept;
mod ambient;
mod balance;
mod batch;
pub mod calculation;
pub mod calculations;
mod calibrate;
mod colour;
mod energy;
pub mod exchange;
mod falloff;
mod guide;
pub mod heavy;
pub mod home;
pub mod keys;
mod kit;
pub mod layer;
mod marks;
mod modifiers;
mod motion;
mod names;
mod objects;
pub mod openapi;
mod patches;
mod predict;
pub mod problem;
pub mod read;
mod rules;
mod schema;
pub mod serve;
mod stops;
mod supply;
pub mod tree;

use axum::Router;
use tower_http::catch_panic::CatchPanicLayer;
use utoipa_axum::router::OpenApiRouter;
use utoipa_swagger_ui::{Config, SwaggerUi};

/// The route table. Each line's routes are in the file of its name.
fn table() -> OpenApiRouter {
    OpenApiRouter::with_openapi(openapi::frame()).merge(home::routes()).nest(
        "/v1",
        OpenApiRouter::new()
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
            .merge(batch::routes()),
    )
}

/// The whole service, with what holds while it runs.
pub fn router(running: serve::Running) -> Router {
    let (router, _) = table().split_for_parts();
    router
        .merge(SwaggerUi::new("/docs").config(Config::from("/openapi.json").validator_url("none")))
        .layer(CatchPanicLayer::new())
        .layer(axum::middleware::from_fn_with_state(running, layer::around))
}
