//! The search against brute force over every combination.

mod packs;
mod sides;

use proptest::prelude::*;

use crate::light::balance::{
    clock::{Budget, Clock},
    one_group,
    problem::{Levels, Point, Problem, SAME_WORST, Score, Sides},
    search::{Bound, Objective, reaches, search},
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

/// The best score of all choices: least worst error, then least sum of squares, then least energy.
fn brute_force(problem: &Problem) -> Score {
    let scores: Vec<Score> = every_choice(problem).iter().map(|choice| problem.score(choice)).collect();
    let worst = scores.iter().map(|score| score.worst).fold(f64::INFINITY, f64::min);
    let tied: Vec<&Score> = scores.iter().filter(|score| score.worst <= worst + SAME_WORST).collect();
    let squares = tied.iter().map(|score| score.squares).fold(f64::INFINITY, f64::min);
    let tied = tied.iter().filter(|score| score.squares <= squares + 1e-9);
    let energy_j = tied.map(|score| score.energy_j).fold(f64::INFINITY, f64::min);
    Score { worst, squares, energy_j }
}

/// Changes a problem into a special case: equal lights, proportional lights, a light that reaches nothing, a light with
/// one setting, a point that no light reaches, a point that one light reaches, equal lights with different energy.
fn special(problem: Problem, kind: u8, share: f64) -> Problem {
    let mut problem = problem;
    let lights = problem.lights.len();
    let add_copy = |problem: &mut Problem, share: f64, levels: Levels| {
        problem.lights.push(levels);
        problem.points.iter_mut().for_each(|point| point.gain.push(point.gain[0] * share));
    };
    let first = problem.lights[0].clone();
    match kind {
        0 => add_copy(&mut problem, 1.0, first),
        1 => {
            add_copy(&mut problem, 1.0, first.clone());
            add_copy(&mut problem, 1.0, first);
        }
        2 => add_copy(&mut problem, share, first),
        3 => problem.points.iter_mut().for_each(|point| point.gain[lights - 1] = 0.0),
        4 => {
            let levels = &mut problem.lights[lights - 1];
            levels.power.truncate(1);
            levels.energy_j.truncate(1);
        }
        5 => {
            let point = &mut problem.points[0];
            point.gain.fill(0.0);
            point.ambient = point.target * 0.1;
        }
        6 => {
            let point = &mut problem.points[0];
            point.weight = 0.01;
            point.gain.truncate(1);
            point.gain.resize(lights, 0.0);
        }
        // Equal lights with different energy.
        _ => {
            let energy_j = first.energy_j.iter().map(|energy| energy * share).collect();
            add_copy(&mut problem, 1.0, Levels { energy_j, ..first });
        }
    }
    problem
}

fn special_problem() -> impl Strategy<Value = Problem> {
    let small = (1_usize..4, 1_usize..6).prop_flat_map(|(lights, points)| {
        (prop::collection::vec(levels(), lights), prop::collection::vec(point(lights), points))
            .prop_map(|(lights, points)| Problem { lights, points })
    });
    (small, 0_u8..8, prop_oneof![Just(2.0), 0.3..3.0_f64])
        .prop_map(|(problem, kind, share)| special(problem, kind, share))
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
        .prop_map(|(gain, ambient, target, weight)| Point {
            gain,
            ambient,
            target,
            sides: Sides::Both,
            weight,
        })
}

fn problem() -> impl Strategy<Value = Problem> {
    (1_usize..5, 1_usize..7).prop_flat_map(|(lights, points)| {
        (prop::collection::vec(levels(), lights), prop::collection::vec(point(lights), points))
            .prop_map(|(lights, points)| Problem { lights, points })
    })
}

/// Found by chance: two lights in proportion at all points but one, no settings within the tolerance.
#[test]
fn the_most_accurate_answer_beyond_the_tolerance_is_found() {
    let levels = |power: &[f64]| Levels {
        power: power.to_vec(),
        energy_j: power.iter().map(|power| 50.0 * power).collect(),
    };
    let four = [1.0, 0.933_032_991_536_807_4, 0.870_550_563_296_124_1, 0.812_252_396_356_235_5, 0.0];
    let point = |gain: [f64; 3], target: f64, weight: f64| Point {
        gain: gain.to_vec(),
        ambient: 0.0,
        target,
        sides: Sides::Both,
        weight,
    };
    let problem = Problem {
        lights: vec![levels(&four), levels(&[1.0, 0.0]), levels(&four)],
        points: vec![
            point([0.166_852_512_774_010_86, 0.0, 0.276_598_178_610_060_25], 1.0, 1.0),
            point([0.485_393_027_581_251_97, 1.0, 0.804_655_711_243_860_5], 14.675_432_811_746_767, 1.0),
            point([4.316_368_678_145_123, 0.0, 7.155_419_446_403_551], 11.876_397_378_807_77, 1.0),
            point(
                [0.339_231_203_394_131_5, 3.541_651_657_052_912, 0.562_357_326_398_807_6],
                0.519_748_198_976_786_5,
                1.266_640_162_576_096,
            ),
        ],
    };
    let best = brute_force(&problem);
    for objective in [Objective::Accuracy, Objective::LeastEnergy { tolerance_stops: 0.05 }] {
        let found = search(&problem, objective, Budget::NONE);
        assert!(
            (found.score.worst - best.worst).abs() <= 2.0 * SAME_WORST,
            "{objective:?} {:?} {best:?} {:?}",
            found.score,
            found.choice
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn the_search_finds_what_brute_force_finds(problem in prop_oneof![problem(), special_problem()]) {
        let best = brute_force(&problem);
        let found = search(&problem, Objective::Accuracy, Budget::NONE);
        // Five lights on one point have too many ties.
        prop_assert!(found.proven && (found.ties_proven || problem.lights.len() > 4));
        prop_assert!((found.score.worst - best.worst).abs() <= 2.0 * SAME_WORST, "{:?} {best:?}", found.score);
        prop_assert_eq!(found.bound, Bound::WorstStops(found.score.worst));
        prop_assert!((found.score.squares - best.squares).abs() <= 1e-8, "{:?} {best:?}", found.score);
        prop_assert!((found.score.energy_j - best.energy_j).abs() <= 1e-6 * best.energy_j.max(1.0), "{:?} {best:?}", found.score);
        let score = problem.score(&found.choice);
        prop_assert_eq!(score, found.score);
    }

    #[test]
    fn the_least_energy_is_what_brute_force_finds(problem in prop_oneof![problem(), special_problem()], tolerance in 0.05..2.0_f64) {
        let within = |choice: &Vec<usize>| problem.worst_error_stops(choice) <= tolerance + SAME_WORST;
        let least = every_choice(&problem).iter().filter(|choice| within(choice)).map(|choice| problem.energy_j(choice)).fold(f64::INFINITY, f64::min);
        let found = search(&problem, Objective::LeastEnergy { tolerance_stops: tolerance }, Budget::NONE);
        prop_assert!(found.proven);
        if least.is_finite() {
            prop_assert!(within(&found.choice));
            prop_assert!((found.score.energy_j - least).abs() <= 1e-9 * least.max(1.0), "{:?} {least}", found.score);
            prop_assert_eq!(found.bound, Bound::EnergyJ(found.score.energy_j));
        } else {
            // If the tolerance cannot be met, the search returns the most accurate answer.
            prop_assert!((found.score.worst - brute_force(&problem).worst).abs() <= 2.0 * SAME_WORST);
        }
    }

    #[test]
    fn a_tolerance_is_reached_if_brute_force_reaches_it(problem in problem(), tolerance in 0.01..2.0_f64) {
        let reached = every_choice(&problem).iter().any(|choice| problem.worst_error_stops(choice) <= tolerance);
        prop_assert_eq!(reaches(&problem, tolerance, Budget::NONE).within, Some(reached));
    }

    #[test]
    fn a_search_cut_short_gives_a_valid_bound(problem in problem(), nodes in 0_u64..6) {
        let best = brute_force(&problem);
        let found = search(&problem, Objective::Accuracy, Budget { nodes, ..Budget::NONE });
        let Bound::WorstStops(bound) = found.bound else { panic!("a bound on the worst error") };
        prop_assert!(bound <= best.worst + SAME_WORST);
        prop_assert!(found.score.worst >= best.worst - SAME_WORST);
    }
}

/// Equal lights on one scale, and three points; targets are up to half a stop from the light of random powers.
fn equal_lights(lights: usize, power: Vec<f64>, seed: u64) -> Problem {
    let mut state = seed;
    let mut stops = |low: f64, high: f64| {
        // A linear congruential generator (Knuth's MMIX, from memory) is good enough for targets.
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (low + (high - low) * (state >> 11) as f64 / (1_u64 << 53) as f64).exp2()
    };
    let levels = Levels { energy_j: power.iter().map(|power| power * 500.0).collect(), power };
    let sum: f64 = (0..lights).map(|_| stops(-4.0, -0.5)).sum();
    let points = (0..3).map(|_| {
        let gain = stops(-2.0, 2.0);
        let target = gain * sum * stops(-0.5, 0.5);
        Point { gain: vec![gain; lights], ambient: 0.0, target, sides: Sides::Both, weight: 1.0 }
    });
    let points = points.collect();
    Problem { lights: vec![levels; lights], points }
}

/// Tenths of a stop below full power.
fn tenths(stops: u32) -> Vec<f64> {
    (0..=10 * stops).map(|k| (-f64::from(k) / 10.0).exp2()).collect()
}

/// The least and the most that points want of a sum of equal lights, stops.
fn wanted(problem: &Problem) -> [f64; 2] {
    let wanted = problem.points.iter().map(|point| (point.target / point.gain[0]).log2());
    wanted.fold([f64::INFINITY, f64::NEG_INFINITY], |[least, most], w| [least.min(w), most.max(w)])
}

#[test]
fn six_to_eight_equal_lights_are_proven_within_few_nodes() {
    for (lights, seed) in (6..=8).flat_map(|lights| (1..=3).map(move |seed| (lights, seed))) {
        let problem = equal_lights(lights, tenths(7), seed);
        let found = search(&problem, Objective::Accuracy, Budget { nodes: 20_000, ..Budget::NONE });
        assert!(found.proven, "{lights} lights, seed {seed}: {found:?}");
        // The bound for continuous power, derived separately: half the spread of the points' targets.
        let [least, most] = wanted(&problem);
        let bound = 0.5 * (most - least);
        // Neighbouring sums, of the 200 million of six lights, are about 1e-8 stop apart.
        assert!((bound - SAME_WORST..bound + 1e-7).contains(&found.score.worst), "{bound} {found:?}");
        assert!(found.choice.is_sorted(), "the first is the brightest: {:?}", found.choice);
    }
}

#[test]
fn eight_equal_lights_on_any_scale_are_proven() {
    // Tenths over five and eight stops, thirds over eight, per cent, and single joules of 600.
    let even = |full: u32, least: u32| -> Vec<f64> {
        (least..=full).rev().map(|part| f64::from(part) / f64::from(full)).collect()
    };
    let thirds: Vec<f64> = (0..=24).map(|k| (-f64::from(k) / 3.0).exp2()).collect();
    for power in [tenths(5), tenths(8), thirds, even(100, 1), even(600, 9)] {
        let problem = equal_lights(8, power.clone(), 1);
        let budget = Budget { nodes: 200_000, ..Budget::NONE };
        let found = search(&problem, Objective::Accuracy, budget);
        let [least, most] = wanted(&problem);
        let step = power[0] / power[1] - 1.0;
        assert!(found.proven, "{} settings: {found:?}", power.len());
        assert!(found.score.worst < 0.5 * (most - least) + step, "{} settings: {found:?}", power.len());
        // Energy is in proportion to power here, so the least is that of the least power within the tolerance.
        let found = search(&problem, Objective::LeastEnergy { tolerance_stops: 0.6 }, budget);
        let least_j = 500.0 * (most - 0.6).exp2();
        assert!(found.proven, "{} settings: {found:?}", power.len());
        let energy_j = found.score.energy_j;
        assert!(
            energy_j > least_j * (1.0 - 1e-8) && energy_j < least_j * (1.0 + step),
            "{least_j} {found:?}"
        );
        assert!(problem.worst_error_stops(&found.choice) <= 0.6 + SAME_WORST);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn lights_that_all_light_alike_give_what_brute_force_finds(
        levels in prop::collection::vec(levels(), 1..3),
        which in prop::collection::vec((0_usize..2, prop_oneof![Just(1.0), Just(0.7)]), 2..6),
        points in prop::collection::vec(point(1), 1..5),
        tolerance in 0.05..1.0_f64,
    ) {
        let lights: Vec<Levels> = which.iter().map(|(kind, _)| levels[kind % levels.len()].clone()).collect();
        let point = |point: Point| {
            let gain = which.iter().map(|(_, share)| share * point.gain[0]).collect();
            Point { gain, ..point }
        };
        let problem = Problem { lights, points: points.into_iter().map(point).collect() };
        prop_assume!(problem.points.iter().any(|point| point.gain[0] > 0.0));
        let group: Vec<usize> = (0..problem.lights.len()).collect();
        let first = vec![0; group.len()];
        let best = brute_force(&problem);
        let mut clock = Clock::new(Budget::NONE);
        let found = one_group::accuracy(&problem, &group, first.clone(), &mut clock);
        prop_assert!(found.proven);
        prop_assert!((found.score.worst - best.worst).abs() <= 2.0 * SAME_WORST, "{found:?} {best:?}");
        if found.ties_proven {
            prop_assert!((found.score.squares - best.squares).abs() <= 1e-8, "{found:?} {best:?}");
            prop_assert!((found.score.energy_j - best.energy_j).abs() <= 1e-6 * best.energy_j.max(1.0), "{found:?} {best:?}");
        }
        let within = |choice: &Vec<usize>| problem.worst_error_stops(choice) <= tolerance + SAME_WORST;
        let least = every_choice(&problem).iter().filter(|choice| within(choice)).map(|choice| problem.energy_j(choice)).fold(f64::INFINITY, f64::min);
        let found = one_group::least_energy(&problem, &group, tolerance + SAME_WORST, &first, &mut clock);
        prop_assert_eq!(found.is_some(), least.is_finite());
        if let Some(found) = found {
            prop_assert!(found.proven && within(&found.choice));
            prop_assert!((found.score.energy_j - least).abs() <= 1e-9 * least.max(1.0), "{found:?} {least}");
        }
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
            Point { gain: gain[..count].to_vec(), ambient: 0.0, target, sides: Sides::Both, weight: 1.0 }
        });
        let problem = Problem { lights: vec![levels; count], points: points.collect() };
        // There are very many ties. The budget suits a slow machine.
        let found = search(&problem, Objective::Accuracy, Budget { nodes: 500, ..Budget::NONE });
        let Bound::WorstStops(bound) = found.bound else { panic!("a bound on the worst error") };
        prop_assert!(bound <= found.score.worst);
        prop_assert_eq!(problem.score(&found.choice), found.score);
        let least = search(&problem, Objective::LeastEnergy { tolerance_stops: 0.3 }, Budget { nodes: 500, ..Budget::NONE });
        prop_assert!(least.score.energy_j <= found.score.energy_j * (1.0 + 1e-9) || found.score.worst > 0.3);
    }
}
