//! `/v1/sets/correct`.

use axum::response::Response;
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw},
        extract::Body,
    },
    light::{
        balance::BalanceQuestion,
        correct::{self, Correction, question::CorrectQuestion},
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
    server::{problem::Problem, state::Routes},
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(correct_set))
}

impl Read for CorrectQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let input = SetInput::read(value, at, reader);
        SetInput::require_rounds(value, at, reader);
        let SetInput { scene, prefer, tolerance, time_limit, limits, rounds } = input?;
        let balance = BalanceQuestion { scene, prefer, tolerance, time_limit, limits, rules: reader.rules };
        Some(Self { balance, rounds })
    }
}

impl Calculation for CorrectQuestion {
    type Answer = Correction;
    const OPTIONS: Options = Options::ALL_DRAWN;
    const PICTURE: Option<Draw<Self, Correction>> = Some(drawing::correct);
    const HEAVY: bool = true;

    fn patches(answer: &mut Correction) -> Vec<&mut Patch> {
        vec![&mut answer.patch]
    }

    fn answer(&self, interrupt: &dyn Interrupt) -> Result<Correction, Vec<InvalidPart>> {
        correct::correct(self, interrupt)
    }
}

/// Correct a set
///
/// Puts a set right by one round of readings. Set everything as the balance said, let all lights fire together, and meter once at each point: `rounds` has what was read. The answer says which light is off by how much, what to set now, how sure that is, which lights these readings cannot distinguish, whether a light did not fire, and which further reading would teach most. Readings of some of the lights mix in with `lights`. For another round send the earlier ones too, each with the settings that it was read at. Without targets, nothing is set anew: the answer then says how the set stands.
#[utoipa::path(post, path = "/v1/sets/correct", tag = "ratios", request_body = SetRequest,
    responses((status = 200, description = "What is off, and what to set now", body = Correction)))]
async fn correct_set(body: Body<CorrectQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
