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
pub mod compression;
mod energy;
pub mod exchange;
mod falloff;
pub mod faults;
pub mod form;
pub mod front;
mod front_page;
mod guide;
pub mod home;
mod kept;
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
mod pages;
mod patches;
pub mod plain;
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
pub mod worker_pool;

use std::sync::Arc;

use axum::Router;
use utoipa_axum::router::OpenApiRouter;

use self::running::Running;

/// Routes, with their part of the OpenAPI document.
pub type Routes = OpenApiRouter<Arc<Running>>;

/// The route table. Each topic's routes are in the file of its name.
const TOPICS: [fn() -> Routes; 17] = [
    home::routes,
    stops::routes,
    marks::routes,
    energy::routes,
    guide::routes,
    balance::routes,
    predict::routes,
    falloff::routes,
    modifiers::routes,
    patches::routes,
    ambient::routes,
    calibrate::routes,
    motion::routes,
    colour::routes,
    kit::routes,
    supply::routes,
    batch::routes,
];

/// The OpenAPI document of all of them, as utoipa collects it.
fn document() -> utoipa::openapi::OpenApi {
    let table = Routes::with_openapi(openapi::frame());
    TOPICS.iter().fold(table, |table, topic| table.merge(topic())).into_openapi()
}

/// The routes, and their templates. What stands before them all is in `front.rs`.
fn router(running: Arc<Running>) -> (Router, Vec<String>) {
    let mut router = pages::routes();
    let mut templates: Vec<String> = pages::TEMPLATES.map(str::to_owned).into();
    for topic in TOPICS {
        // Each topic's part of the document is dropped at once: together they would stay some megabytes of the heap.
        let (routes, document) = topic().split_for_parts();
        templates.extend(document.paths.paths.into_keys());
        router = router.merge(routes);
    }
    (router.with_state(running), templates)
}
