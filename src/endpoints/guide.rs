//! `/v1/guide-number/energy` and `/v1/energy/guide-number`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw},
        extract::Body,
    },
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        quantity::{GuideMetres, Joules, Stops, bounds, constants::CONSTANT_C},
        unit::{
            Unit,
            coverage::Coverage,
            guide::{self, Basis, EnergyEstimate, GuideEstimate, Known},
            reflectors::{self, AnyCoverage},
        },
    },
    request::{
        declare::request,
        fields::{ConstantC, Guide, Stated, Tolerance},
        options::Options,
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(estimate_energy)).routes(routes!(estimate_guide_number))
}

/// Declares a request for an estimate: the given value, and the fields that both requests share.
macro_rules! estimate_request {
    ($(#[doc = $doc:literal])+ $name:ident { $(#[doc = $given_doc:literal])+ $given:ident: $type:ty }) => {
        request! {
            $(#[doc = $doc])+
            struct $name {
                $(#[doc = $given_doc])+
                $given: $type,
                /// How far the value may be off, ± stops of light at 95 %, 0.001 to 4; exact if left out.
                plus_minus_stops: Option<Tolerance>,
                /// The beam coverage. If it is left out, and neither the guide number nor `against` states one, the estimate is made for the usual reflectors side by side, in `by_coverage`.
                coverage: Option<Coverage>,
                /// The setting at which the value holds, stops: 0 is full power (if left out), -2 a quarter. The answer is for full power, so an energy at a quarter counts four times.
                setting_stops: Option<Stops>,
                /// Your own assumption for the luminous efficacy, lm·s per J, 0.1 to 683.
                efficacy_lm_per_j: Option<Stated>,
                /// Your own assumption for the share of the lamp's light that falls within the coverage, 0.001 to 1. It needs the coverage.
                light_in_coverage: Option<Stated>,
                /// The incident-light meter constant C, 50 to 1000 lx·s; 250 if left out.
                constant_c: Option<ConstantC>,
                /// A known unit with the same kind of reflector, which states both energy and guide number. Efficacy and share then need not be assumed. Its light at full power is the measured one: `offset_stops` and `corrections` are applied.
                against: Option<Unit>,
            }
        }

        impl $name {
            fn common(&self) -> Common<'_> {
                Common {
                    plus_minus: self.plus_minus_stops.map(|it| it.0),
                    coverage: self.coverage,
                    setting: self.setting_stops.unwrap_or(Stops::ZERO),
                    efficacy: self.efficacy_lm_per_j,
                    share: self.light_in_coverage,
                    constant_c: self.constant_c.map_or(CONSTANT_C, |c| c.0),
                    against: self.against.as_ref(),
                }
            }
        }
    };
}

estimate_request!(
    /// Energy from a guide number.
    EnergyEstimateRequest {
        /// The guide number; it may state its coverage.
        guide_number: Guide
    }
);
estimate_request!(
    /// Guide number from an energy.
    GuideEstimateRequest {
        /// The energy that was stored for the flash, at `setting_stops`.
        energy: Joules
    }
);

/// What both requests share.
struct Common<'r> {
    plus_minus: Option<Stops>,
    coverage: Option<Coverage>,
    setting: Stops,
    efficacy: Option<Stated>,
    share: Option<Stated>,
    constant_c: f64,
    against: Option<&'r Unit>,
}

/// How to estimate: with assumptions for a coverage or for any, or by comparison with a known unit.
enum Method {
    Assume(Basis),
    AssumeAny(AnyCoverage),
    Compare { coverage: Option<Coverage>, known: Known, constant_c: f64 },
}

impl Common<'_> {
    fn check(
        &self,
        stated_coverage: Option<Coverage>,
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Option<(Method, Stops, f64)> {
        let stops = self.setting.get();
        let setting = if (-bounds::BELOW_FULL.greatest..=0.0).contains(&stops) {
            Some(self.setting)
        } else {
            reader.push_fault(
                &At::Field(at, "setting_stops"),
                Fault::SettingAboveFull { stops, most: bounds::BELOW_FULL.greatest },
            )
        };
        if stated_coverage.is_some() && self.coverage.is_some() {
            reader.push_fault::<()>(&At::Field(at, "coverage"), Fault::coverage_stated_twice());
        }
        let coverage = stated_coverage.or(self.coverage);
        let method = match self.against {
            Some(unit) => self.compare(unit, coverage, at, reader),
            None => self.assume(coverage, at, reader),
        };
        // A known unit may say how sure its own numbers are.
        let known = self.against.and_then(|unit| unit.plus_minus);
        let within = [self.plus_minus, known].into_iter().flatten();
        let within = within.fold(0.0_f64, |sum, half_width| sum.hypot(half_width.get()));
        Some((method?, setting?, within))
    }

    fn compare(
        &self,
        unit: &Unit,
        coverage: Option<Coverage>,
        at: &At<'_>,
        reader: &mut Reader,
    ) -> Option<Method> {
        for (given, name) in
            [(self.efficacy.is_some(), "efficacy_lm_per_j"), (self.share.is_some(), "light_in_coverage")]
        {
            if given {
                reader.push_fault::<()>(&At::Field(at, name), Fault::AssumptionBesideUnit);
            }
        }
        if unit.needs_zoom() {
            let against = At::Field(at, "against");
            return reader.push_fault(&At::Field(&against, "guide_number"), Fault::TableWithoutZoom);
        }
        let Some(known) = Known::of(unit) else {
            return reader.push_fault(&At::Field(at, "against"), Fault::KnownUnitIncomplete);
        };
        Some(Method::Compare { coverage, known, constant_c: self.constant_c })
    }

    fn assume(&self, coverage: Option<Coverage>, at: &At<'_>, reader: &mut Reader) -> Option<Method> {
        let stated = |stated: Option<Stated>, bounds, name, reader: &mut Reader| match stated {
            Some(stated) => stated.check(bounds, &At::Field(at, name), reader).map(Some),
            None => Some(None),
        };
        let efficacy = stated(self.efficacy, bounds::EFFICACY, "efficacy_lm_per_j", reader);
        let share = stated(self.share, bounds::SHARE, "light_in_coverage", reader);
        let constant_c = self.constant_c;
        match coverage {
            Some(coverage) => {
                Some(Method::Assume(Basis { coverage, efficacy: efficacy?, share: share?, constant_c }))
            }
            None if self.share.is_some() => {
                reader.push_fault(&At::Field(at, "coverage"), Fault::CoverageMissing)
            }
            None => Some(Method::AssumeAny(AnyCoverage { efficacy: efficacy?, constant_c })),
        }
    }
}

pub(crate) struct EnergyEstimateQuestion(GuideMetres, Method, Stops, f64);

impl Read for EnergyEstimateQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = EnergyEstimateRequest::read(value, at, reader)?;
        let (method, setting, within) = input.common().check(input.guide_number.coverage, at, reader)?;
        Some(Self(input.guide_number.number, method, setting, within))
    }
}

impl Calculation for EnergyEstimateQuestion {
    type Answer = EnergyEstimate;
    const OPTIONS: Options = Options::MARKS_DRAWN;
    const PICTURE: Option<Draw<Self, EnergyEstimate>> =
        Some(|question, answer, width| drawing::energy(answer, question.3, width));

    fn answer(&self, _: &dyn Interrupt) -> Result<EnergyEstimate, Vec<InvalidPart>> {
        let Self(guide, method, setting, within) = self;
        let estimate = match method {
            Method::Assume(basis) => guide::energy_of(*guide, *setting, basis),
            Method::AssumeAny(assumed) => reflectors::energy_of_any(*guide, *setting, *assumed),
            Method::Compare { coverage, known, constant_c } => {
                guide::energy_against(*guide, *setting, *coverage, known, *constant_c)
            }
        };
        Ok(estimate.within(*within))
    }
}

pub(crate) struct GuideEstimateQuestion(Joules, Method, Stops, f64);

impl Read for GuideEstimateQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = GuideEstimateRequest::read(value, at, reader)?;
        let (method, setting, within) = input.common().check(None, at, reader)?;
        Some(Self(input.energy, method, setting, within))
    }
}

impl Calculation for GuideEstimateQuestion {
    type Answer = GuideEstimate;
    const OPTIONS: Options = Options::MARKS_DRAWN;
    const PICTURE: Option<Draw<Self, GuideEstimate>> =
        Some(|question, answer, width| drawing::guide_number(answer, question.3, width));

    fn answer(&self, _: &dyn Interrupt) -> Result<GuideEstimate, Vec<InvalidPart>> {
        let Self(energy, method, setting, within) = self;
        let estimate = match method {
            Method::Assume(basis) => guide::guide_of(*energy, *setting, basis),
            Method::AssumeAny(assumed) => reflectors::guide_of_any(*energy, *setting, *assumed),
            Method::Compare { coverage, known, constant_c } => {
                guide::guide_against(*energy, *setting, *coverage, known, *constant_c)
            }
        };
        Ok(estimate.within(*within))
    }
}

/// Estimate energy from a guide number
///
/// The energy that a unit may store, from its guide number and coverage: low, typical and high, with every assumption. A guide number describes a beam, and joules describe stored electricity, so the range is wide on purpose. A known unit of the same kind in `against` makes the assumptions unnecessary. Where the coverage is not known, the usual reflectors stand side by side: a bare bulb, and reflectors for 35, 50 and 105 mm. Energies are for full power.
#[utoipa::path(post, path = "/v1/guide-number/energy", tag = "energy", request_body = EnergyEstimateRequest,
    responses((status = 200, description = "The estimate", body = EnergyEstimate)))]
async fn estimate_energy(body: Body<EnergyEstimateQuestion>) -> Result<Response, Problem> {
    body.answer().await
}

/// Estimate a guide number from an energy
///
/// The guide number that a unit may have, from its energy and coverage: low, typical and high, with every assumption, in metres and feet at ISO 100 and full power. Where the coverage is not known, the usual reflectors stand side by side: a bare bulb, and reflectors for 35, 50 and 105 mm.
#[utoipa::path(post, path = "/v1/energy/guide-number", tag = "energy", request_body = GuideEstimateRequest,
    responses((status = 200, description = "The estimate", body = GuideEstimate)))]
async fn estimate_guide_number(body: Body<GuideEstimateQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
