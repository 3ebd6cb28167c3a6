//! The search against brute force over every combination.

use proptest::prelude::*;

use super::{
    clock::Budget,
    problem::{Levels, Point, Problem, SAME_WORST, Score},
    search::{Bound, Prefer, reaches, search},
};

/// Every choice of settings.
fn every_choice(problem: &Problem) -> Vec<Vec<usize>> {
    problem.lights.iter().fold(vec![Vec::new()], |choices, levels| {
        choices
            .iter()
            .flat_map(|choice| {
                (0..levels.power.len()).map(move |index| choice.iter().copied().chain([index]).collect())
            })
            .collect()
    })
}

/// The best score by looking at all: least worst error, then squares among those that reach it, then energy.
fn brute_force(problem: &Problem) -> Score {
    let scores: Vec<Score> = every_choice(problem).iter().map(|choice| problem.score(choice)).collect();
    let worst = scores.iter().map(|score| score.worst).fold(f64::INFINITY, f64::min);
    let tied: Vec<&Score> = scores.iter().filter(|score| score.worst <= worst + SAME_WORST).collect();
    let squares = tied.iter().map(|score| score.squares).fold(f64::INFINITY, f64::min);
    let tied = tied.iter().filter(|score| score.squares <= squares + 1e-9);
    let energy_j = tied.map(|score| score.energy_j).fold(f64::INFINITY, f64::min);
    Score { worst, squares, energy_j }
}

fn levels() -> impl Strategy<Value = Levels> {
    (prop_oneof![Just(0.1), Just(1.0 / 3.0), Just(1.0)], 1_usize..9, any::<bool>(), 50.0..1000.0).prop_map(
        |(click, count, off, full): (f64, usize, bool, f64)| {
            let mut power: Vec<f64> = (0..count).map(|k| (-(k as f64) * click).exp2()).collect();
            if off {
                power.push(0.0);
            }
            Levels { energy_j: power.iter().map(|power| power * full).collect(), power }
        },
    )
}

fn point(lights: usize) -> impl Strategy<Value = Point> {
    let gain = prop_oneof![1 => Just(0.0), 6 => (-6.0..4.0_f64).prop_map(f64::exp2)];
    (
        prop::collection::vec(gain, lights),
        prop_oneof![2 => Just(0.0), 1 => 0.01..2.0_f64],
        (-3.0..4.0_f64).prop_map(f64::exp2),
        prop_oneof![2 => Just(1.0), 1 => 0.2..4.0_f64],
    )
        .prop_map(|(gain, ambient, target, weight)| Point { gain, ambient, target, weight })
}

fn problem() -> impl Strategy<Value = Problem> {
    (1_usize..5, 1_usize..7).prop_flat_map(|(lights, points)| {
        (prop::collection::vec(levels(), lights), prop::collection::vec(point(lights), points))
            .prop_map(|(lights, points)| Problem { lights, points })
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn the_search_finds_what_brute_force_finds(problem in problem()) {
        let best = brute_force(&problem);
        let found = search(&problem, Prefer::Accuracy, Budget::NONE);
        prop_assert!(found.proven);
        prop_assert!((found.score.worst - best.worst).abs() <= 2.0 * SAME_WORST, "{:?} {best:?}", found.score);
        prop_assert_eq!(found.bound, Bound::WorstStops(found.score.worst));
        prop_assert!((found.score.squares - best.squares).abs() <= 1e-8, "{:?} {best:?}", found.score);
        prop_assert!((found.score.energy_j - best.energy_j).abs() <= 1e-6 * best.energy_j.max(1.0), "{:?} {best:?}", found.score);
        let score = problem.score(&found.choice);
        prop_assert_eq!(score, found.score);
    }

    #[test]
    fn the_least_energy_is_what_brute_force_finds(problem in problem(), tolerance in 0.05..2.0_f64) {
        let within = |choice: &Vec<usize>| problem.worst_error_stops(choice) <= tolerance + SAME_WORST;
        let least = every_choice(&problem).iter().filter(|choice| within(choice)).map(|choice| problem.energy_j(choice)).fold(f64::INFINITY, f64::min);
        let found = search(&problem, Prefer::LeastEnergy { tolerance_stops: tolerance }, Budget::NONE);
        prop_assert!(found.proven);
        if least.is_finite() {
            prop_assert!(within(&found.choice));
            prop_assert!((found.score.energy_j - least).abs() <= 1e-9 * least.max(1.0), "{:?} {least}", found.score);
            prop_assert_eq!(found.bound, Bound::EnergyJ(found.score.energy_j));
        } else {
            // Out of reach: the most accurate answer instead.
            prop_assert!((found.score.worst - brute_force(&problem).worst).abs() <= 2.0 * SAME_WORST);
        }
    }

    #[test]
    fn a_tolerance_is_reached_where_brute_force_reaches_it(problem in problem(), tolerance in 0.01..2.0_f64) {
        let reached = every_choice(&problem).iter().any(|choice| problem.worst_error_stops(choice) <= tolerance);
        prop_assert_eq!(reaches(&problem, tolerance, Budget::NONE).within, Some(reached));
    }

    #[test]
    fn a_cut_search_gives_an_honest_bound(problem in problem(), nodes in 0_u64..6) {
        let best = brute_force(&problem);
        let found = search(&problem, Prefer::Accuracy, Budget { nodes, ..Budget::NONE });
        let Bound::WorstStops(bound) = found.bound else { panic!("a bound on the worst error") };
        prop_assert!(bound <= best.worst + SAME_WORST);
        prop_assert!(found.score.worst >= best.worst - SAME_WORST);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn many_lights_on_few_points_are_proven(
        gains in prop::collection::vec(prop::collection::vec((-2.0..3.0_f64).prop_map(f64::exp2), 5..8), 1..3),
        target in (-2.0..3.0_f64).prop_map(f64::exp2),
    ) {
        let count = gains.iter().map(Vec::len).min().expect("points");
        let power: Vec<f64> = (0..71).map(|k| (-f64::from(k) / 10.0).exp2()).collect();
        let levels = Levels { energy_j: power.iter().map(|power| power * 300.0).collect(), power };
        let points = gains.into_iter().map(|gain| {
            Point { gain: gain[..count].to_vec(), ambient: 0.0, target, weight: 1.0 }
        });
        let problem = Problem { lights: vec![levels; count], points: points.collect() };
        // Ties abound: the budget is for a slow machine.
        let found = search(&problem, Prefer::Accuracy, Budget { nodes: 500, ..Budget::NONE });
        let Bound::WorstStops(bound) = found.bound else { panic!("a bound on the worst error") };
        prop_assert!(bound <= found.score.worst);
        prop_assert_eq!(problem.score(&found.choice), found.score);
        let least = search(&problem, Prefer::LeastEnergy { tolerance_stops: 0.3 }, Budget { nodes: 500, ..Budget::NONE });
        prop_assert!(least.score.energy_j <= found.score.energy_j * (1.0 + 1e-9) || found.score.worst > 0.3);
    }
}
