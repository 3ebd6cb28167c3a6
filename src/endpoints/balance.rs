//! `/v1/ratios/balance`.

#[cfg(test)]
mod tests;

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw, patches_of},
        extract::Body,
    },
    light::{
        balance::{Balance, BalanceQuestion, balance, predicted::predicted},
        error::InvalidPart,
        interrupt::Interrupt,
        remedy::Patch,
    },
    request::{
        options::Options,
        place::At,
        reader::{Read, Reader},
        set::{SetInput, SetRequest},
        value::Value,
    },
    server::{metrics, problem::Problem, state::Routes},
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(balance_lights))
}

impl Read for BalanceQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = SetInput::read(value, at, reader);
        SetInput::require_targets(value, at, reader);
        let SetInput { scene, prefer, tolerance, time_limit, limits, .. } = input?;
        Some(Self { scene, prefer, tolerance, time_limit, limits, rules: reader.rules })
    }
}

impl Calculation for BalanceQuestion {
    type Answer = Balance;
    const OPTIONS: Options = Options::ALL_DRAWN;
    const PICTURE: Option<Draw<Self, Balance>> = Some(|question, answer, width| {
        let placements = question.scene.light(&mut Vec::new()).placements;
        drawing::balance(question, answer, &predicted(question, answer), &placements, width)
    });
    const HEAVY: bool = true;

    fn patches(answer: &mut Balance) -> Vec<&mut Patch> {
        patches_of(&mut answer.remedies).chain([&mut answer.patch]).collect()
    }

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<Balance, Vec<InvalidPart>> {
        let balanced = balance(self, interrupt)?;
        if !interrupt.checkpoint() {
            metrics::count_search(balanced.optimality.nodes, balanced.optimality.proven);
        }
        Ok(balanced)
    }
}

/// Balance lights
///
/// The setting of each light that gives every metering point its target: an aperture, stops relative to the working exposure, or a ratio to another point. Light is known from readings (each light metered alone) and placements (computed from where it stands). The settings are the best on the units' own clicks, and the answer says whether that is proven. If they are not good enough, it lists remedies. For two lights, `ratio` is enough.
#[utoipa::path(post, path = "/v1/ratios/balance", tag = "ratios", request_body = SetRequest,
    responses((status = 200, description = "The settings", body = Balance)))]
async fn balance_lights(body: Body<BalanceQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
