//! One-sided targets and limits, against brute force.

use super::*;

fn sides() -> impl Strategy<Value = Sides> {
    prop_oneof![Just(Sides::Both), Just(Sides::AtMost), Just(Sides::AtLeast)]
}

/// Problems with one-sided targets and up to two limits. A limit takes some lights, at the same or at different sizes,
/// and lies between the least and the most that they take.
fn with_limits() -> impl Strategy<Value = Problem> {
    let limit = (prop::collection::vec((0_usize..3, 10.0..1000.0_f64), 8), any::<bool>(), 0.02..1.1_f64);
    let problem = prop_oneof![problem(), special_problem()];
    (problem, prop::collection::vec(sides(), 8), prop::collection::vec(limit, 0..3)).prop_map(
        |(mut problem, sides, limits)| {
            for (point, side) in problem.points.iter_mut().zip(sides) {
                point.sides = side;
            }
            for (taken, is_even, part) in limits {
                add_limit(&mut problem, &taken, is_even, part);
            }
            problem
        },
    )
}

fn add_limit(problem: &mut Problem, taken: &[(usize, f64)], is_even: bool, part: f64) {
    let size = |joules: f64| if is_even { 300.0 } else { joules };
    let gain: Vec<f64> = taken[..problem.lights.len()]
        .iter()
        .map(|&(which, joules)| if which > 0 { size(joules) } else { 0.0 })
        .collect();
    let sum = |of: fn(&Levels) -> f64| {
        problem.lights.iter().zip(&gain).map(|(levels, gain)| gain * of(levels)).sum::<f64>()
    };
    let least = sum(|levels| levels.power[levels.power.len() - 1]);
    let most = sum(|levels| levels.power[0]);
    let target = ((most - least) * part + least).max(1.0);
    problem.points.push(Point { gain, ambient: 0.0, target, sides: Sides::Limit, weight: 1.0 });
}

/// Whether a choice is within all limits, worked out without the search's own score.
fn is_allowed(problem: &Problem, choice: &[usize]) -> bool {
    let mut limits = problem.points.iter().filter(|point| point.sides == Sides::Limit);
    limits.all(|limit| problem.achieved(choice, limit) <= limit.target * (1.0 + 1e-9))
}

/// The worst weighted error of a choice, worked out without the search's own score.
fn worst(problem: &Problem, choice: &[usize]) -> f64 {
    let error = |point: &Point| {
        let stops = (problem.achieved(choice, point) / point.target).log2().max(-60.0);
        let counts = match point.sides {
            Sides::Both => true,
            Sides::AtMost => stops > 0.0,
            Sides::AtLeast => stops < 0.0,
            Sides::Limit => false,
        };
        if counts { point.weight * stops.abs() } else { 0.0 }
    };
    problem.points.iter().map(error).fold(0.0, f64::max)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(800))]

    #[test]
    fn one_sided_targets_and_limits_give_what_brute_force_finds(problem in with_limits(), tolerance in 0.05..2.0_f64) {
        let allowed: Vec<Vec<usize>> =
            every_choice(&problem).into_iter().filter(|choice| is_allowed(&problem, choice)).collect();
        let best = brute_force(&problem);
        let least = allowed.iter().map(|choice| worst(&problem, choice)).fold(f64::INFINITY, f64::min);
        prop_assert!((best.worst - least).abs() <= SAME_WORST);
        let found = search(&problem, Objective::Accuracy, Budget::NONE);
        prop_assert!(is_allowed(&problem, &found.choice));
        prop_assert!(found.proven && (found.ties_proven || problem.lights.len() > 4), "{found:?}");
        prop_assert!((found.score.worst - least).abs() <= 2.0 * SAME_WORST, "{:?} {best:?}", found.score);
        prop_assert_eq!(found.bound, Bound::WorstStops(found.score.worst));
        if found.ties_proven {
            prop_assert!((found.score.squares - best.squares).abs() <= 1e-8, "{:?} {best:?}", found.score);
            prop_assert!((found.score.energy_j - best.energy_j).abs() <= 1e-6 * best.energy_j.max(1.0), "{:?} {best:?}", found.score);
        }

        let within = |choice: &Vec<usize>| problem.worst_error_stops(choice) <= tolerance + SAME_WORST;
        let least = allowed.iter().filter(|choice| within(choice)).map(|choice| problem.energy_j(choice)).fold(f64::INFINITY, f64::min);
        prop_assert_eq!(reaches(&problem, tolerance, Budget::NONE).within, Some(least.is_finite()));
        let found = search(&problem, Objective::LeastEnergy { tolerance_stops: tolerance }, Budget::NONE);
        prop_assert!(found.proven && is_allowed(&problem, &found.choice));
        if least.is_finite() {
            prop_assert!(within(&found.choice));
            prop_assert!((found.score.energy_j - least).abs() <= 1e-9 * least.max(1.0), "{:?} {least}", found.score);
        } else {
            prop_assert!((found.score.worst - best.worst).abs() <= 2.0 * SAME_WORST);
        }
    }

    #[test]
    fn lights_that_light_alike_keep_to_sides_and_limits(
        levels in levels(),
        lights in 2_usize..6,
        points in prop::collection::vec((point(1), sides()), 1..5),
        part in 0.02..1.1_f64,
        tolerance in 0.05..1.0_f64,
    ) {
        let of_point = |(point, sides): (Point, Sides)| Point { gain: vec![point.gain[0]; lights], sides, ..point };
        let mut problem = Problem { lights: vec![levels; lights], points: points.into_iter().map(of_point).collect() };
        add_limit(&mut problem, &vec![(1, 300.0); lights], true, part);
        prop_assume!(problem.points[0].gain[0] > 0.0);
        let group: Vec<usize> = (0..lights).collect();
        let first = vec![0; lights];
        let best = brute_force(&problem);
        let mut clock = Clock::new(Budget::NONE);
        let found = one_group::accuracy(&problem, &group, first.clone(), &mut clock);
        prop_assert!(found.proven && is_allowed(&problem, &found.choice), "{found:?}");
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

/// Eight lights on eight points, each point mostly its own light's, no more than a little spill: with every second point
/// one-sided, and two packs.
#[test]
fn a_set_of_eight_on_two_packs_is_proven() {
    let power: Vec<f64> = (0..=60).map(|k| (-f64::from(k) / 10.0).exp2()).collect();
    let levels = Levels { energy_j: power.iter().map(|power| power * 500.0).collect(), power };
    let sides = [Sides::Both, Sides::AtMost, Sides::Both, Sides::AtLeast];
    let point = |p: usize| Point {
        gain: (0..8).map(|l| if l == p { 4.0 } else { 0.1 + 0.01 * ((3 * l + 5 * p) % 7) as f64 }).collect(),
        ambient: 0.0,
        target: 1.0 + 0.1 * (p % 5) as f64,
        sides: sides[p % 4],
        weight: 1.0,
    };
    let pack = |first: usize| Point {
        gain: (0..8).map(|l| if (first..first + 4).contains(&l) { 500.0 } else { 0.0 }).collect(),
        ambient: 0.0,
        target: 450.0,
        sides: Sides::Limit,
        weight: 1.0,
    };
    let points = (0..8).map(point).chain([pack(0), pack(4)]).collect();
    let problem = Problem { lights: vec![levels; 8], points };
    let found = search(&problem, Objective::Accuracy, Budget { nodes: 20_000, ..Budget::NONE });
    assert!(found.proven && is_allowed(&problem, &found.choice), "{found:?}");
}

/// All points are bright enough whatever the lights do: the least energy is the answer, and it is proven at once.
#[test]
fn among_many_perfect_choices_the_least_energy_is_found() {
    for shift in [0.0, 0.3] {
        let power: Vec<f64> = (0..=70).map(|k| (-f64::from(k) / 10.0).exp2()).collect();
        let levels = Levels { energy_j: power.iter().map(|power| power * 500.0).collect(), power };
        let point = |p: usize| Point {
            gain: (0..6).map(|l| 1.0 + shift * ((2 * l + 3 * p) % 5) as f64).collect(),
            ambient: 0.0,
            target: 40.0,
            sides: Sides::AtMost,
            weight: 1.0,
        };
        let problem = Problem { lights: vec![levels; 6], points: (0..4).map(point).collect() };
        let found = search(&problem, Objective::Accuracy, Budget { nodes: 20_000, ..Budget::NONE });
        assert!(found.proven && found.ties_proven, "{found:?}");
        assert_eq!(found.choice, [70; 6]);
        assert!(found.nodes < 1000, "{found:?}");
    }
}
