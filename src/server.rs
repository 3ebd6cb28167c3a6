//! HTTP, and no photography: the listener, configuration and shared state, the layers of our own (auth, rate limit,
//! metrics, problems), caching, negotiation, and the worker pool for slow calculations.
//!
//! Routes and handlers are in `endpoints`; the order of the layers is in `app.rs`. From `light` this room takes only
//! the types of field errors and of the interrupt.

pub(crate) mod around;
pub mod auth;
pub(crate) mod auth_layer;
pub(crate) mod caching;
pub mod client_ip;
pub mod compression;
pub mod cors;
pub(crate) mod descriptors;
pub mod host_port;
pub mod listener;
pub mod metrics;
pub(crate) mod metrics_layer;
pub mod negotiation;
pub(crate) mod page_headers;
pub mod problem;
pub(crate) mod problem_layer;
pub mod rate_limit;
pub(crate) mod request_checks;
pub mod request_id;
pub mod retirement;
pub mod state;
pub mod worker_pool;
