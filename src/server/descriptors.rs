//! How many connections fit into the process's limit of file descriptors.

use crate::server::state::Limits;

/// Descriptors that are not connections: standard streams, listeners, the runtime's own, the keys file while it is
/// read, and a connection that is closed as soon as it is accepted. 13 are open at the start.
const RESERVED: usize = 24;
/// Connections of all kinds that a service must at least have room for.
const MIN_CONNECTIONS: usize = 8;

/// The limit of open descriptors, or `None` if the system states none.
#[cfg(unix)]
pub fn limit() -> Option<usize> {
    use rustix::process::{Resource, getrlimit};
    getrlimit(Resource::Nofile).current.map(|limit| usize::try_from(limit).unwrap_or(usize::MAX))
}

/// The limit of open descriptors, or `None` if the system states none.
#[cfg(not(unix))]
pub fn limit() -> Option<usize> {
    None
}

/// Reduces the limits of connections to what `descriptors` allow. Each kind of connection has descriptors of its own,
/// so that clients cannot shut out probes. `None` if there are too few descriptors to serve.
pub fn fit(descriptors: usize, limits: Limits) -> Option<Limits> {
    let left = descriptors.checked_sub(RESERVED).filter(|left| *left >= MIN_CONNECTIONS)?;
    let share = |wanted: usize| wanted.min(left / MIN_CONNECTIONS);
    let (refused, metrics_connections) = (share(limits.refused), share(limits.metrics_connections));
    Some(Limits {
        connections: limits.connections.min(left - refused - metrics_connections),
        refused,
        metrics_connections,
        ..limits
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_connections_together_fit_into_the_descriptors() {
        for connections in [1, 512, 100_000] {
            let wanted = Limits { connections, ..Limits::default() };
            for descriptors in 0..4000 {
                let Some(fits) = fit(descriptors, wanted) else {
                    assert!(descriptors < RESERVED + MIN_CONNECTIONS, "{descriptors}");
                    continue;
                };
                assert!(fits.connections + fits.refused + fits.metrics_connections + RESERVED <= descriptors);
                assert!(
                    fits.connections >= 1 && fits.refused >= 1 && fits.metrics_connections >= 1,
                    "{descriptors}"
                );
            }
        }
        // The usual limit leaves the default unchanged.
        let usual = fit(1024, Limits::default());
        assert!(
            usual.is_some_and(
                |fits| (fits.connections, fits.refused, fits.metrics_connections) == (512, 64, 64)
            )
        );
    }
}
