//! `/v1/kit/check` and `/v1/kit/compare`.

use std::collections::BTreeSet;

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing::{self, Picture},
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        kit::{self, KitCheck, KitComparison, KitQuestion, KitUnit, NamedKit, Role, Shot},
        quantity::{FNumber, Metres, Stops},
        set::{
            exposure::FlashExposure,
            limits::Limits,
            modifier::Modifier,
            placement::{Placement, Source},
        },
        unit::Unit,
    },
    request::{
        declare::request,
        field_schema::looks_like,
        fields::{Count, ExposureInput, Interval, PopCount, Pops, Price},
        place::At,
        reader::{Read, Reader, lists::Item},
        schema::{EntryId, Name},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(check_kit)).routes(routes!(compare_kits))
}

/// Maximum number of units in a kit, with `count` multiplied out.
const MAX_UNITS: usize = 64;

request! {
    /// A unit in the kit.
    pub(crate) struct KitUnitInput {
        /// The unit. An energy alone is not enough, since it does not give the light at a distance. The answer uses its name, or `unit 1` and so on if it has none.
        unit: Unit,
        /// How many of this unit the kit has; 1 if left out. Three are called `big`, `big #2`, `big #3`.
        count: Option<Count>,
    }
}

impl Item for KitUnitInput {
    const MAX: usize = MAX_UNITS;
    const PLURAL: &'static str = "units";
}

request! {
    /// A light in a role, with its target: exactly one of `f_number` and `stops`.
    struct RoleInput {
        /// The role, such as `key`; unique in the shot.
        role: String as Name,
        /// The f-number that a meter is to read at the subject from this light alone.
        f_number: Option<FNumber>,
        /// The same in stops relative to the working exposure.
        stops: Option<Stops>,
        /// Distance from the light to the subject.
        distance: Metres,
        /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
        modifier_stops: Option<Modifier>,
        /// The face of its modifier. The finite-source factor is then applied as well.
        source: Option<Source>,
        /// Flashes per exposure; 1 if left out.
        pops: Option<Pops>,
    }
    exactly one of "the light wanted": f_number | stops
}

impl Item for RoleInput {
    const MAX: usize = 16;
    const PLURAL: &'static str = "lights";
}

request! {
    /// A shot.
    struct ShotInput {
        /// Your own id for this entry, returned with its result.
        id: Option<String> as EntryId,
        /// Its name, 1 to 64 characters.
        name: String as Name,
        /// Its exposure.
        exposure: ExposureInput,
        /// Its lights; each is served by a single unit.
        lights: Vec<RoleInput>,
        /// Number of frames, for units whose battery charge is known; 1 if left out.
        pops: Option<PopCount>,
        /// Time between frames, s, for units whose recycle time is known. If `pops` is left out, any number of frames is assumed; with `pops` 1 there is no wait.
        seconds_between: Option<Interval>,
    }
}

looks_like!(Shot as ShotInput);

impl Read for Shot {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ShotInput::read(value, at, reader)?;
        let exposure = input.exposure.flash();
        let lights_at = At::Field(at, "lights");
        let mut roles: Vec<Role> = Vec::new();
        let mut names: Vec<String> = Vec::new();
        for (index, light) in input.lights.into_iter().enumerate() {
            let at = At::Index(&lights_at, index);
            reader.check_unique(&light.role, &mut names, &At::Field(&at, "role"));
            roles.extend(light.check(exposure));
        }
        let is_single = input.pops.as_ref().is_some_and(|pops| pops.0 == 1);
        Some(Self {
            id: input.id,
            name: input.name,
            exposure,
            roles,
            pops: input.pops.map_or(1, |pops| pops.0),
            seconds_between: input.seconds_between.filter(|_| !is_single).map(|interval| interval.0),
        })
    }

    fn expected() -> String {
        ShotInput::expected()
    }
}

impl Item for Shot {
    const MAX: usize = 64;
    const PLURAL: &'static str = "shots";
}

impl RoleInput {
    /// `None` if it does not state one light, which the reader has refused.
    fn check(self, exposure: FlashExposure) -> Option<Role> {
        let is_f_number = self.f_number.is_some();
        let aperture_squared = match (self.f_number, self.stops) {
            (Some(f_number), None) => f_number.squared(),
            (None, Some(stops)) => exposure.f_number.squared() * stops.factor(),
            _ => return None,
        };
        let mut placement = Placement::at(self.distance);
        placement.source = self.source;
        if let Some(modifier) = self.modifier_stops {
            placement.modifier = modifier.stops();
        }
        let kind = self.modifier_stops.and_then(Modifier::kind);
        let pops = self.pops.map_or(1, |pops| pops.0);
        let wanted = aperture_squared / f64::from(pops);
        Some(Role { name: self.role, wanted, pops, is_f_number, placement, modifier: kind })
    }
}

/// The units of a kit one by one, each with a unique name.
pub(crate) fn units(kit: Vec<KitUnitInput>, at: &At<'_>, reader: &mut Reader) -> Vec<KitUnit> {
    let mut units: Vec<KitUnit> = Vec::new();
    let mut names = BTreeSet::new();
    let mut total = 0;
    for (index, entry) in kit.into_iter().enumerate() {
        let name = entry.unit.name.clone().unwrap_or_else(|| format!("unit {}", index + 1));
        total += entry.count.map_or(1, |count| count.0 as usize);
        // Units over the limit are counted only.
        for _ in units.len()..total.min(MAX_UNITS) {
            // The first unused name: its own, then `name #2` and so on.
            let mut called = name.clone();
            let mut count = 1;
            while !names.insert(called.clone()) {
                count += 1;
                called = format!("{name} #{count}");
            }
            units.push(KitUnit { name: called, unit: entry.unit.clone(), entry: index });
        }
    }
    if total > MAX_UNITS {
        reader.push_fault::<()>(at, Fault::TooManyUnits { count: total, most: MAX_UNITS });
    }
    units
}

request! {
    /// A kit, and the shots to do with it.
    struct KitCheckRequest {
        /// The kit.
        kit: Vec<KitUnitInput>,
        /// The shots, in order.
        shots: Vec<Shot>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
}

impl Read for KitQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = KitCheckRequest::read(value, at, reader)?;
        Some(Self {
            kit: units(input.kit, &At::Field(at, "kit"), reader),
            shots: input.shots,
            limits: input.limits.unwrap_or_default(),
            step: reader.rules.step,
            units: reader.rules.units,
        })
    }
}

impl Calculation for KitQuestion {
    type Answer = KitCheck;
    const HEAVY: bool = true;
    const PICTURE: Option<fn(&Self, &KitCheck) -> Picture> = Some(drawing::kit);

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<KitCheck, Vec<InvalidPart>> {
        kit::check(self, interrupt)
    }
}

/// Check a kit
///
/// Whether a kit can do a shoot: which unit serves which role of each shot, at which setting, and how much power is to spare; or what is lacking, in stops, joules and guide number, with remedies. Every role is served by a single unit. The units are assigned so that as many roles as possible are reached, then the worst shortfall is smallest, then the fewest units move from shot to shot, then the tightest light has the most to spare. `summary` is a sentence for a booking page.
#[utoipa::path(post, path = "/v1/kit/check", tag = "planning", request_body = KitCheckRequest,
    responses((status = 200, description = "What the kit can do", body = KitCheck), Refusals))]
async fn check_kit(body: Body<KitQuestion>) -> Result<Response, Problem> {
    body.answer().await
}

request! {
    /// A kit with a name.
    struct NamedKitInput {
        /// Its name, such as that of a room, 1 to 64 characters.
        name: String as Name,
        /// Its price, in any currency or unit, the same for all kits.
        price: Option<Price>,
        /// The kit.
        kit: Vec<KitUnitInput>,
    }
}

impl Item for NamedKitInput {
    const MAX: usize = 16;
    const PLURAL: &'static str = "kits";
}

request! {
    /// Several kits, and the shots of one brief.
    struct KitCompareRequest {
        /// The kits.
        kits: Vec<NamedKitInput>,
        /// The shots of the brief, in order.
        shots: Vec<Shot>,
        /// Limits on the remedies that may be proposed.
        limits: Option<Limits>,
    }
}

pub(crate) struct KitCompareQuestion(Vec<NamedKit>, KitQuestion);

impl Read for KitCompareQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = KitCompareRequest::read(value, at, reader)?;
        let kits_at = At::Field(at, "kits");
        let kits = input.kits.into_iter().enumerate().map(|(index, entry)| {
            let at = At::Index(&kits_at, index);
            NamedKit {
                name: entry.name,
                price: entry.price.map(|price| price.0),
                kit: units(entry.kit, &At::Field(&at, "kit"), reader),
            }
        });
        let kits = kits.collect();
        let brief = KitQuestion {
            kit: Vec::new(),
            shots: input.shots,
            limits: input.limits.unwrap_or_default(),
            step: reader.rules.step,
            units: reader.rules.units,
        };
        Some(Self(kits, brief))
    }
}

impl Calculation for KitCompareQuestion {
    type Answer = KitComparison;
    const HEAVY: bool = true;

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<KitComparison, Vec<InvalidPart>> {
        let Self(kits, brief) = self;
        kit::compare(kits, brief, interrupt)
    }
}

/// Compare kits
///
/// Ranks several kits, such as those of a studio's rooms, for one brief: those that can do it come first, cheapest first if prices are given, each with the reason for its rank.
#[utoipa::path(post, path = "/v1/kit/compare", tag = "planning", request_body = KitCompareRequest,
    responses((status = 200, description = "The ranking", body = KitComparison), Refusals))]
async fn compare_kits(body: Body<KitCompareQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
