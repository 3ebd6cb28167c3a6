//! Moves one light nearer or farther. A light with a position moves in space, along the line from its aim (from its
//! first point if it has no aim). Without a position, all its distances change in proportion. Either way the set is
//! prepared again with the rounded values of the remedy: every distance, angle, beam and face is recomputed.

use crate::light::{
    balance::{
        remedies::{SizedRemedy, Trials},
        setup::Set,
        work::may_reach,
    },
    quantity::{Metres, bounds, significant, units::Units},
    remedy::{Action, By, Change, Remedy},
    set::{
        Contribution, Geometry, Optics, Origin, Scene,
        geometry::{Position, minus},
    },
};

/// The number of distances to try in each direction, in twelfths of a doubling: a sixth of a stop each, four stops in
/// all.
const TWELFTHS: i32 = 24;
/// Margin within the tolerance for rounding, stops: a distance is given to six digits.
const MARGIN: f64 = 1e-4;
/// From this distance on, a position is rounded to the centimetre, below it to the millimetre, m.
const FAR: f64 = 1.0;

/// How one light may be moved.
enum Move {
    /// In space, along a line.
    Space {
        /// The light's present position.
        from: Position,
        /// The start of the line.
        anchor: Position,
        /// The point at which the line starts; the light's aim if `None`.
        point: Option<String>,
    },
    /// By its distances, all in proportion. Remedies give the first.
    Distances {
        /// The first distance.
        first: Metres,
    },
}

/// A light's new place, rounded as in the remedy.
struct Moved {
    /// The set with the moved light.
    set: Set,
    /// The new distance, from the anchor or to the first point.
    to: Metres,
    /// The new position, if the light has one.
    position: Option<Position>,
}

/// One light nearer or farther, by the smallest factor that works.
pub fn distance(trials: &Trials<'_>, light: usize) -> Option<SizedRemedy> {
    let set = &trials.question.set;
    let how = Move::for_light(trials, light)?;
    let from = how.distance();
    let factors = (1..=TWELFTHS).flat_map(|k| [-k, k]).map(|k| (f64::from(k) / 12.0).exp2());
    let moved = factors
        .take_while(|_| trials.work.has_budget())
        .filter_map(|factor| how.scaled(set, light, factor, from))
        .find(|moved| is_feasible(trials, light, moved, &how))?;
    let name = set.scene.lights[light].name.clone();
    let (units, then) = (set.units, trials.then(None));
    let action = match &how {
        Move::Space { point, .. } => {
            Action::MoveInSpace { light: name, from, line_from_point: point.clone(), units, then }
        }
        Move::Distances { .. } => {
            let distances = distances(&moved.set, &name);
            Action::MoveByDistances { light: name, from, distances, units, then }
        }
    };
    let by = match moved.position {
        Some(position) => By::distance(moved.to, set.units).at(position),
        None => By::distance(moved.to, set.units),
    };
    let size = 2.0 * (moved.to.get() / from.get()).log2().abs();
    Some((size, Remedy { change: Change::Distance, by, action }))
}

/// Whether the set with the moved light is feasible and within the limits.
fn is_feasible(trials: &Trials<'_>, light: usize, moved: &Moved, how: &Move) -> bool {
    let limits = &trials.question.set.limits;
    if !limits.allows_distance(moved.to.get()) || !may_be_feasible(trials, light, &moved.set) {
        return false;
    }
    if !trials.works_with_set(&moved.set, MARGIN) {
        return false;
    }
    match how {
        Move::Space { .. } => true,
        // The photographer sets the other distances as rounded in the sentence, so those must work too.
        Move::Distances { .. } => match rounded(&moved.set, light) {
            Some(rounded) => trials.works_with_set(&rounded, MARGIN),
            None => true,
        },
    }
}

/// A quick check before the search: whether each point alone could still be within the tolerance, and the light is
/// within the distance limits of every point.
fn may_be_feasible(trials: &Trials<'_>, light: usize, set: &Set) -> bool {
    // A light's own gains do not depend on the other lights.
    let moved = set.scene.lights[light].clone();
    let own = set.scene.contributions.iter().filter(|c| c.light == moved.name).cloned().collect();
    let alone = Scene { lights: vec![moved], contributions: own, ambient: Vec::new(), ..set.scene.clone() };
    let mut faults = Vec::new();
    let lit = alone.light(&mut faults);
    let limits = &set.limits;
    let is_within =
        lit.placements.iter().all(|(.., placement)| limits.allows_distance(placement.distance.get()));
    if !faults.is_empty() || !is_within {
        return false;
    }
    let pops = f64::from(set.controls[light].pops);
    let changed = trials.changed(trials.question.ratio, |problem| {
        for (point, gain) in problem.points.iter_mut().zip(&lit.gain) {
            point.gain[light] = gain[0].typical * pops;
        }
    });
    changed.is_some_and(|problem| may_reach(&problem, trials.question.tolerance.get()))
}

impl Move {
    /// How a light may be moved. `None` if it was metered (a reading does not say how far the light was), if it lights
    /// nothing, if it has both positions and distances, or if it has several positions.
    fn for_light(trials: &Trials<'_>, light: usize) -> Option<Self> {
        let scene = &trials.question.set.scene;
        let moved = &scene.lights[light];
        let own = || scene.contributions.iter().filter(|c| c.light == moved.name);
        let placed = own().map(|c| match &c.origin {
            Origin::Placement { geometry, optics } => Some((geometry, optics)),
            Origin::Reading { .. } => None,
        });
        let placed: Option<Vec<(&Geometry, &Optics)>> = placed.collect();
        let placed = placed?;
        let (first, _, placement) = trials.prepared.lit.placements.iter().find(|(_, of, _)| *of == light)?;
        if placed.iter().any(|(geometry, _)| matches!(geometry, Geometry::Distance { .. })) {
            let all = trials.prepared.lit.placements.iter().filter(|(_, of, _)| *of == light);
            let has_only_distances =
                placed.iter().all(|(geometry, _)| matches!(geometry, Geometry::Distance { .. }));
            // Points that have a position but no placement are lit from the light's own position.
            let has_all_distances = all.count() == placed.len();
            return (has_only_distances && has_all_distances)
                .then_some(Self::Distances { first: placement.distance });
        }
        let stated = placed.iter().filter_map(|(geometry, _)| match geometry {
            Geometry::Position(position) => *position,
            Geometry::Distance { .. } => None,
        });
        let mut positions = moved.position.into_iter().chain(stated);
        let from = positions.next()?;
        if positions.any(|other| other != from) {
            return None;
        }
        let aim = moved.optics.aim.or_else(|| placed.iter().find_map(|(_, optics)| optics.aim));
        let (anchor, point) = match aim {
            Some(aim) => (aim, None),
            None => (scene.points[*first].position?, Some(scene.points[*first].name.clone())),
        };
        Some(Self::Space { from, anchor, point })
    }

    /// The light's present distance.
    fn distance(&self) -> Metres {
        match self {
            Self::Space { from, anchor, .. } => distance_between(*anchor, *from),
            Self::Distances { first } => *first,
        }
    }

    /// The set with a light at `factor` times its distance, rounded as in the remedy. `None` if that place is out of
    /// bounds or rounds to the present one.
    fn scaled(&self, set: &Set, light: usize, factor: f64, from: Metres) -> Option<Moved> {
        match self {
            Self::Space { from: present, anchor, .. } => {
                let is_far = from.get() * factor >= FAR;
                let per_metre = if is_far { 100.0 } else { 1000.0 };
                let along = minus(present.0, anchor.0).map(|part| part * factor);
                let to: [f64; 3] = std::array::from_fn(|axis| {
                    ((anchor.0[axis] + along[axis]) * per_metre).round() / per_metre
                });
                if to.iter().any(|&part| bounds::COORDINATE.check(part).is_err()) {
                    return None;
                }
                let to = Position(to.map(significant));
                let distance = distance_between(*anchor, to);
                (to != *present).then(|| Moved {
                    set: with_position(set, light, to),
                    to: distance,
                    position: Some(to),
                })
            }
            Self::Distances { first } => {
                let to = set.units.moved(*first, Metres::new_unchecked(first.get() * factor));
                let to = Metres::new_unchecked(significant(to.get()));
                let factor = to.get() / first.get();
                let set = with_distances(set, light, |distance| distance.get() * factor)?;
                Some(Moved { set, to, position: None })
            }
        }
    }
}

fn distance_between(a: Position, b: Position) -> Metres {
    let [x, y, z] = minus(a.0, b.0);
    Metres::new_unchecked(x.hypot(y).hypot(z))
}

/// The set with a light at another position, which replaces the light's own and those of its placements.
fn with_position(set: &Set, light: usize, to: Position) -> Set {
    let mut set = set.clone();
    let moved = &mut set.scene.lights[light];
    if moved.position.is_some() {
        moved.position = Some(to);
    }
    let name = moved.name.clone();
    for contribution in contributions_of(&mut set.scene.contributions, &name) {
        if let Origin::Placement { geometry: Geometry::Position(Some(position)), .. } =
            &mut contribution.origin
        {
            *position = to;
        }
    }
    set
}

/// The set with a light's distances changed; `None` if one is out of bounds.
fn with_distances(set: &Set, light: usize, change: impl Fn(Metres) -> f64) -> Option<Set> {
    let mut set = set.clone();
    let name = set.scene.lights[light].name.clone();
    for contribution in contributions_of(&mut set.scene.contributions, &name) {
        if let Origin::Placement { geometry: Geometry::Distance { distance, .. }, .. } =
            &mut contribution.origin
        {
            *distance = Metres::new(change(*distance)).ok()?;
        }
    }
    Some(set)
}

/// The contributions of a light.
fn contributions_of<'c>(
    all: &'c mut [Contribution],
    name: &str,
) -> impl Iterator<Item = &'c mut Contribution> {
    all.iter_mut().filter(move |contribution| contribution.light == name)
}

/// The set with a light's distances rounded as in a sentence; `None` if that changes nothing or is out of bounds.
fn rounded(set: &Set, light: usize) -> Option<Set> {
    let units: Units = set.units;
    let rounded = with_distances(set, light, |distance| units.rounded(distance).get())?;
    (rounded != *set).then_some(rounded)
}

/// The distances of a light with their points, the first one first; empty if all are equal.
fn distances(set: &Set, light: &str) -> Vec<(String, Metres)> {
    let own = set.scene.contributions.iter().filter(|contribution| contribution.light == light);
    let distances = own.filter_map(|contribution| match contribution.origin {
        Origin::Placement { geometry: Geometry::Distance { distance, .. }, .. } => {
            Some((contribution.point.clone(), distance))
        }
        _ => None,
    });
    let distances: Vec<(String, Metres)> = distances.collect();
    let is_even = distances.windows(2).all(|pair| pair[0].1 == pair[1].1);
    if is_even { Vec::new() } else { distances }
}
