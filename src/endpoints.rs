//! The endpoints, one file per topic, and the registry of calculations.

pub(crate) mod ambient;
pub(crate) mod ask;
pub(crate) mod balance;
pub(crate) mod batch;
pub mod calculation;
pub(crate) mod calibrate;
pub(crate) mod close_up;
pub mod codes;
pub(crate) mod colour;
pub(crate) mod compare;
pub(crate) mod correct;
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
pub(crate) mod one_light;
pub(crate) mod patch_level;
pub(crate) mod patches;
pub(crate) mod predict;
pub(crate) mod readings;
pub mod registry;
pub mod service;
pub(crate) mod softness;
pub(crate) mod stops;
pub(crate) mod supply;

use crate::server::state::Routes;

/// The route table. The routes of each topic are in the file of the same name.
pub const TOPICS: [fn() -> Routes; 27] = [
    service::routes,
    ask::routes,
    stops::routes,
    marks::routes,
    compare::routes,
    close_up::routes,
    equivalence::routes,
    measured::routes,
    readings::routes,
    guide::routes,
    balance::routes,
    correct::routes,
    predict::routes,
    one_light::routes,
    falloff::routes,
    softness::routes,
    modifiers::routes,
    patches::routes,
    patch_level::routes,
    ambient::routes,
    calibrate::routes,
    motion::routes,
    colour::routes,
    kit::routes,
    supply::routes,
    batch::routes,
    codes::routes,
];
