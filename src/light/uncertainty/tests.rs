//! Budgets against a long Monte Carlo by NumPy, and by hand.

use serde_json::Value;

use super::{
    Cause,
    budget::{Budget, Effect, Scope, Source, Whole, bounds},
};
use crate::light::quantity::Stops;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

fn numbers(value: &Value) -> Vec<f64> {
    list(value).iter().map(number).collect()
}

/// A source of each entry: a light or lights, and two half-widths.
fn sources(set: &Value, points: usize) -> Vec<Source> {
    let source = |scope, effects| Source { cause: Cause::Rating, scope, usual: None, effects };
    let on = |lights: &[usize], half_widths: [f64; 2]| {
        let effects = (0..points)
            .flat_map(|point| lights.iter().map(move |&light| Effect { point, light, half_widths }))
            .collect();
        source(Scope::Light, effects)
    };
    let widths = |entry: &Value| [number(&entry[1]), number(&entry[2])];
    let index = |value: &Value| value.as_u64().expect("an index") as usize;
    let own = list(&set["own"]).iter().map(|entry| on(&[index(&entry[0])], widths(entry)));
    let common = list(&set["common"]).iter().map(|entry| {
        let lights: Vec<usize> = list(&entry[0]).iter().map(index).collect();
        on(&lights, widths(entry))
    });
    let each = numbers(&set["each_point"]);
    let pairs = (0..points)
        .flat_map(|point| each.iter().enumerate().map(move |(light, width)| (point, light, *width)));
    let pairs = pairs.map(|(point, light, width)| {
        source(Scope::Pair, vec![Effect { point, light, half_widths: [width; 2] }])
    });
    own.chain(common).chain(pairs).collect()
}

fn budget(set: &Value) -> Budget {
    let with_ambient = |shares: &Value| numbers(shares).into_iter().chain([0.0]).collect();
    let shares: Vec<Vec<f64>> = list(&set["shares"]).iter().map(with_ambient).collect();
    let lights = (0..shares[0].len() - 1).map(|light| (format!("light {light}"), None)).collect();
    let sources = sources(set, shares.len());
    Budget::new(lights, shares, sources, Whole { half_width: number(&set["whole"]), usual: None })
}

/// The ends within 0.05 stop and the chances within 0.01 of 100,000 draws a set by NumPy (the version is in the data).
#[test]
fn ends_and_chances_are_those_of_a_long_monte_carlo() {
    let data: Value =
        serde_json::from_str(include_str!("../../../tests/data/uncertainty.json")).expect("JSON");
    let mut worst = [0.0_f64; 4];
    for set in list(&data["sets"]) {
        let budget = budget(set);
        let points = list(&set["shares"]).len();
        let mut ends_off = |found: [f64; 2], ends: &Value, slot: usize| {
            for (found, end) in found.into_iter().zip(numbers(ends)) {
                worst[slot] = worst[slot].max((found - end).abs());
            }
        };
        for point in 0..points {
            ends_off(budget.at(point).expect("light").ends(), &set["ends"][point], 0);
        }
        if points > 1 {
            ends_off(budget.between(points - 1, 0).expect("light").ends(), &set["ratio_ends"], 1);
        }
        let tolerance = Stops::new_unchecked(number(&set["tolerance"]));
        let bounds: Vec<[f64; 2]> =
            numbers(&set["errors"]).into_iter().map(|error| bounds(error, tolerance, [true; 2])).collect();
        let chances = budget.chances(&bounds);
        for (found, chance) in chances.points.iter().zip(numbers(&set["chances"])) {
            worst[2] = worst[2].max((found - chance).abs());
        }
        worst[3] = worst[3].max((chances.all - number(&set["chance"])).abs());
    }
    let [ends, ratios, chances, joint] = worst;
    println!("worst: ends {ends:.4}, ratios {ratios:.4}, chances {chances:.4}, joint {joint:.4}");
    assert!(ends < 0.05 && ratios < 0.05, "{worst:?}");
    assert!(chances < 0.01 && joint < 0.01, "{worst:?}");
}

fn two_lights(shares: Vec<Vec<f64>>, sources: Vec<Source>, whole: f64) -> Budget {
    let lights = ["key", "fill"].map(|name| (name.to_owned(), None)).to_vec();
    Budget::new(lights, shares, sources, Whole { half_width: whole, usual: None })
}

fn rating(lights: &[usize], points: usize, width: f64) -> Source {
    let effects = (0..points)
        .flat_map(|point| lights.iter().map(move |&light| Effect { point, light, half_widths: [width; 2] }))
        .collect();
    Source { cause: Cause::Rating, scope: Scope::Light, usual: None, effects }
}

/// By hand: parts of two equal lights' own add by squares, 0.2·√(2·0.5²); what they have in common adds.
#[test]
fn what_lights_have_in_common_adds_and_the_rest_by_squares() {
    let shares = || vec![vec![0.5, 0.5, 0.0]];
    let own = two_lights(shares(), vec![rating(&[0], 1, 0.2), rating(&[1], 1, 0.2)], 0.0);
    let common = two_lights(shares(), vec![rating(&[0, 1], 1, 0.2)], 0.0);
    let high = |budget: &Budget| budget.at(0).expect("light").high_stops.get();
    assert!((high(&own) - 0.2 * 0.5_f64.sqrt()).abs() < 1e-12);
    assert!((high(&common) - 0.2).abs() < 1e-12);
}

/// By hand: a common part and the meter cancel in a ratio; own parts count by the difference of the shares.
#[test]
fn what_points_have_in_common_cancels_in_a_ratio() {
    let shares = || vec![vec![0.75, 0.25, 0.0], vec![0.25, 0.75, 0.0]];
    let common = two_lights(shares(), vec![rating(&[0, 1], 2, 0.4)], 0.2);
    assert!(common.between(0, 1).is_none());
    let own = two_lights(shares(), vec![rating(&[0], 2, 0.1)], 0.2);
    let found = own.between(0, 1).expect("a part of its own");
    assert!((found.high_stops.get() - 0.05).abs() < 1e-12);
}

/// By hand: of a normal distribution with a half-width of 0.2 about an error of 0, 95 % are within 0.2.
#[test]
fn the_chance_of_the_half_width_is_95_per_cent() {
    let budget = two_lights(vec![vec![1.0, 0.0, 0.0], vec![1.0, 0.0, 0.0]], Vec::new(), 0.2);
    let chances = budget.chances(&[[-0.2, 0.2]; 2]);
    assert!((chances.points[0] - 0.95).abs() < 1e-4, "{chances:?}");
    // One part that both have in common is counted once.
    assert!((chances.all - 0.95).abs() < 1e-4, "{chances:?}");
    let dark = two_lights(vec![vec![1.0, 0.0, 0.0], vec![0.0; 3]], Vec::new(), 0.2);
    assert!(dark.chances(&[[-0.2, 0.2]; 2]).all == 0.0);
}

#[test]
fn a_light_metered_alone_leaves_its_reading() {
    let budget = two_lights(vec![vec![0.8, 0.2, 0.0]], vec![rating(&[0], 1, 1.0), rating(&[1], 1, 0.2)], 0.2);
    let found = [budget.at(0)];
    let advice = budget.advice(&found, 0.13).expect("advice");
    assert_eq!(advice.measurement, super::advice::Measurement::Light(0));
    // By hand: the reading, the fill and the meter by squares, each by its share.
    let left = (0.8_f64 * 0.13).hypot(0.2 * 0.2).hypot(0.2);
    assert!((advice.then - left).abs() < 0.01, "{advice:?}");
    assert!(advice.now > 0.8, "{advice:?}");
}

#[test]
fn a_prior_tells_common_from_own_and_point_from_point() {
    let mut sources = vec![rating(&[0, 1], 2, 0.5), rating(&[1], 2, 0.1)];
    let effects = vec![Effect { point: 1, light: 0, half_widths: [0.196; 2] }];
    sources.push(Source { cause: Cause::Distance, scope: Scope::Pair, usual: None, effects });
    let prior = two_lights(vec![vec![0.5, 0.5, 0.0]; 2], sources, 0.2).prior();
    let close = |found: f64, wanted: f64| assert!((found - wanted).abs() < 1e-9, "{found} {wanted}");
    close(prior.sources[0].deviations[1], 0.5 / 1.96);
    assert!(prior.sources[1].deviations[0] == 0.0);
    close(prior.pairs[1][0], 0.1);
    assert!(prior.pairs[0][0] == 0.0);
}
