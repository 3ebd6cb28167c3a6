//! Moves one light nearer or farther. A light with a position moves in space, along the line from its aim (from its
//! first point if it has no aim). Without a position, all its distances change in proportion. Either way every distance,
//! angle, beam and face is computed anew.

use crate::light::{
    balance::{remedies::Trials, work::may_reach},
    error::{Entry, Field, Part},
    quantity::{Metres, Stops, bounds, significant},
    remedy::{Change, Edit, Named, NewValue, Sized, To, nearest},
    set::{Contribution, Geometry, Optics, Origin, Scene, geometry::Position, vector::minus},
};

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
        /// The index of the point at which the line starts; the light's aim if `None`.
        point: Option<usize>,
    },
    /// By its distances, all in proportion. The first is from this point.
    Distances {
        /// The first distance.
        first: Metres,
        /// The index of its point.
        point: usize,
    },
}

/// One light nearer or farther.
pub fn distance(trials: &Trials<'_>, light: usize) -> Option<Sized> {
    let how = Move::for_light(trials, light)?;
    let (from, units) = (how.distance(), trials.question.rules.units);
    // Two digits, and three where two do not do it.
    [2, 3].into_iter().find_map(|digits| {
        let places = units.distances_about(from, digits).into_iter();
        let places = places.filter_map(|to| Some((stops(from, to), how.edits(trials, light, to)?)));
        // The aim need not be a point of the set.
        let places = places.filter(|(_, edits)| {
            let after = how.distance_after(edits);
            after.is_some_and(|after| trials.question.limits.allows_distance(after.get()))
        });
        let (stops, edits, error) = nearest(places, |edits| {
            // A face or a board is summed anew for the quick check too.
            let may = trials.work.has_budget() && may_be_feasible(trials, light, edits);
            may.then(|| trials.answer(edits)).flatten()
        })?;
        let change = Change {
            subject: trials.question.scene.subject(light),
            by_stops: Some(Stops::new_unchecked(stops)),
            to: how.to(trials, &edits)?,
        };
        Some(trials.remedy(stops, Some(light), (vec![change], edits), error))
    })
}

/// The gain of light by a move, by the inverse-square law, stops.
fn stops(from: Metres, to: Metres) -> f64 {
    2.0 * (from.get() / to.get()).log2()
}

/// A quick check before the set is balanced: whether the light is in no body, within the distance limits of every point, and each
/// point alone could still be within the tolerance.
fn may_be_feasible(trials: &Trials<'_>, light: usize, edits: &[Edit]) -> bool {
    let changed = trials.question.scene.with(edits);
    let is_inside = |edit: &Edit| match edit.value {
        NewValue::Position(at) => changed.blockers.iter().any(|blocker| blocker.contains(at.0)),
        _ => false,
    };
    if edits.iter().any(is_inside) {
        return false;
    }
    // A light's own gains do not depend on the other lights.
    let own = changed.contributions.iter().filter(|it| it.light == light);
    let own = own.map(|it| Contribution { light: 0, ..it.clone() }).collect();
    let lights = vec![changed.lights[light].clone()];
    let alone = Scene { lights, contributions: own, ambient: Vec::new(), ratio: None, ..changed };
    let mut faults = Vec::new();
    let lit = alone.light(&mut faults);
    let limits = &trials.question.limits;
    let is_within =
        lit.placements.iter().all(|(.., placement)| limits.allows_distance(placement.distance.get()));
    if !faults.is_empty() || !is_within {
        return false;
    }
    // The targets of a ratio depend on the gains.
    if trials.question.scene.ratio.is_some() {
        return true;
    }
    let mut problem = trials.prepared.problem.clone();
    trials.regain(&mut problem, light, |point, _| lit.gain[point][0].typical);
    may_reach(&problem, trials.question.tolerance.get())
}

impl Move {
    /// How a light may be moved. `None` if it was metered, unless a placement or positions move what was metered at a
    /// distance; if it lights nothing, if it has both positions and distances, or if it has several positions.
    fn for_light(trials: &Trials<'_>, light: usize) -> Option<Self> {
        let scene = &trials.question.scene;
        let moved = &scene.lights[light];
        let own = || scene.contributions.iter().filter(|it| it.light == light);
        let is_moved = |it: &Contribution| trials.prepared.lit.moved[it.point][light];
        if own().any(|it| matches!(it.origin, Origin::Reading { .. }) && !is_moved(it)) {
            return None;
        }
        let placed = own().filter_map(|it| match &it.origin {
            Origin::Placement { geometry, optics } => Some((geometry, optics)),
            Origin::Reading { .. } => None,
        });
        let placed: Vec<(&Geometry, &Optics)> = placed.collect();
        let (point, _, placement) = trials.prepared.lit.placements.iter().find(|(_, of, _)| *of == light)?;
        let is_distance =
            |(geometry, _): &(&Geometry, &Optics)| matches!(geometry, Geometry::Distance { .. });
        if placed.iter().any(is_distance) {
            let all = trials.prepared.lit.placements.iter().filter(|(_, of, _)| *of == light);
            // Points that have a position but no placement are lit from the light's own position.
            let has_all_distances = placed.iter().all(is_distance) && all.count() == placed.len();
            return has_all_distances.then_some(Self::Distances { first: placement.distance, point: *point });
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
            None => (scene.points[*point].position?, Some(*point)),
        };
        Some(Self::Space { from, anchor, point })
    }

    /// The light's present distance.
    fn distance(&self) -> Metres {
        match self {
            Self::Space { from, anchor, .. } => distance_between(*anchor, *from),
            Self::Distances { first, .. } => *first,
        }
    }

    /// The light's distance after these edits.
    fn distance_after(&self, edits: &[Edit]) -> Option<Metres> {
        match (self, &edits.first()?.value) {
            (Self::Space { anchor, .. }, NewValue::Position(to)) => Some(distance_between(*anchor, *to)),
            (Self::Distances { .. }, NewValue::Metres(to)) => Some(*to),
            _ => None,
        }
    }

    /// What moves the light to a distance. `None` if that place is out of bounds or rounds to the present one.
    fn edits(&self, trials: &Trials<'_>, light: usize, to: Metres) -> Option<Vec<Edit>> {
        let (scene, units) = (&trials.question.scene, trials.question.rules.units);
        match self {
            Self::Space { from, anchor, .. } => {
                let to = along(*anchor, *from, to.get() / self.distance().get())?;
                let own = scene.lights[light].position.is_some();
                let own = own.then_some(Part::Light(light, Some(Field::Position)));
                let stated = entries(scene, light, |geometry| match geometry {
                    Geometry::Position(position) => *position,
                    Geometry::Distance { .. } => None,
                });
                let stated =
                    stated.into_iter().map(|(entry, _)| Part::Contribution(entry, Some(Field::Position)));
                Some(
                    own.into_iter()
                        .chain(stated)
                        .map(|part| Edit::new(part, NewValue::Position(to)))
                        .collect(),
                )
            }
            Self::Distances { first, .. } => {
                let factor = to.get() / first.get();
                let own = entries(scene, light, |geometry| match geometry {
                    Geometry::Distance { distance, .. } => Some(*distance),
                    Geometry::Position(_) => None,
                });
                let edit = |(entry, distance): (Entry, Metres)| {
                    let moved = Metres::new(units.measurable(distance.get() * factor)).ok()?;
                    Some(Edit::new(Part::Contribution(entry, Some(Field::Distance)), NewValue::Metres(moved)))
                };
                own.into_iter().map(edit).collect()
            }
        }
    }

    /// The change that these edits are.
    fn to(&self, trials: &Trials<'_>, edits: &[Edit]) -> Option<To> {
        let point = |point: usize| {
            let point = &trials.question.scene.points[point];
            Named::new(&point.name, point.id.as_ref())
        };
        let (from, units) = (self.distance(), trials.question.rules.units);
        match (self, &edits.first()?.value) {
            (Self::Space { anchor, point: start, .. }, NewValue::Position(to)) => Some(To::Position {
                from,
                distance: distance_between(*anchor, *to),
                to: *to,
                point: start.map(point),
                units,
            }),
            (Self::Distances { point: first, .. }, NewValue::Metres(to)) => Some(To::Distance {
                from,
                to: *to,
                point: Some(point(*first)),
                has_others: edits.len() > 1,
                units,
            }),
            _ => None,
        }
    }
}

/// The position on the line through two others, at a part of their distance, rounded; `None` if it is out of bounds or
/// the present one.
fn along(anchor: Position, from: Position, factor: f64) -> Option<Position> {
    let is_far = distance_between(anchor, from).get() * factor >= FAR;
    let per_metre = if is_far { 100.0 } else { 1000.0 };
    let line = minus(from.0, anchor.0).map(|part| part * factor);
    let to: [f64; 3] = std::array::from_fn(|axis| {
        significant(((anchor.0[axis] + line[axis]) * per_metre).round() / per_metre)
    });
    let is_allowed = to.iter().all(|&part| bounds::COORDINATE.check(part).is_ok());
    Some(Position(to)).filter(|to| is_allowed && *to != from)
}

/// The entries of a light with what `of` finds in their geometry, each once.
fn entries<T>(scene: &Scene, light: usize, of: impl Fn(&Geometry) -> Option<T>) -> Vec<(Entry, T)> {
    let own = scene.contributions.iter().filter(|it| it.light == light);
    let mut found: Vec<(Entry, T)> = own
        .filter_map(|it| match &it.origin {
            Origin::Placement { geometry, .. } => Some((it.entry, of(geometry)?)),
            Origin::Reading { .. } => None,
        })
        .collect();
    // An entry for several points is there once for each.
    found.dedup_by_key(|(entry, _)| *entry);
    found
}

fn distance_between(a: Position, b: Position) -> Metres {
    let [x, y, z] = minus(a.0, b.0);
    Metres::new_unchecked(x.hypot(y).hypot(z))
}
