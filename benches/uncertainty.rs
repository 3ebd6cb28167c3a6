//! What the uncertainty of a set costs: at most 1 ms on 6 lights by 5 points, 20 ms on 32 by 64.

use std::hint::black_box;

use divan::Bencher;
use stopwright::light::uncertainty::{
    Cause,
    budget::{Budget, Effect, Scope, Source, Whole},
};

fn main() {
    divan::main();
}

/// A set in which each light has two uneven parts of its own, three even ones, and one at each point.
fn sources(lights: usize, points: usize) -> Vec<Source> {
    let causes = [Cause::Rating, Cause::Modifier, Cause::Setting, Cause::Repeatability, Cause::Filter];
    let widths = [[0.8, 0.5], [0.7, 1.0], [0.1; 2], [0.06; 2], [0.1; 2]];
    let mut all = Vec::new();
    for light in 0..lights {
        for (cause, half_widths) in causes.into_iter().zip(widths) {
            let effects = (0..points).map(|point| Effect { point, light, half_widths }).collect();
            all.push(Source { cause, scope: Scope::Light, usual: None, effects });
        }
        for point in 0..points {
            for cause in [Cause::Distance, Cause::Angle] {
                let effects = vec![Effect { point, light, half_widths: [0.06, 0.062] }];
                all.push(Source { cause, scope: Scope::Pair, usual: None, effects });
            }
        }
    }
    all
}

#[divan::bench(args = [[6, 5], [8, 8], [32, 64]])]
fn a_set(bencher: Bencher<'_, '_>, [lights, points]: [usize; 2]) {
    let share = |point: usize, light: usize| 1.0 / (1 + (point + light) % lights) as f64;
    let shares: Vec<Vec<f64>> = (0..points)
        .map(|point| {
            let each: Vec<f64> = (0..lights).map(|light| share(point, light)).collect();
            let total: f64 = each.iter().sum();
            each.into_iter().map(|part| part / total).chain([0.0]).collect()
        })
        .collect();
    let names: Vec<_> = (0..lights).map(|light| (format!("light {light}"), None)).collect();
    let sources = sources(lights, points);
    bencher.bench(|| {
        let whole = Whole { half_width: 0.2, usual: None };
        let budget = Budget::new(names.clone(), shares.clone(), black_box(sources.clone()), whole);
        let found: Vec<_> = (0..points).map(|point| budget.at(point)).collect();
        let advice = budget.advice(&found, 0.13);
        (budget.chances(&vec![[-0.3, 0.3]; points]), budget.usual(0.1).len(), advice)
    });
}
