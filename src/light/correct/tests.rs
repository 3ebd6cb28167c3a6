//! Tests of the inference: against a reference, and on simulated sets.

mod reference;
mod simulation;

use nalgebra::DMatrix;

use crate::light::{
    correct::{chance::chance, inseparable::separate},
    quantity::half_widths::SIGMAS,
    set::target::TargetSide,
    uncertainty::{
        Cause,
        prior::{self, PriorSource},
    },
};

/// What is known of lights with these half-widths of their own, in common, and by light and point.
fn known(own: &[f64], common: &[f64], pairs: &DMatrix<f64>) -> prior::Prior {
    let deviation = |half_width: &f64| half_width / SIGMAS;
    let of_light = |(light, half_width): (usize, &f64)| {
        let mut deviations = vec![0.0; own.len()];
        deviations[light] = deviation(half_width);
        PriorSource { cause: Cause::Rating, deviations }
    };
    let common = PriorSource { cause: Cause::Rating, deviations: common.iter().map(deviation).collect() };
    let pairs: Vec<Vec<f64>> =
        pairs.column_iter().map(|point| point.iter().map(deviation).collect()).collect();
    prior::Prior {
        sources: own.iter().enumerate().map(of_light).chain([common]).collect(),
        unmetered: vec![vec![0.0; own.len()]; pairs.len()],
        pairs,
    }
}

/// Twins that only their sum is known of stay inseparable; a light that is known by itself is told.
#[test]
fn twins_are_one_group() {
    let before = DMatrix::from_diagonal_element(3, 3, 0.04);
    // The sum of the first two is known, their difference is not.
    let after = DMatrix::from_row_slice(3, 3, &[0.021, -0.019, 0.0, -0.019, 0.021, 0.0, 0.0, 0.0, 0.004]);
    let separation = separate(&before, &after);
    assert_eq!(separation.groups, [[0, 1]]);
    assert_eq!(separation.is_told, [false, false, true]);
}

/// Values of the normal distribution (published: any table): 68.27 % within one standard deviation, 95 % within 1.96.
#[test]
fn chances_are_those_of_a_table() {
    let near = |a: f64, b: f64| (a - b).abs() < 1e-4;
    assert!(near(chance(0.0, 1.96, 1.0, TargetSide::Both), 0.6827));
    assert!(near(chance(0.0, 0.3, 0.3, TargetSide::Both), 0.95));
    assert!(near(chance(0.3, 0.3, 0.3, TargetSide::Both), 0.5));
    assert!(near(chance(-1.0, 0.3, 0.3, TargetSide::AtMost), 1.0));
    assert!(near(chance(0.0, 0.3, 0.3, TargetSide::AtLeast), 0.975));
    assert!(near(chance(0.0, 0.0, 0.3, TargetSide::Both), 1.0));
    assert!(near(chance(0.4, 0.0, 0.3, TargetSide::Both), 0.0));
}
