//! Assigns units to roles where some are heads on packs.
//!
//! Heads of a pack that share its energy or its setting cannot be rated one by one. So the ways to use each pack are listed:
//! one head alone, or several, each in a role. For each choice of a way for every pack the rest is assigned as without packs
//! (see [`super::assign`]), so that the best of all choices is the best of all assignments. Where there are too many, packs
//! with many heads take roles that want light alike, and packs are tried one after another.

use crate::light::{
    kit::{
        assign::{Assignment, Pair, assign, most_reached},
        choices::{arrangements, binomial, combinations},
        fit::{Fit, SAME, fit, headroom},
        question::{KitUnit, Shot, Stock},
        together::{greatest_tolerance, settle},
    },
    unit::{
        Unit,
        pack::{Pack, Split},
    },
};

/// The most ways to use one number of heads of a pack, over the number of packs; if there are more, some are left out.
const MOST_WAYS: u64 = 512;
/// The most choices of a way for every pack.
const MOST_CHOICES: usize = 4096;
/// The most rounds over all packs, if there are more choices.
const ROUNDS: usize = 2;
/// How many of equally good choices are compared to the end: that of small shots, and the work, pairs of role and unit.
const COMPARED: (usize, usize) = (64, 4096);

/// A head in a role beside others of its pack.
#[derive(Clone)]
struct Place {
    role: usize,
    unit: usize,
    fit: Fit,
}

/// How the heads of one pack are used.
#[derive(Clone)]
enum Way {
    /// Only this one, in any role or none.
    Alone(usize),
    /// Several at once.
    Together(Vec<Place>),
}

/// What an assignment is judged by; less is better, in this order: roles without a unit, roles that are not reached, the
/// worst error of those, moves, less the headroom of the tightest light, and the worst error of all.
#[derive(Clone, Copy)]
struct Rank([f64; 6]);

impl Rank {
    fn is_better(&self, than: &Self) -> bool {
        let differ = self.0.iter().zip(&than.0).find(|(a, b)| (*a - *b).abs() > SAME);
        differ.is_some_and(|(a, b)| a < b)
    }

    /// Whether it is no worse in anything.
    fn covers(&self, other: &Self) -> bool {
        self.0.iter().zip(&other.0).all(|(a, b)| *a <= *b + SAME)
    }

    /// That of roles, each with how its unit fits, and whether it has to move there.
    fn of<'f>(roles: impl Iterator<Item = Option<(&'f Fit, bool)>>) -> Self {
        let roles: Vec<Option<(&Fit, bool)>> = roles.collect();
        let served = || roles.iter().flatten();
        let missed = |(fit, _): &&(&Fit, bool)| !fit.reached;
        let worst = |of: fn(&Fit) -> f64| served().map(|(fit, _)| of(fit).abs()).fold(0.0, f64::max);
        let spare = served().filter(|fit| !missed(fit)).map(|(fit, _)| fit.headroom);
        let count = |count: usize| count as f64;
        Self([
            count(roles.len() - served().count()),
            count(served().filter(missed).count()),
            worst(Fit::missed_by),
            count(served().filter(|(_, moved)| *moved).count()),
            -spare.fold(60.0, f64::min),
            worst(|fit| fit.error),
        ])
    }
}

/// A pack with its heads in the kit.
struct Bank<'s> {
    pack: &'s Pack,
    heads: Vec<usize>,
    /// Whether any of them will do in the place of another.
    are_alike: bool,
    /// How far apart the headrooms of two heads may be for one setting to reach both, stops.
    widest: f64,
}

/// A shot, and every unit in every role, each head as if it were alone on its pack.
struct Trial<'s> {
    shot: &'s Shot,
    kit: Vec<KitUnit>,
    headrooms: Vec<Vec<f64>>,
    fits: Vec<Vec<Fit>>,
    moved: Vec<Vec<bool>>,
}

/// The best assignment that was found.
pub struct Found {
    /// The unit of each role.
    pub units: Assignment,
    /// How it fits there.
    pub fits: Vec<Option<Fit>>,
    /// How every unit would fit there if it were free, and alone on its pack.
    pub alone: Vec<Vec<Fit>>,
    /// Whether all ways to use the packs were compared.
    pub is_complete: bool,
}

/// The ways of every pack with heads whose choice matters.
struct Ways {
    /// By pack.
    all: Vec<Vec<Way>>,
    /// Whether none was left out.
    is_complete: bool,
}

/// Assigns the units of a shot. `moved` tells whether a unit would have to move to a role.
pub fn assign_heads(stock: Stock<'_>, shot: &Shot, moved: impl Fn(usize, usize) -> bool) -> Found {
    let trial = Trial::new(stock, shot, &moved);
    let ways = trial.ways(stock, false);
    let (choices, all_seen) = trial.choices(&ways);
    let most = (COMPARED.1 / (shot.roles.len() * stock.kit.len()).max(1)).clamp(4, COMPARED.0);
    let mut best: Option<(Rank, Assignment, Vec<Option<Fit>>)> = None;
    for choice in choices.iter().take(most) {
        let (units, fits) = trial.assigned(choice);
        let rank = trial.rank(&units, &fits);
        if best.as_ref().is_none_or(|(least, ..)| rank.is_better(least)) {
            best = Some((rank, units, fits));
        }
    }
    let nobody = || (vec![None; shot.roles.len()], vec![None; shot.roles.len()]);
    let (units, fits) = best.map_or_else(nobody, |(_, units, fits)| (units, fits));
    let is_complete = ways.is_complete && all_seen && choices.len() <= most;
    Found { units, fits, alone: trial.fits, is_complete }
}

/// Whether all roles of a shot can be reached at once: cheaper than the best assignment.
pub fn can_reach_with_heads(stock: Stock<'_>, shot: &Shot) -> bool {
    let trial = Trial::new(stock, shot, &|_, _| false);
    let ways = trial.ways(stock, true);
    let (choices, _) = trial.choices(&ways);
    choices.first().is_some_and(|choice| trial.missed(choice) == Some((0, 0)))
}

impl<'s> Trial<'s> {
    fn new(stock: Stock<'_>, shot: &'s Shot, moved: &dyn Fn(usize, usize) -> bool) -> Self {
        let mut kit = stock.kit.to_vec();
        for KitUnit { unit, .. } in &mut kit {
            if let Some(head) = unit.head {
                unit.take_part(&stock.packs[head.pack], 1);
            }
        }
        let of_role = |role| kit.iter().map(|kit| headroom(kit, role, shot)).collect();
        let headrooms: Vec<Vec<f64>> = shot.roles.iter().map(of_role).collect();
        let fits =
            headrooms.iter().map(|row| kit.iter().zip(row).map(|(kit, room)| fit(kit, *room)).collect());
        let moved = (0..shot.roles.len()).map(|role| (0..kit.len()).map(|unit| moved(role, unit)).collect());
        Self { shot, fits: fits.collect(), moved: moved.collect(), kit, headrooms }
    }

    /// The ways of each pack; none of a pack whose heads do not hinder each other, however they are used. If `all_reached`,
    /// only those in which every head that is used beside others reaches its role.
    fn ways(&self, stock: Stock<'_>, all_reached: bool) -> Ways {
        let on = |pack: usize| -> Vec<usize> {
            (0..self.kit.len()).filter(|&unit| self.kit[unit].unit.is_on(pack)).collect()
        };
        let packs = stock.packs.iter().enumerate().map(|(index, pack)| (pack, on(index)));
        let packs = packs.filter(|(pack, heads)| !heads.is_empty() && !self.are_free(pack, heads));
        let banks: Vec<Bank<'_>> = packs
            .map(|(pack, heads)| Bank {
                pack,
                are_alike: self.are_alike(pack, &heads),
                heads,
                widest: 2.0 * greatest_tolerance(&pack.scale),
            })
            .collect();
        let most_ways = MOST_WAYS / banks.len().max(1) as u64;
        let mut ways = Ways { all: Vec::new(), is_complete: true };
        for bank in &banks {
            let mut all: Vec<Way> = bank.heads.iter().map(|&head| Way::Alone(head)).collect();
            let most = bank.heads.len().min(bank.pack.outlets as usize).min(self.shot.roles.len());
            for heads in 2..=most {
                let (more, are_all) = self.together(bank, heads, most_ways, all_reached);
                all.extend(more);
                ways.is_complete &= are_all;
            }
            ways.all.push(all);
        }
        ways
    }

    /// Whether the heads of a pack are as good as units of their own: set apart, with an outlet and enough energy for each.
    fn are_free(&self, pack: &Pack, heads: &[usize]) -> bool {
        let Split::Each { most } = pack.split else { return false };
        self.can_be_plugged(pack, heads) && most.get() * heads.len() as f64 <= pack.energy.get()
    }

    /// Whether these heads have an outlet each.
    fn can_be_plugged(&self, pack: &Pack, heads: &[usize]) -> bool {
        let outlet = |head: &usize| self.kit[*head].unit.head.and_then(|head| head.outlet);
        let mut stated: Vec<u32> = heads.iter().filter_map(outlet).collect();
        let count = stated.len();
        stated.sort_unstable();
        stated.dedup();
        stated.len() == count && heads.len() <= pack.outlets as usize
    }

    /// Whether any head of a pack will do in the place of another.
    fn are_alike(&self, pack: &Pack, heads: &[usize]) -> bool {
        let bare = |unit: &usize| Unit { name: None, head: None, ..self.kit[*unit].unit.clone() };
        let has_outlet = |unit: &usize| self.kit[*unit].unit.head.is_some_and(|head| head.outlet.is_some());
        let mut units = heads.iter().map(bare);
        let first = units.next();
        !matches!(pack.split, Split::Shares(_))
            && !heads.iter().any(has_outlet)
            && units.all(|unit| first.as_ref() == Some(&unit))
    }

    /// The ways to use so many heads of a pack together, and whether these are all. Of ways for the same roles those that
    /// another covers are left out.
    fn together(&self, bank: &Bank<'_>, heads: usize, most_ways: u64, all_reached: bool) -> (Vec<Way>, bool) {
        let roles: Vec<usize> = (0..self.shot.roles.len()).collect();
        let orders: u64 = if bank.are_alike {
            1
        } else {
            (0..heads).map(|taken| (bank.heads.len() - taken) as u64).product()
        };
        let is_small = binomial(roles.len(), heads).saturating_mul(orders) <= most_ways;
        let groups = if is_small { combinations(&roles, heads) } else { self.neighbours(bank, heads) };
        let ways = groups.iter().flat_map(|roles| {
            let orders = if bank.are_alike || !is_small {
                vec![self.at_home(bank, roles)]
            } else {
                arrangements(&bank.heads, heads)
            };
            let mut kept: Vec<(Rank, Way)> = Vec::new();
            for units in orders {
                let Some((rank, way)) = self.way(bank, roles, &units, all_reached) else { continue };
                if !kept.iter().any(|(known, _)| known.covers(&rank)) {
                    kept.retain(|(known, _)| !rank.covers(known));
                    kept.push((rank, way));
                }
            }
            kept.into_iter().map(|(_, way)| way)
        });
        (ways.collect(), is_small)
    }

    /// Groups of so many roles that want light alike.
    fn neighbours(&self, bank: &Bank<'_>, heads: usize) -> Vec<Vec<usize>> {
        let mut roles: Vec<usize> = (0..self.shot.roles.len()).collect();
        let room = |role: &usize| bank.heads.first().map_or(0.0, |&head| self.headrooms[*role][head]);
        roles.sort_by(|a, b| room(a).total_cmp(&room(b)));
        roles.windows(heads).map(<[usize]>::to_vec).collect()
    }

    /// Heads for these roles: each that has served one before where it was, the rest in order.
    fn at_home(&self, bank: &Bank<'_>, roles: &[usize]) -> Vec<usize> {
        let mut free = bank.heads.clone();
        let mut take = |role: usize, any: bool| {
            let index = free.iter().position(|&unit| any || !self.moved[role][unit])?;
            Some(free.remove(index))
        };
        let homes: Vec<Option<usize>> = roles.iter().map(|&role| take(role, false)).collect();
        roles.iter().zip(homes).filter_map(|(&role, home)| home.or_else(|| take(role, true))).collect()
    }

    /// The way to use these heads in these roles, with what it is judged by. `None` if they cannot be used together, or not
    /// all of them reach their roles where they have to.
    fn way(
        &self,
        bank: &Bank<'_>,
        roles: &[usize],
        units: &[usize],
        all_reached: bool,
    ) -> Option<(Rank, Way)> {
        let pops = |role: &usize| self.shot.roles[*role].pops;
        let fire_alike = roles.windows(2).all(|pair| pops(&pair[0]) == pops(&pair[1]));
        if !self.can_be_plugged(bank.pack, units) || (bank.pack.is_set_as_one() && !fire_alike) {
            return None;
        }
        // An even share of the light: it is in proportion to the energy.
        let loss = if bank.pack.split == Split::Even { (units.len() as f64).log2() } else { 0.0 };
        let pairs = || roles.iter().copied().zip(units.iter().copied());
        let heads: Vec<(&KitUnit, f64)> =
            pairs().map(|(role, unit)| (&self.kit[unit], self.headrooms[role][unit] - loss)).collect();
        let rooms = || heads.iter().map(|(_, room)| *room);
        let spread = rooms().fold(f64::MIN, f64::max) - rooms().fold(f64::MAX, f64::min);
        if all_reached && bank.pack.is_set_as_one() && spread > bank.widest + SAME {
            return None;
        }
        let fits = settle(bank.pack, &heads)?;
        if all_reached && fits.iter().any(|fit| !fit.reached) {
            return None;
        }
        let rank =
            Rank::of(pairs().zip(&fits).map(|((role, unit), fit)| Some((fit, self.moved[role][unit]))));
        let places = pairs().zip(fits).map(|((role, unit), fit)| Place { role, unit, fit });
        Some((rank, Way::Together(places.collect())))
    }

    /// The choices of a way for each pack that leave the fewest roles without a unit, then the fewest that are not reached;
    /// and whether all choices were seen.
    fn choices<'w>(&self, ways: &'w Ways) -> (Vec<Vec<&'w Way>>, bool) {
        let count = ways.all.iter().try_fold(1_usize, |count, ways| count.checked_mul(ways.len()));
        if count.is_none_or(|count| count > MOST_CHOICES) {
            return (vec![self.one_by_one(ways)], false);
        }
        let mut best = None;
        let mut choices = Vec::new();
        for index in 0..count.unwrap_or_default() {
            let mut rest = index;
            let pick = |ways: &'w Vec<Way>| {
                let way = &ways[rest % ways.len()];
                rest /= ways.len();
                way
            };
            let choice: Vec<&Way> = ways.all.iter().map(pick).collect();
            let Some(missed) = self.missed(&choice) else { continue };
            if best.is_none_or(|best| missed < best) {
                best = Some(missed);
                choices.clear();
            }
            if best == Some(missed) {
                choices.push(choice);
            }
        }
        (choices, true)
    }

    /// A choice that no other way of one pack makes better.
    fn one_by_one<'w>(&self, ways: &'w Ways) -> Vec<&'w Way> {
        let mut choice: Vec<&Way> = ways.all.iter().map(|ways| &ways[0]).collect();
        let mut best = self.missed(&choice);
        for _ in 0..ROUNDS {
            let before = best;
            for (pack, ways) in ways.all.iter().enumerate() {
                for way in ways {
                    let own = std::mem::replace(&mut choice[pack], way);
                    match (self.missed(&choice), best) {
                        (Some(now), Some(least)) if now < least => best = Some(now),
                        _ => choice[pack] = own,
                    }
                }
            }
            if best == before {
                break;
            }
        }
        choice
    }

    /// How many roles a choice leaves without a unit, and how many of the others are not reached. `None` if two packs want
    /// one role.
    fn missed(&self, choice: &[&Way]) -> Option<(usize, usize)> {
        let mut is_taken = vec![false; self.shot.roles.len()];
        let mut unreached = 0;
        for place in places(choice) {
            if std::mem::replace(&mut is_taken[place.role], true) {
                return None;
            }
            unreached += usize::from(!place.fit.reached);
        }
        let units = self.free_units(choice);
        let roles = (0..is_taken.len()).filter(|role| !is_taken[*role]);
        let reached: Vec<Vec<bool>> =
            roles.map(|role| units.iter().map(|&unit| self.fits[role][unit].reached).collect()).collect();
        let served = reached.len().min(units.len());
        // Whoever is left takes a role that no unit reaches.
        Some((reached.len() - served, unreached + served - most_reached(&reached)))
    }

    /// The units that a choice leaves for any role: all but heads, those of packs whose heads do not hinder each other, and
    /// heads alone.
    fn free_units(&self, choice: &[&Way]) -> Vec<usize> {
        let heads = |way: &&Way| match way {
            Way::Alone(head) => Some(self.pack_of(*head)),
            Way::Together(places) => places.first().map(|place| self.pack_of(place.unit)),
        };
        let packs: Vec<Option<usize>> = choice.iter().filter_map(heads).collect();
        let is_alone =
            |unit: usize| choice.iter().any(|way| matches!(way, Way::Alone(head) if *head == unit));
        let is_free = |unit: &usize| {
            let pack = self.pack_of(*unit);
            pack.is_none() || !packs.contains(&pack) || is_alone(*unit)
        };
        (0..self.kit.len()).filter(is_free).collect()
    }

    fn pack_of(&self, unit: usize) -> Option<usize> {
        self.kit[unit].unit.head.map(|head| head.pack)
    }

    /// The best assignment with this choice.
    fn assigned(&self, choice: &[&Way]) -> (Assignment, Vec<Option<Fit>>) {
        let free = self.free_units(choice);
        let pair = |role: usize, unit: usize| {
            let mut in_role = places(choice).filter(|place| place.role == role);
            let fit = match in_role.next() {
                Some(place) => Some(&place.fit).filter(|_| place.unit == unit),
                None => Some(&self.fits[role][unit]).filter(|_| free.contains(&unit)),
            };
            fit.map_or(Pair::NONE, |fit| Pair {
                short: fit.missed_by().abs(),
                headroom: fit.headroom,
                moved: self.moved[role][unit],
            })
        };
        let roles = 0..self.shot.roles.len();
        let pairs: Vec<Vec<Pair>> =
            roles.map(|role| (0..self.kit.len()).map(|unit| pair(role, unit)).collect()).collect();
        let units = assign(&pairs);
        let fit = |(role, unit): (usize, &Option<usize>)| {
            let own = places(choice).find(|place| place.role == role).map(|place| place.fit);
            unit.map(|unit| own.unwrap_or(self.fits[role][unit]))
        };
        let fits = units.iter().enumerate().map(fit).collect();
        (units, fits)
    }

    fn rank(&self, units: &Assignment, fits: &[Option<Fit>]) -> Rank {
        let served = units.iter().zip(fits).enumerate();
        Rank::of(served.map(|(role, (unit, fit))| Some((fit.as_ref()?, self.moved[role][(*unit)?]))))
    }
}

/// The heads of a choice that are used beside others.
fn places<'c>(choice: &'c [&Way]) -> impl Iterator<Item = &'c Place> {
    choice.iter().flat_map(|way| match way {
        Way::Alone(_) => <&[Place]>::default(),
        Way::Together(places) => places.as_slice(),
    })
}

#[cfg(test)]
mod tests;
