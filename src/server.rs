//! server.

pub mod auth;
pub(crate) mod auth_layer;
pub(crate) mod caching;
pub(crate) mod call;
pub mod client_ip;
pub mod compression;
pub mod cors;
pub(crate) mod descriptors;
pub mod host_port;
pub mod listener;
pub mod metrics;
pub mod negotiation;
pub mod problem;
pub(crate) mod problem_layer;
pub mod rate_limit;
pub(crate) mod request_checks;
pub mod request_id;
pub mod state;
pub mod worker_pool;
