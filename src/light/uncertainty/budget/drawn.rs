//! The light at each point by draws: each part by each light that it is about, what matters most first.

use std::{cell::OnceCell, collections::HashMap};

use super::{Budget, Effect, Scope};
use crate::light::uncertainty::draws::{self, Lattice};

/// The draws of a point.
#[derive(Debug, Clone)]
pub(super) struct DrawnPoint {
    /// The light against what is expected, stops, by the parts that are drawn.
    pub stops: Vec<f32>,
    /// What is of this point only, to the first order: the index of its draws, and its half-widths.
    pub own: (usize, [f64; 2]),
    /// The same with what is of this point only, once it is needed.
    with_own: OnceCell<Vec<f32>>,
}

impl DrawnPoint {
    const fn new(stops: Vec<f32>, own: (usize, [f64; 2])) -> Self {
        Self { stops, own, with_own: OnceCell::new() }
    }
}

/// What is drawn.
struct Drawn {
    /// The effects of each part.
    parts: Vec<Vec<Effect>>,
    /// The half-widths of what is of one point only, stops.
    at_points: Vec<[f64; 2]>,
}

/// What differs from point to point and is less than this is not drawn by itself, stops.
const SMALL: f64 = 0.35;
/// Effects that change the light at a point by less than this are not drawn, stops.
const NEGLIGIBLE: f64 = 1e-4;

impl Budget {
    pub(super) fn lattice(&self) -> Lattice {
        let lit = |shares: &Vec<f64>| shares.iter().filter(|share| **share > 0.0).count();
        Lattice::for_pairs(self.shares.iter().map(lit).sum())
    }

    pub(super) fn drawn(&self) -> &Vec<DrawnPoint> {
        self.drawn.get_or_init(|| self.draw())
    }

    /// Draws of the light at a point against what is expected, stops, without what all light has in common.
    pub(super) fn drawn_at(&self, point: usize) -> &[f32] {
        let DrawnPoint { stops, own: (part, half_widths), with_own } = &self.drawn()[point];
        with_own.get_or_init(|| {
            let mut stops = stops.clone();
            self.lattice().add(*part, &mut stops, *half_widths);
            stops
        })
    }

    fn draw(&self) -> Vec<DrawnPoint> {
        let columns = self.lights.len() + 1;
        let lattice = self.lattice();
        let Drawn { parts, at_points } = self.merged();
        let mut on_pairs: Vec<Vec<(usize, [f64; 2])>> = vec![Vec::new(); self.shares.len() * columns];
        for (index, part) in parts.iter().enumerate() {
            for effect in part {
                on_pairs[effect.point * columns + effect.light].push((index, effect.half_widths));
            }
        }
        // At most points the same parts reach a light, and its factor is kept.
        let none: &[(usize, [f64; 2])] = &[];
        let mut kept = vec![(none, vec![1.0; lattice.count()]); columns];
        let mut at_point = |point: usize| {
            let mut light = vec![0.0; lattice.count()];
            let mut lit = self.shares[point].iter().enumerate().filter(|(_, share)| **share > 0.0);
            let own = (parts.len() + 1 + point, at_points[point]);
            // The stops of a light that is alone are those of its parts.
            if let (Some((column, _)), None) = (lit.next(), lit.next()) {
                for (index, widths) in &on_pairs[point * columns + column] {
                    lattice.add(index + 1, &mut light, *widths);
                }
                return DrawnPoint::new(light, own);
            }
            for (column, share) in self.shares[point].iter().enumerate().filter(|(_, share)| **share > 0.0) {
                let own = on_pairs[point * columns + column].as_slice();
                let (of, factor) = &mut kept[column];
                if *of != own {
                    *of = own;
                    factor.fill(0.0);
                    // The first component is that of what all light has in common.
                    for (index, widths) in own {
                        lattice.add(index + 1, factor, *widths);
                    }
                    for stops in factor.iter_mut() {
                        *stops = draws::exp2(*stops);
                    }
                }
                let share = *share as f32;
                light.iter_mut().zip(factor).for_each(|(sum, factor)| *sum += share * *factor);
            }
            for light in &mut light {
                *light = draws::log2(*light);
            }
            DrawnPoint::new(light, own)
        };
        (0..self.shares.len()).map(&mut at_point).collect()
    }

    /// What is drawn: the effects of each source that can be felt, what matters most first, even parts that are about the
    /// same as one; and at each point what is small and differs from point to point, to the first order.
    fn merged(&self) -> Drawn {
        let share = |effect: &Effect| self.shares[effect.point][effect.light];
        let largest = |effect: &Effect| effect.half_widths[0].max(effect.half_widths[1]);
        let size = |effect: &Effect| share(effect) * largest(effect);
        let mut parts: Vec<Vec<Effect>> = Vec::new();
        let mut at_points = vec![[0.0_f64; 2]; self.shares.len()];
        let mut even: HashMap<Vec<(usize, usize)>, usize> = HashMap::new();
        for source in &self.sources {
            let felt: Vec<Effect> =
                source.effects.iter().filter(|effect| size(effect) > NEGLIGIBLE).copied().collect();
            let Some(first) = felt.first() else { continue };
            if source.scope == Scope::Pair && felt.len() == 1 && largest(first) < SMALL {
                for (sum, own) in at_points[first.point].iter_mut().zip(first.half_widths) {
                    *sum = sum.hypot(share(first) * own);
                }
                continue;
            }
            let [low, high] = first.half_widths;
            // Of several effects, only those of equal parts are in proportion.
            let is_even = (low - high).abs() < NEGLIGIBLE
                && felt.iter().all(|effect| {
                    let [own_low, own_high] = effect.half_widths;
                    (own_low - low).abs().max((own_high - high).abs()) < NEGLIGIBLE * NEGLIGIBLE
                });
            if !is_even {
                parts.push(felt);
                continue;
            }
            let about = felt.iter().map(|effect| (effect.point, effect.light)).collect();
            if let Some(&index) = even.get(&about) {
                for effect in &mut parts[index] {
                    effect.half_widths = effect.half_widths.map(|own| own.hypot(low));
                }
            } else {
                even.insert(about, parts.len());
                parts.push(felt);
            }
        }
        let weight = |part: &Vec<Effect>| part.iter().map(|effect| size(effect).powi(2)).sum::<f64>();
        parts.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
        Drawn { parts, at_points }
    }
}
