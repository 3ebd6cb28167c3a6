//! The endpoints, one file per topic, and the registry of calculations.

pub(crate) mod ambient;
pub(crate) mod balance;
pub(crate) mod batch;
pub mod calculation;
pub(crate) mod calibrate;
pub mod codes;
pub(crate) mod colour;
pub(crate) mod equivalence;
pub mod extract;
pub(crate) mod falloff;
pub mod format;
pub(crate) mod guide;
pub(crate) mod kit;
pub(crate) mod marks;
pub(crate) mod measured;
pub(crate) mod modifiers;
pub(crate) mod motion;
pub(crate) mod patches;
pub(crate) mod predict;
pub mod registry;
pub mod service;
pub(crate) mod stops;
pub(crate) mod supply;

use crate::server::state::Routes;

/// The route table. The routes of each topic are in the file of the same name.
pub const TOPICS: [fn() -> Routes; 19] = [
    service::routes,
    stops::routes,
    marks::routes,
    equivalence::routes,
    measured::routes,
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
    codes::routes,
];
