//! Lights that readings cannot distinguish.
//!
//! Two cannot be where the standard deviation of the difference of their errors stays above 0.8 of what it was before the
//! readings (our judgement; a correlation misses most twins).

use nalgebra::DMatrix;

/// What may stay of a standard deviation at most if readings tell something.
const STAYS: f64 = 0.8;
/// A light of which less than this stays is known by itself, whatever its twin is.
const KNOWN: f64 = 0.5;

/// Which lights readings tell apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Separation {
    /// Lights that cannot be distinguished from each other, by index: lists of two or more.
    pub groups: Vec<Vec<usize>>,
    /// Whether each light's error is told by the readings: it is in no group, and they narrowed it.
    pub is_told: Vec<bool>,
}

/// From the covariance of the errors of the lights before and after the readings.
pub fn separate(before: &DMatrix<f64>, after: &DMatrix<f64>) -> Separation {
    let count = before.nrows();
    let stays = |was: f64, is: f64| if was > 0.0 { (is.max(0.0) / was).sqrt() } else { 0.0 };
    let own = |light: usize| stays(before[(light, light)], after[(light, light)]);
    let difference = |of: &DMatrix<f64>, a: usize, b: usize| of[(a, a)] + of[(b, b)] - 2.0 * of[(a, b)];
    let alike = |a: usize, b: usize| {
        own(a) > KNOWN && own(b) > KNOWN && stays(difference(before, a, b), difference(after, a, b)) > STAYS
    };
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for light in 0..count {
        let (with, mut without): (Vec<_>, Vec<_>) =
            groups.into_iter().partition(|group| group.iter().any(|&other| alike(light, other)));
        let mut joined: Vec<usize> = with.into_iter().flatten().chain([light]).collect();
        joined.sort_unstable();
        without.push(joined);
        groups = without;
    }
    groups.retain(|group| group.len() > 1);
    groups.sort();
    let is_told = (0..count)
        .map(|light| own(light) <= STAYS && !groups.iter().flatten().any(|&it| it == light))
        .collect();
    Separation { groups, is_told }
}
