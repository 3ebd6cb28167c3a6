//! `/v1/kit/check` and `/v1/kit/compare`.

use std::collections::BTreeSet;

use axum::response::Response;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    drawing::{self, Picture},
    endpoints::{calculation::Calculation, extract::Body},
    light::{
        error::FieldError,
        interrupt::Interrupt,
        kit::{self, KitCheck, KitComparison, KitUnit, NamedKit, Question, Role, Shot},
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
        fields::{
            Count, ExposureInput, Interval, LimitsInput, PopCount, Pops, Price, SourceInput, UnitInput,
        },
        place::At,
        reader::{Item, Read, Reader, reads},
        schema::{DistanceInput, EntryId, FNumberInput, ModifierInput, Name, StopsInput},
        value::Value,
    },
    server::{
        problem::{Problem, Refusals},
        state::Routes,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(check_kit)).routes(routes!(compare_kits))
}

/// Maximum number of units in a kit, with `count` multiplied out.
const UNITS_MOST: usize = 64;

/// A unit in the kit.
#[derive(ToSchema)]
pub(crate) struct KitUnitInput {
    /// The unit. An energy alone is not enough, since it does not give the light at a distance. The answer uses its name, or `unit 1` and so on if it has none.
    #[schema(value_type = UnitInput)]
    unit: Unit,
    /// How many of this unit the kit has; 1 if left out. Three are called `big`, `big #2`, `big #3`.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 64)]
    count: Option<Count>,
}
reads!(KitUnitInput { unit, count });

impl Item for KitUnitInput {
    const MOST: usize = UNITS_MOST;
    const WHAT: &'static str = "units";
}

/// A light in a role, with its target: exactly one of `f_number` and `stops`.
#[derive(ToSchema)]
struct RoleInput {
    /// The role, such as `key`; unique in the shot.
    #[schema(value_type = Name)]
    role: String,
    /// The f-number that a meter is to read at the subject from this light alone.
    #[schema(value_type = Option<FNumberInput>)]
    f_number: Option<FNumber>,
    /// The same in stops relative to the working exposure.
    #[schema(value_type = Option<StopsInput>)]
    stops: Option<Stops>,
    /// Distance from the light to the subject.
    #[schema(value_type = DistanceInput)]
    distance: Metres,
    /// The effect of its modifier relative to the unit's rating: stops, negative if it loses light, or a kind from `/v1/modifiers`.
    #[schema(value_type = Option<ModifierInput>)]
    modifier_stops: Option<Modifier>,
    /// The face of its modifier. The finite-source factor is then applied as well.
    #[schema(value_type = Option<SourceInput>)]
    source: Option<Source>,
    /// Flashes per exposure; 1 if left out.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1000)]
    pops: Option<Pops>,
}
reads!(RoleInput { role, f_number, stops, distance, modifier_stops, source, pops });

impl Item for RoleInput {
    const MOST: usize = 16;
    const WHAT: &'static str = "lights";
}

/// A shot.
#[derive(ToSchema)]
struct ShotInput {
    /// Your own id for this entry, returned with its result.
    #[schema(value_type = Option<EntryId>)]
    id: Option<String>,
    /// Its name, 1 to 64 characters.
    #[schema(value_type = Name)]
    name: String,
    /// Its exposure.
    exposure: ExposureInput,
    /// Its lights; each is served by a single unit.
    #[schema(min_items = 1, max_items = 16)]
    lights: Vec<RoleInput>,
    /// Number of frames, for units whose battery charge is known; 1 if left out.
    #[schema(value_type = Option<u32>, minimum = 1, maximum = 1_000_000)]
    pops: Option<PopCount>,
    /// Time between frames, s, for units whose recycle time is known. If `pops` is left out, any number of frames is assumed; with `pops` 1 there is no wait.
    seconds_between: Option<Interval>,
}
reads!(ShotInput { id, name, exposure, lights, pops, seconds_between });

impl Read for Shot {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = ShotInput::read(value, at, reader)?;
        let exposure = input.exposure.flash();
        let lights_at = At::Field(at, "lights");
        let mut roles: Vec<Role> = Vec::new();
        let mut names: Vec<String> = Vec::new();
        for (index, light) in input.lights.into_iter().enumerate() {
            let at = At::Index(&lights_at, index);
            reader.check_unique("role", &light.role, &mut names, &At::Field(&at, "role"));
            if let Some(role) = light.check(exposure, &at, reader) {
                roles.push(role);
            }
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
    const MOST: usize = 64;
    const WHAT: &'static str = "shots";
}

impl RoleInput {
    fn check(self, exposure: FlashExposure, at: &At<'_>, reader: &mut Reader) -> Option<Role> {
        let is_f_number = self.f_number.is_some();
        let aperture_squared = match (self.f_number, self.stops) {
            (Some(f_number), None) => f_number.squared(),
            (None, Some(stops)) => exposure.f_number.squared() * stops.factor(),
            _ => {
                return reader.push_fault(
                    at,
                    "the light wanted is told in exactly one way",
                    "exactly one of f_number, stops",
                );
            }
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
        let place = At::Index(at, index).place();
        let name = entry.unit.name.clone().unwrap_or_else(|| format!("unit {}", index + 1));
        total += entry.count.map_or(1, |count| count.0 as usize);
        // Units over the limit are counted only.
        for _ in units.len()..total.min(UNITS_MOST) {
            // The first unused name: its own, then `name #2` and so on.
            let mut called = name.clone();
            let mut count = 1;
            while !names.insert(called.clone()) {
                count += 1;
                called = format!("{name} #{count}");
            }
            units.push(KitUnit { name: called, unit: entry.unit.clone(), place: place.clone() });
        }
    }
    if total > UNITS_MOST {
        reader.push_fault::<()>(at, format!("the kit has {total} units"), format!("at most {UNITS_MOST}"));
    }
    units
}

/// A kit, and the shots to do with it.
#[derive(ToSchema)]
struct KitCheckRequest {
    /// The kit.
    #[schema(min_items = 1, max_items = 64)]
    kit: Vec<KitUnitInput>,
    /// The shots, in order.
    #[schema(value_type = Vec<ShotInput>, min_items = 1, max_items = 64)]
    shots: Vec<Shot>,
    /// Limits on the remedies that may be proposed.
    #[schema(value_type = Option<LimitsInput>)]
    limits: Option<Limits>,
}
reads!(KitCheckRequest { kit, shots, limits });

pub(crate) struct CheckedKitCheck(Question);

impl Read for CheckedKitCheck {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = KitCheckRequest::read(value, at, reader)?;
        Some(Self(Question {
            kit: units(input.kit, &At::Field(at, "kit"), reader),
            shots: input.shots,
            limits: input.limits.unwrap_or_default(),
            step: reader.rules.step,
            units: reader.rules.units,
        }))
    }
}

impl Calculation for CheckedKitCheck {
    type Answer = KitCheck;
    const HEAVY: bool = true;
    const PICTURE: Option<fn(&Self, &KitCheck) -> Picture> =
        Some(|request, answer| drawing::kit(&request.0, answer));

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<KitCheck, Vec<FieldError>> {
        kit::check(&self.0, interrupt)
    }
}

/// Check a kit
///
/// Whether a kit can do a shoot: which unit serves which role of each shot, at which setting, and how much power is to spare; or what is lacking, in stops, joules and guide number, with remedies. Every role is served by a single unit. The units are assigned so that as many roles as possible are reached, then the worst shortfall is smallest, then the fewest units move from shot to shot, then the tightest light has the most to spare. `summary` is a sentence for a booking page.
#[utoipa::path(post, path = "/v1/kit/check", tag = "planning", request_body = KitCheckRequest,
    responses((status = 200, description = "What the kit can do", body = KitCheck), Refusals))]
async fn check_kit(body: Body<CheckedKitCheck>) -> Result<Response, Problem> {
    body.answer().await
}

/// A kit with a name.
#[derive(ToSchema)]
struct NamedKitInput {
    /// Its name, such as that of a room, 1 to 64 characters.
    #[schema(value_type = Name)]
    name: String,
    /// Its price, in any currency or unit, the same for all kits.
    price: Option<Price>,
    /// The kit.
    #[schema(min_items = 1, max_items = 64)]
    kit: Vec<KitUnitInput>,
}
reads!(NamedKitInput { name, price, kit });

impl Item for NamedKitInput {
    const MOST: usize = 16;
    const WHAT: &'static str = "kits";
}

/// Several kits, and the shots of one brief.
#[derive(ToSchema)]
struct KitCompareRequest {
    /// The kits.
    #[schema(min_items = 1, max_items = 16)]
    kits: Vec<NamedKitInput>,
    /// The shots of the brief, in order.
    #[schema(value_type = Vec<ShotInput>, min_items = 1, max_items = 64)]
    shots: Vec<Shot>,
    /// Limits on the remedies that may be proposed.
    #[schema(value_type = Option<LimitsInput>)]
    limits: Option<Limits>,
}
reads!(KitCompareRequest { kits, shots, limits });

pub(crate) struct CheckedKitCompare(Vec<NamedKit>, Question);

impl Read for CheckedKitCompare {
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
        let brief = Question {
            kit: Vec::new(),
            shots: input.shots,
            limits: input.limits.unwrap_or_default(),
            step: reader.rules.step,
            units: reader.rules.units,
        };
        Some(Self(kits, brief))
    }
}

impl Calculation for CheckedKitCompare {
    type Answer = KitComparison;
    const HEAVY: bool = true;

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<KitComparison, Vec<FieldError>> {
        let Self(kits, brief) = self;
        kit::compare(kits, brief, interrupt)
    }
}

/// Compare kits
///
/// Ranks several kits, such as those of a studio's rooms, for one brief: those that can do it come first, cheapest first if prices are given, each with the reason for its rank.
#[utoipa::path(post, path = "/v1/kit/compare", tag = "planning", request_body = KitCompareRequest,
    responses((status = 200, description = "The ranking", body = KitComparison), Refusals))]
async fn compare_kits(body: Body<CheckedKitCompare>) -> Result<Response, Problem> {
    body.answer().await
}
