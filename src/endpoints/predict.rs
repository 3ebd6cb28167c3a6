//! `/v1/exposure/predict`.

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
        set::predict::{self, PredictQuestion, Prediction},
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
    Routes::new().routes(routes!(predict_exposure))
}

impl Read for PredictQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let SetInput { scene, tolerance, .. } = SetInput::read(value, at, reader)?;
        Some(Self { scene, tolerance, rules: reader.rules })
    }
}

impl Calculation for PredictQuestion {
    type Answer = Prediction;
    const OPTIONS: Options = Options::ALL_DRAWN;
    const PICTURE: Option<Draw<Self, Prediction>> = Some(|question, answer, width| {
        drawing::predict(question, answer, &question.scene.light(&mut Vec::new()).placements, width)
    });

    /// Boards and shadows are summed over their area.
    fn is_heavy(&self) -> bool {
        !self.scene.reflectors.is_empty() || !self.scene.blockers.is_empty()
    }

    fn answer(&self, _: &dyn Interrupt) -> Result<Prediction, Vec<InvalidPart>> {
        predict::predict(self)
    }
}

/// Predict exposure
///
/// Predicts the light at each point before a light is switched on: the f-number that a meter would read, the luminous exposure, each light's share, and the error of the picture at the working exposure, with the losses of the lens. Light is known from placements, positions or readings; ambient light is added for the exposure time.
#[utoipa::path(post, path = "/v1/exposure/predict", tag = "ratios", request_body = SetRequest,
    responses((status = 200, description = "The light at each point", body = Prediction)))]
async fn predict_exposure(body: Body<PredictQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
