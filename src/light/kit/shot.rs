//! The units of one shot, and how each fits its role.

use crate::light::{
    kit::{
        answer::{Miss, RoleResult},
        assign::{Pair, all_reached, assign},
        fit::{Fit, fit, headroom, reaches},
        heads::{assign_heads, can_reach_with_heads},
        question::{KitUnit, Role, Shot, Stock},
    },
    quantity::{Joules, Stops},
    set::packs::PackResult,
};

/// The units of one shot.
pub struct Assigned {
    /// The result of each role.
    pub lights: Vec<RoleResult>,
    /// The index of the unit of each role.
    pub units: Vec<Option<usize>>,
    /// The packs that are used.
    pub packs: Vec<PackResult>,
    /// Whether no assignment is better.
    pub is_best: bool,
}

impl Assigned {
    /// The unit of each role that has one.
    pub fn by_role(&self, shot: &Shot) -> Vec<(String, usize)> {
        let roles = shot.roles.iter().zip(&self.units);
        roles.filter_map(|(role, unit)| Some((role.name.clone(), (*unit)?))).collect()
    }
}

/// Assigns the units of one shot.
pub fn assign_shot(stock: Stock<'_>, shot: &Shot, before: &[(String, usize)], is_first: bool) -> Assigned {
    let moved = |role: &Role, unit: usize| {
        !is_first && !before.iter().any(|(name, assigned)| *name == role.name && *assigned == unit)
    };
    if stock.has_heads() {
        return with_heads(stock, shot, |role, unit| moved(&shot.roles[role], unit));
    }
    let kit = stock.kit;
    let headrooms = headrooms(kit, shot);
    let pair = |role: usize, unit: usize| {
        let fit = fit(&kit[unit], headrooms[role][unit]);
        Pair { short: fit.missed_by().abs(), headroom: fit.headroom, moved: moved(&shot.roles[role], unit) }
    };
    let pairs: Vec<Vec<Pair>> =
        (0..shot.roles.len()).map(|role| (0..kit.len()).map(|unit| pair(role, unit)).collect()).collect();
    let units = assign(&pairs);
    let roles = shot.roles.iter().zip(&headrooms).zip(&units);
    let lights = roles.map(|((role, headrooms), unit)| {
        let fits = |unit: usize| fit(&kit[unit], headrooms[unit]);
        let served = unit.map(|unit| Served { kit: &kit[unit], fit: fits(unit), moved: moved(role, unit) });
        role_result(role, served, || (0..kit.len()).map(|unit| fits(unit).missed_by()))
    });
    Assigned { lights: lights.collect(), units, packs: Vec::new(), is_best: true }
}

/// The same where units are heads on packs.
fn with_heads(stock: Stock<'_>, shot: &Shot, moved: impl Fn(usize, usize) -> bool) -> Assigned {
    let found = assign_heads(stock, shot, &moved);
    let pack_of = |unit: usize| stock.kit[unit].unit.head.map(|head| head.pack);
    let used: Vec<Option<usize>> = found.units.iter().map(|unit| unit.and_then(pack_of)).collect();
    let heads = |pack: usize| used.iter().filter(|used| **used == Some(pack)).count();
    let as_used = |unit: usize| {
        let mut own = stock.kit[unit].clone();
        if let Some(pack) = pack_of(unit) {
            own.unit.take_part(&stock.packs[pack], heads(pack));
        }
        own
    };
    let kit: Vec<Option<KitUnit>> = found.units.iter().map(|unit| unit.map(as_used)).collect();
    let lights = shot.roles.iter().enumerate().map(|(index, role)| {
        let (unit, kit, fit) = (found.units[index], kit[index].as_ref(), found.fits[index]);
        let served = unit.zip(kit).zip(fit);
        let served = served.map(|((unit, kit), fit)| Served { kit, fit, moved: moved(index, unit) });
        role_result(role, served, || found.alone[index].iter().map(Fit::missed_by))
    });
    let lights: Vec<RoleResult> = lights.collect();
    let packs = stock.packs.iter().enumerate().filter(|(index, _)| heads(*index) > 0);
    let packs = packs.map(|(index, pack)| {
        let on = || lights.iter().zip(&used).filter(|(_, used)| **used == Some(index));
        let settings = || on().filter_map(|(light, _)| light.setting.as_ref());
        let common = settings().next().filter(|_| pack.is_set_as_one());
        let energy = settings().filter_map(|setting| setting.energy_j).map(Joules::get).sum();
        PackResult::new(pack, common.map(|setting| setting.stops_below_full), energy)
    });
    Assigned { packs: packs.collect(), lights, units: found.units, is_best: found.is_complete }
}

/// The headroom of each unit for each role.
fn headrooms(kit: &[KitUnit], shot: &Shot) -> Vec<Vec<f64>> {
    shot.roles.iter().map(|role| kit.iter().map(|kit| headroom(kit, role, shot)).collect()).collect()
}

/// Whether all roles of a shot can be reached at once: cheaper than the best assignment.
pub fn can_reach(stock: Stock<'_>, shot: &Shot) -> bool {
    if stock.has_heads() {
        return can_reach_with_heads(stock, shot);
    }
    let reached =
        |headrooms: Vec<f64>| stock.kit.iter().zip(headrooms).map(|(kit, room)| reaches(kit, room)).collect();
    all_reached(&headrooms(stock.kit, shot).into_iter().map(reached).collect::<Vec<_>>())
}

/// A unit in a role.
struct Served<'k> {
    kit: &'k KitUnit,
    fit: Fit,
    moved: bool,
}

/// The result for a role, given its unit; without one, by how much each unit of the kit misses it.
fn role_result<M: Iterator<Item = f64>>(
    role: &Role,
    served: Option<Served<'_>>,
    missed: impl FnOnce() -> M,
) -> RoleResult {
    let (kit, fit) = (served.as_ref().map(|served| served.kit), served.as_ref().map(|served| served.fit));
    let (reason, missed_by) = match fit.as_ref().map(Fit::missed_by) {
        None => (Some(Miss::NoUnitLeft), missed().reduce(f64::max).unwrap_or_default().min(0.0)),
        Some(by) if by < 0.0 => (Some(Miss::TooWeak), by),
        Some(by) if by > 0.0 => (Some(Miss::TooStrong), by),
        Some(_) => (None, 0.0),
    };
    let stops = |of: fn(&Fit) -> f64| fit.as_ref().map(|fit| Stops::new_unchecked(of(fit)));
    RoleResult {
        role: role.name.clone(),
        role_id: role.id.clone(),
        unit: kit.map(|kit| kit.name.clone()),
        unit_id: kit.and_then(|kit| kit.id.clone()),
        setting: kit.zip(fit).map(|(kit, fit)| kit.unit.setting(fit.below)),
        error_stops: stops(|fit| fit.error),
        headroom_stops: stops(|fit| fit.headroom.max(0.0)),
        footroom_stops: stops(|fit| fit.footroom.max(0.0)),
        reason,
        shortfall_stops: Stops::new_unchecked((-missed_by).max(0.0)),
        excess_stops: Stops::new_unchecked(missed_by.max(0.0)),
        // Found for the answer only, and not for what is tried.
        uncertainty: None,
        chance_reached: None,
        moved: served.is_some_and(|served| served.moved),
    }
}
