//! Flashes that follow each other so fast that they can trigger a seizure.

/// More flashes in a second than this can trigger a seizure (published: WCAG 2.x, success criterion 2.3.1).
pub const FLASHES_A_SECOND: f64 = 3.0;

/// Whether flashes at this interval, s, are more than that.
pub fn is_flicker(interval: f64) -> bool {
    interval * FLASHES_A_SECOND < 1.0 - 1e-9
}
