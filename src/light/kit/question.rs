//! What a kit is asked: its units, and the shots with their roles.

use crate::light::{
    error::Part,
    id::{Id, NamedEntry},
    quantity::{Estimate, FNumber, Stops, rules::Rules},
    set::{
        exposure::FlashExposure,
        filter::{self, Filter},
        lens::Lens,
        limits::Limits,
        placement::Placement,
    },
    unit::{Unit, pack::Pack, shutter::Shutter},
};

/// Maximum number of units in a kit.
pub const MAX_UNITS: usize = 64;

/// A unit of the kit, with a name of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct KitUnit {
    /// Its name. Several units of one kind are named `big`, `big #2` and so on.
    pub name: String,
    /// The client's id for its entry, which all units of the entry share.
    pub id: Option<Id>,
    /// The unit.
    pub unit: Unit,
    /// The index of its entry in the kit.
    pub entry: usize,
}

impl KitUnit {
    /// Its name with its id.
    pub fn named(&self) -> NamedEntry {
        NamedEntry { name: self.name.clone(), id: self.id.clone() }
    }

    /// The part of the question that it is.
    pub const fn part(&self) -> Part {
        Part::KitUnit { kit: None, entry: self.entry }
    }
}

/// The units that there are, and the packs that heads among them are on.
#[derive(Debug, Clone, Copy)]
pub struct Stock<'k> {
    /// The units. A head has the energy and the guide number that it has alone with all of its pack's energy.
    pub kit: &'k [KitUnit],
    /// The packs.
    pub packs: &'k [Pack],
}

impl Stock<'_> {
    /// Whether there is a head on a pack.
    pub fn has_heads(self) -> bool {
        self.kit.iter().any(|kit| kit.unit.head.is_some())
    }
}

/// A role in a shot, and its target light.
#[derive(Debug, Clone, PartialEq)]
pub struct Role {
    /// Its name, unique in its shot.
    pub name: String,
    /// The client's id for the role.
    pub id: Option<Id>,
    /// Its target light.
    pub target: RoleTarget,
    /// Flashes in one exposure.
    pub pops: u32,
    /// Where its unit is placed.
    pub placement: Placement,
    /// The filters on its light.
    pub filters: Vec<Filter>,
}

/// The target light of a role, in the picture: what the lens takes counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RoleTarget {
    /// What would be set on the lens for this light alone.
    FNumber(FNumber),
    /// Stops relative to the working exposure.
    Stops(Stops),
}

impl Role {
    /// The light that each flash is to give, as N².
    pub fn wanted(&self, shot: &Shot) -> f64 {
        let in_picture = match self.target {
            RoleTarget::FNumber(f_number) => f_number.squared(),
            RoleTarget::Stops(stops) => shot.exposure.f_number.squared() * stops.factor(),
        };
        in_picture / shot.lens.stops(shot.exposure.f_number).exp2() / f64::from(self.pops)
    }

    /// The light of one flash of a unit at full power, as N²; `None` if it is not known. A lamp burns once, however often a
    /// flash would fire.
    pub fn light(&self, unit: &Unit, shot: &Shot) -> Option<Estimate<f64>> {
        let flashes = if unit.lamp.is_some() { f64::from(self.pops) } else { 1.0 };
        let part = filter::stops(&self.filters).exp2() / flashes;
        let through = unit.through(shot.shutter).ok()?;
        Some(self.placement.light(unit, shot.exposure.iso)?.map(|light| light * part).times(through))
    }

    /// That light over the square of the unit's guide number.
    pub fn transfer(&self, shot: &Shot) -> f64 {
        self.placement.transfer(shot.exposure.iso).typical * filter::stops(&self.filters).exp2()
    }
}

/// One shot of the brief.
#[derive(Debug, Clone, PartialEq)]
pub struct Shot {
    /// The shot's id from the request.
    pub id: Option<Id>,
    /// Its name.
    pub name: String,
    /// Its exposure.
    pub exposure: FlashExposure,
    /// The exposure time and the sync time.
    pub shutter: Shutter,
    /// What the lens takes.
    pub lens: Lens,
    /// Its roles.
    pub roles: Vec<Role>,
    /// Number of frames.
    pub frames: u32,
    /// Interval between frames, s.
    pub interval_s: Option<f64>,
}

/// A kit, and the shots to check it for.
#[derive(Debug, Clone, PartialEq)]
pub struct KitQuestion {
    /// The kit.
    pub kit: Vec<KitUnit>,
    /// The packs that heads of the kit are on.
    pub packs: Vec<Pack>,
    /// The shots, in order.
    pub shots: Vec<Shot>,
    /// Limits of remedies.
    pub limits: Limits,
    /// How numbers are read and written.
    pub rules: Rules,
}

impl KitQuestion {
    /// The units and packs.
    pub fn stock(&self) -> Stock<'_> {
        Stock { kit: &self.kit, packs: &self.packs }
    }
}
