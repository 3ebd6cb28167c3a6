//! How many connections fit into what the system lets this process open.

use crate::server::state::Limits;

/// Descriptors that are no connection: standard streams, listeners, the runtime's own, the file of keys while it is
/// read, and a connection that is closed as soon as it is taken. 13 are open at the start.
const OWN: usize = 24;
/// Connections of any kind that a service must have room for at the least.
const LEAST: usize = 8;

/// What the process may open; none where the system does not say.
#[cfg(unix)]
pub fn most() -> Option<usize> {
    use rustix::process::{Resource, getrlimit};
    getrlimit(Resource::Nofile).current.map(|most| usize::try_from(most).unwrap_or(usize::MAX))
}

/// What the process may open; none where the system does not say.
#[cfg(not(unix))]
pub fn most() -> Option<usize> {
    None
}

/// The limits with no more connections than fit beside those that hear that there are too many, and beside those for
/// counts and probes: each kind has descriptors of its own, so that callers cannot shut out probes. None where there
/// are too few for any service.
pub fn within(most: usize, limits: Limits) -> Option<Limits> {
    let left = most.checked_sub(OWN).filter(|left| *left >= LEAST)?;
    let share = |wanted: usize| wanted.min(left / LEAST);
    let (told, scrapers) = (share(limits.told), share(limits.scrapers));
    Some(Limits { connections: limits.connections.min(left - told - scrapers), told, scrapers, ..limits })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_connections_together_fit_into_the_descriptors() {
        for connections in [1, 512, 100_000] {
            let wanted = Limits { connections, ..Limits::default() };
            for most in 0..4000 {
                let Some(fits) = within(most, wanted) else {
                    assert!(most < OWN + LEAST, "{most}");
                    continue;
                };
                assert!(fits.connections + fits.told + fits.scrapers + OWN <= most);
                assert!(fits.connections >= 1 && fits.told >= 1 && fits.scrapers >= 1, "{most}");
            }
        }
        // A usual limit leaves the default as it is.
        let usual = within(1024, Limits::default());
        assert!(usual.is_some_and(|fits| (fits.connections, fits.told, fits.scrapers) == (512, 64, 64)));
    }
}
