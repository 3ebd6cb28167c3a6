//! One light nearer or farther. A light with a position moves in space, along the line from its aim (from its first
//! point, where it has none); the distances of one without change in proportion. Either way the set is asked anew as
//! it is told: every distance, angle, beam and face is computed again.

use crate::light::{
    balance::{
        remedies::{Remedied, Trials},
        setup::Set,
        work::may_reach,
    },
    quantity::{Metres, bounds, significant, units::Units},
    remark::{By, Change, Remedy},
    set::{
        Contribution, Geometry, Known, Optics, Scene,
        geometry::{Position, minus},
    },
};

/// Steps of a distance: twelfths of a doubling, a sixth of a stop each, four stops either way.
const TWELFTHS: i32 = 24;
/// Room to the tolerance for the digits of what is told, stops: a distance is told to six.
const ROOM: f64 = 1e-4;
/// Farther than this, a position is told to the centimetre, else to the millimetre, m.
const FAR: f64 = 1.0;
/// Most distances that are told beside the first.
const TOLD: usize = 4;

/// How one light may be moved.
enum Move {
    /// In space, along a line from a place.
    Space {
        /// Where it stands.
        from: Position,
        /// Where the line begins.
        anchor: Position,
        /// What is there, in a sentence.
        what: String,
    },
    /// By its distances, of which the first is told.
    Distances {
        /// The first.
        first: Metres,
    },
}

/// A light's new place, as it is told.
struct Moved {
    /// The set with it.
    set: Set,
    to: Metres,
    position: Option<Position>,
}

/// One light nearer or farther by the least factor that does.
pub fn distance(trials: &Trials<'_>, light: usize) -> Option<Remedied> {
    let set = &trials.question.set;
    let how = Move::of(trials, light)?;
    let from = how.distance();
    let factors = (1..=TWELFTHS).flat_map(|k| [-k, k]).map(|k| (f64::from(k) / 12.0).exp2());
    let moved = factors
        .take_while(|_| trials.work.goes_on())
        .filter_map(|factor| how.by(set, light, factor, from))
        .find(|moved| does(trials, light, moved, &how))?;
    let name = &set.scene.lamps[light].name;
    let (from_said, to_said) = (set.units.said(from), set.units.said(moved.to));
    let anew = trials.anew(None);
    let detail = match (&how, moved.position) {
        (Move::Space { what, .. }, Some(position)) => {
            let [x, y, z] = position.0.map(significant);
            format!(
                "Move \"{name}\" along its line from {what}, from {from_said} to {to_said}: to the position [{x}, {y}, {z}] m{anew}."
            )
        }
        _ => {
            let others = others(&set.scene, &moved.set, light);
            format!("Move \"{name}\" from {from_said} to {to_said}{others}{anew}.")
        }
    };
    let by = match moved.position {
        Some(position) => By::distance(moved.to, set.units).at(position),
        None => By::distance(moved.to, set.units),
    };
    let size = 2.0 * (moved.to.get() / from.get()).log2().abs();
    Some((size, Remedy { change: Change::Distance, by, detail }))
}

/// Whether the set with the moved light is feasible, and keeps to the limits.
fn does(trials: &Trials<'_>, light: usize, moved: &Moved, how: &Move) -> bool {
    let limits = &trials.question.set.limits;
    if !limits.takes_distance(moved.to.get()) || !may_do(trials, light, &moved.set) {
        return false;
    }
    if !trials.works_as(&moved.set, ROOM) {
        return false;
    }
    match how {
        Move::Space { .. } => true,
        // Whoever measures the other distances sets them to what a sentence tells.
        Move::Distances { .. } => match rounded(&moved.set, light) {
            Some(rounded) => trials.works_as(&rounded, ROOM),
            None => true,
        },
    }
}

/// Whether the light that a moved light gives leaves every point a chance, and it stands within the limits to each.
fn may_do(trials: &Trials<'_>, light: usize, set: &Set) -> bool {
    // What it gives does not hang on the other lights.
    let lamp = set.scene.lamps[light].clone();
    let own = set.scene.contributions.iter().filter(|c| c.light == lamp.name).cloned().collect();
    let alone = Scene { lamps: vec![lamp], contributions: own, ambient: Vec::new(), ..set.scene.clone() };
    let mut faults = Vec::new();
    let lit = alone.light(&mut faults);
    let limits = &set.limits;
    let is_within =
        lit.placements.iter().all(|(.., placement)| limits.takes_distance(placement.distance.get()));
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
    /// How a light may be moved; none where a reading tells its light (it does not say how far the light was), where it
    /// lights nothing, or where it is told both ways, or at several places.
    fn of(trials: &Trials<'_>, light: usize) -> Option<Self> {
        let scene = &trials.question.set.scene;
        let lamp = &scene.lamps[light];
        let own = || scene.contributions.iter().filter(|c| c.light == lamp.name);
        let placed = own().map(|c| match &c.known {
            Known::Placement { stand, outfit } => Some((stand, outfit)),
            Known::Reading { .. } => None,
        });
        let placed: Option<Vec<(&Geometry, &Optics)>> = placed.collect();
        let placed = placed?;
        let (first, _, placement) =
            trials.prepared.lit.placements.iter().find(|(_, lamp, _)| *lamp == light)?;
        if placed.iter().any(|(stand, _)| matches!(stand, Geometry::Distance { .. })) {
            let all = trials.prepared.lit.placements.iter().filter(|(_, lamp, _)| *lamp == light);
            let is_all = placed.iter().all(|(stand, _)| matches!(stand, Geometry::Distance { .. }));
            // Points with a position that have no placement are lit from the light's own.
            let is_told = all.count() == placed.len();
            return (is_all && is_told).then_some(Self::Distances { first: placement.distance });
        }
        let told = placed.iter().filter_map(|(stand, _)| match stand {
            Geometry::Position(position) => *position,
            Geometry::Distance { .. } => None,
        });
        let mut positions = lamp.position.into_iter().chain(told);
        let from = positions.next()?;
        if positions.any(|other| other != from) {
            return None;
        }
        let aim = lamp.outfit.aim.or_else(|| placed.iter().find_map(|(_, outfit)| outfit.aim));
        let (anchor, what) = match aim {
            Some(aim) => (aim, "its aim".to_owned()),
            None => (scene.spots[*first].position?, format!("\"{}\"", scene.spots[*first].name)),
        };
        Some(Self::Space { from, anchor, what })
    }

    /// How far it is now, where its move begins.
    fn distance(&self) -> Metres {
        match self {
            Self::Space { from, anchor, .. } => apart(*anchor, *from),
            Self::Distances { first } => *first,
        }
    }

    /// The set with a light so many times as far, to what can be told; none where it cannot stand there.
    fn by(&self, set: &Set, light: usize, factor: f64, from: Metres) -> Option<Moved> {
        match self {
            Self::Space { from: stands, anchor, .. } => {
                let far = from.get() * factor >= FAR;
                let parts = if far { 100.0 } else { 1000.0 };
                let along = minus(stands.0, anchor.0).map(|part| part * factor);
                let to: [f64; 3] =
                    std::array::from_fn(|axis| ((anchor.0[axis] + along[axis]) * parts).round() / parts);
                if to.iter().any(|&part| bounds::COORDINATE.check(part).is_err()) {
                    return None;
                }
                let to = Position(to.map(significant));
                let told = apart(*anchor, to);
                (to != *stands).then(|| Moved { set: at(set, light, to), to: told, position: Some(to) })
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

fn apart(a: Position, b: Position) -> Metres {
    let [x, y, z] = minus(a.0, b.0);
    Metres::new_unchecked(x.hypot(y).hypot(z))
}

/// The set with a light at another position, wherever it was told.
fn at(set: &Set, light: usize, to: Position) -> Set {
    let mut set = set.clone();
    let lamp = &mut set.scene.lamps[light];
    if lamp.position.is_some() {
        lamp.position = Some(to);
    }
    let name = lamp.name.clone();
    for contribution in own(&mut set.scene.contributions, &name) {
        if let Known::Placement { stand: Geometry::Position(Some(position)), .. } = &mut contribution.known {
            *position = to;
        }
    }
    set
}

/// The set with a light's distances changed; none where one is out of bounds.
fn with_distances(set: &Set, light: usize, to: impl Fn(Metres) -> f64) -> Option<Set> {
    let mut set = set.clone();
    let name = set.scene.lamps[light].name.clone();
    for contribution in own(&mut set.scene.contributions, &name) {
        if let Known::Placement { stand: Geometry::Distance { distance, .. }, .. } = &mut contribution.known {
            *distance = Metres::new(to(*distance)).ok()?;
        }
    }
    Some(set)
}

fn own<'c>(all: &'c mut [Contribution], name: &str) -> impl Iterator<Item = &'c mut Contribution> {
    all.iter_mut().filter(move |contribution| contribution.light == name)
}

/// The set with a light's distances as sentences tell them; none where they are that already.
fn rounded(set: &Set, light: usize) -> Option<Set> {
    let units: Units = set.units;
    let rounded = with_distances(set, light, |distance| units.rounded(distance).get())?;
    (rounded != *set).then_some(rounded)
}

/// A moved light's other distances, in words.
fn others(before: &Scene, after: &Set, light: usize) -> String {
    let name = &before.lamps[light].name;
    let distances: Vec<(&str, Metres)> = after
        .scene
        .contributions
        .iter()
        .filter(|contribution| contribution.light == *name)
        .filter_map(|contribution| match contribution.known {
            Known::Placement { stand: Geometry::Distance { distance, .. }, .. } => {
                Some((contribution.point.as_str(), distance))
            }
            _ => None,
        })
        .collect();
    let Some(((first, nearest), others)) = distances.split_first() else { return String::new() };
    if others.iter().all(|(_, distance)| distance == nearest) {
        return String::new();
    }
    if others.len() > TOLD {
        return format!(" from \"{first}\", its other distances in proportion");
    }
    let told =
        others.iter().map(|(point, distance)| format!("{} from \"{point}\"", after.units.said(*distance)));
    format!(" from \"{first}\" (then {})", told.collect::<Vec<_>>().join(", "))
}
