//! How sure the light of each role is, and the chance that its unit reaches it.
//!
//! Each role of a shot is a point that gets the light of its unit alone. The true light of a unit is off by what the
//! [`Budget`] says; with its best setting it still reaches the role unless that is beyond its headroom or its footroom, and
//! what a check forgives at the ends. Heads of a pack that have one setting have to be alike besides. What units of one
//! name, modifiers of one kind and the meter have in common counts once.

use crate::light::{
    assumption::Assumption,
    kit::{
        answer::RoleResult,
        fit::{END_TOLERANCE, SAME},
        question::{KitQuestion, KitUnit, Shot},
    },
    quantity::{Number, Stops},
    set::Meter,
    uncertainty::{
        Uncertainty,
        budget::{Alike, Budget, Whole},
        sources::{Common, Rated, Sources},
        sureness,
    },
    unit::pack::Pack,
};

/// Beyond so many 95 % ends, which are five standard deviations, lies less than a millionth.
const FAR: f64 = 2.5;

/// How sure the roles of a shot are.
pub struct Sure {
    /// The chance that all are reached; `None` if one has no unit.
    pub chance: Option<Number>,
    /// The half-widths that were not stated and matter.
    pub assumptions: Vec<Assumption>,
}

/// A role with its unit.
struct Served<'q> {
    /// The index of the role.
    role: usize,
    kit: &'q KitUnit,
    /// Its pack, if that feeds other roles of the shot too.
    pack: Option<usize>,
    /// Its setting, stops below full.
    below: Stops,
    /// Its light against the target at the setting that it has, stops.
    error: f64,
    /// Between which its true light may lie against what is expected, stops.
    bounds: [f64; 2],
}

impl Served<'_> {
    /// Whether its light is within its bounds by far, whatever that of others is.
    fn is_sure(&self, uncertainty: Option<&Uncertainty>) -> bool {
        let [low, high] = uncertainty.map_or([0.0; 2], Uncertainty::ends);
        self.pack.is_none() && self.bounds[0] < FAR * low && self.bounds[1] > FAR * high
    }
}

/// Adds to the roles of a shot, given their units, the uncertainty of their light and the chance that they are reached.
pub fn add(question: &KitQuestion, shot: &Shot, units: &[Option<usize>], lights: &mut [RoleResult]) -> Sure {
    let served = served(question, units, lights);
    let budget_of_all = budget(question, shot, &served);
    for (point, own) in served.iter().enumerate() {
        let light = &mut lights[own.role];
        light.uncertainty = budget_of_all.at(point).map(Uncertainty::of_one_light);
        light.chance_reached = Some(Number::new_unchecked(1.0));
    }
    let has_all = served.len() == lights.len();
    // Only what is not sure is drawn.
    let unsure = served.into_iter().filter(|own| !own.is_sure(lights[own.role].uncertainty.as_ref()));
    let unsure: Vec<Served<'_>> = unsure.collect();
    let budget = budget(question, shot, &unsure);
    let alike = alike(question, lights, &unsure);
    for (point, own) in unsure.iter().enumerate() {
        // Heads with one setting are reached together, or not at all.
        let together = alike.iter().find(|alike| alike.points.iter().any(|(other, _)| *other == point));
        let chance = match together {
            Some(alike) => {
                let bounds: Vec<(usize, [f64; 2])> =
                    alike.points.iter().map(|(point, _)| (*point, unsure[*point].bounds)).collect();
                budget.chance_of_all(&bounds, std::slice::from_ref(alike))
            }
            None => budget.chance_at(point, own.bounds),
        };
        lights[own.role].chance_reached = Some(Number::new_unchecked(chance));
    }
    let bounds: Vec<(usize, [f64; 2])> = unsure.iter().map(|own| own.bounds).enumerate().collect();
    let all = if bounds.is_empty() { 1.0 } else { budget.chance_of_all(&bounds, &alike) };
    Sure {
        chance: has_all.then(|| Number::new_unchecked(all)),
        assumptions: sureness::usual(&budget_of_all).collect(),
    }
}

/// The roles that have a unit.
fn served<'q>(question: &'q KitQuestion, units: &[Option<usize>], lights: &[RoleResult]) -> Vec<Served<'q>> {
    let pack_of = |unit: usize| question.kit[unit].unit.head.map(|head| head.pack);
    let heads = |pack: usize| units.iter().flatten().filter(|unit| pack_of(**unit) == Some(pack)).count();
    let misses = |pack: usize| {
        let mut on = units.iter().zip(lights);
        on.any(|(unit, light)| unit.and_then(pack_of) == Some(pack) && light.is_missed())
    };
    let of_role = |(role, (unit, light)): (usize, (&Option<usize>, &RoleResult))| {
        let unit = (*unit)?;
        let kit = &question.kit[unit];
        let pack = pack_of(unit).filter(|pack| heads(*pack) > 1);
        // With one setting that does not do for all of them, heads have what light that gives.
        let is_fixed = pack.is_some_and(|pack| question.packs[pack].is_set_as_one() && misses(pack));
        let error = light.error_stops?.get();
        let below = light.setting.as_ref().map_or(Stops::ZERO, |setting| setting.stops_below_full);
        let half_click = kit.unit.half_click(below).get();
        let room = |stated: Option<Stops>, missed: f64| match stated.map_or(0.0, Stops::get) {
            spare if spare > 0.0 => spare,
            _ => missed.min(0.0),
        };
        // What its pack does not have for it, set apart from others, it does not have.
        let is_set_apart = pack.is_some_and(|pack| !question.packs[pack].is_set_as_one());
        let is_held_back = is_set_apart && error < -half_click - SAME;
        let above = if is_held_back { error } else { room(light.headroom_stops, error) };
        let bounds = if is_fixed {
            let forgiven = half_click.max(END_TOLERANCE);
            [-forgiven - error, forgiven - error]
        } else {
            [-above - END_TOLERANCE, room(light.footroom_stops, -error) + END_TOLERANCE]
        };
        Some(Served { role, kit, pack, below, error, bounds })
    };
    units.iter().zip(lights).enumerate().filter_map(of_role).collect()
}

/// What makes the light of the roles uncertain: a point for each, with one light.
fn budget(question: &KitQuestion, shot: &Shot, served: &[Served<'_>]) -> Budget {
    let mut sources = Sources::default();
    for (index, Served { role, kit, below, .. }) in served.iter().enumerate() {
        let (pair, role) = ((index, index), &shot.roles[*role]);
        sources.rated(
            pair,
            &Rated {
                unit: &kit.unit,
                filters: &role.filters,
                placement: &role.placement,
                shutter: shot.shutter,
                divided: divided(question, served, kit),
            },
        );
        sources.setting(pair, Common::Light(index), &kit.unit, kit.unit.power(*below));
        sources.repeatability(pair, &kit.unit);
        sources.geometry(pair, &role.placement);
    }
    let name = |own: &Served<'_>| (own.kit.name.clone(), own.kit.id.clone());
    let share = |point: usize| (0..=served.len()).map(|light| f64::from(u8::from(light == point))).collect();
    let (half_width, usual) = Meter::default().offset();
    Budget::new(
        served.iter().map(name).collect(),
        (0..served.len()).map(share).collect(),
        sources.into_all(),
        Whole { half_width, usual },
    )
}

/// The pack whose division a unit's light depends on.
fn divided<'q>(question: &'q KitQuestion, served: &[Served<'_>], kit: &KitUnit) -> Option<&'q Pack> {
    let pack = kit.unit.head?.pack;
    let heads = served.iter().filter(|own| own.kit.unit.is_on(pack)).count();
    Some(&question.packs[pack]).filter(|own| own.is_divided(heads))
}

/// The heads that have one setting, of packs all of whose roles are reached: their light may differ by twice what is forgiven.
fn alike(question: &KitQuestion, lights: &[RoleResult], served: &[Served<'_>]) -> Vec<Alike> {
    let packs = question.packs.iter().enumerate().filter(|(_, pack)| pack.is_set_as_one());
    let of_pack = |(index, pack): (usize, &Pack)| {
        let heads: Vec<(usize, &Served<'_>)> =
            served.iter().enumerate().filter(|(_, own)| own.pack == Some(index)).collect();
        let (_, first) = heads.first()?;
        let below = lights[first.role].setting.as_ref()?.stops_below_full;
        let half_click = pack.scale.half_click_of(below, |below| below).get();
        let is_reached = heads.iter().all(|(_, own)| !lights[own.role].is_missed());
        is_reached.then(|| Alike {
            points: heads.iter().map(|(point, own)| (*point, own.error)).collect(),
            within: 2.0 * half_click.max(END_TOLERANCE),
        })
    };
    packs.filter_map(of_pack).collect()
}
