//! `/v1/readings/combine` and `/v1/readings/ratio`.

use axum::{http::HeaderMap, response::Response};
use utoipa::openapi::{RefOr, Schema};
use utoipa_axum::routes;

use crate::{
    drawing,
    endpoints::{
        calculation::{Calculation, Draw},
        extract::{Body, Query},
    },
    light::{
        error::InvalidPart,
        interrupt::Interrupt,
        measure::readings::{self, Combined, Pair, ReadingRatio, Readings},
        quantity::{FNumber, GuideMetres, kind::Kind, marks::Step, notation},
    },
    request::{
        declare::request,
        field_schema::{FieldSchema, Named, looks_like},
        fields::Guide,
        options::Options,
        place::At,
        reader::{Read, Reader, lists::Item},
        schema::AmountInput,
        value::Value,
    },
    server::{problem::Problem, state::Routes},
    wording::fault::Fault,
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new()
        .routes(routes!(combine_readings_by_query, combine_readings))
        .routes(routes!(tell_reading_ratio_by_query, tell_reading_ratio))
}

request! {
    /// Light to add, and light to take away: f-numbers of meter readings, or guide numbers.
    struct CombineRequest {
        /// What is added, all of one kind. In a query, separated by commas: `add=f/8,f/5.6`.
        add: Amounts,
        /// What is taken away, of the same kind.
        subtract: Option<Amounts>,
    }
}

/// A reading of one of two kinds.
#[derive(Clone, Copy)]
enum Amount {
    FNumber(FNumber),
    Guide(GuideMetres),
}

looks_like!(Amount as AmountInput);

impl Read for Amount {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let is_guide = match value {
            Value::Object(_) => true,
            Value::Text(text) | Value::Parameter(text) => notation::is_of(Kind::GuideNumber, text),
            _ => false,
        };
        if is_guide {
            Guide::read(value, at, reader).map(|guide| Self::Guide(guide.number))
        } else {
            FNumber::read(value, at, reader).map(Self::FNumber)
        }
    }
}

impl Item for Amount {
    const MIN: usize = 0;
    const MAX: usize = 32;
    const PLURAL: &'static str = "readings";
}

/// A list of readings.
struct Amounts(Vec<Amount>);

impl FieldSchema for Amounts {
    fn schema() -> RefOr<Schema> {
        Vec::<Amount>::schema()
    }

    fn add_named(all: &mut Named) {
        Vec::<Amount>::add_named(all);
    }
}

impl Read for Amounts {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        if let Value::Parameter(text) = value
            && let Some((decimal, list)) = decimal_or_list(text)
        {
            let text = text.clone().into_owned();
            return reader.push_fault(at, Fault::DecimalOrList { text, decimal, list });
        }
        Vec::read(value, at, reader).map(Self)
    }

    fn expected() -> String {
        Vec::<Amount>::expected()
    }
}

/// Both readings of a comma that may part decimals: `f/5,6` is `f/5.6`, or `f/5,f/6`.
fn decimal_or_list(text: &str) -> Option<(String, String)> {
    let is_whole = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    parts.windows(2).find_map(|pair| {
        let (before, after) = (pair[0], pair[1]);
        let prefix = before.trim_end_matches(|c: char| c.is_ascii_digit());
        let number = &before[prefix.len()..];
        (is_whole(number) && is_whole(after) && !prefix.ends_with('.')).then(|| {
            let prefix = if prefix.is_empty() { "f/" } else { prefix };
            (format!("{prefix}{number}.{after}"), format!("{prefix}{number},{prefix}{after}"))
        })
    })
}

impl CombineRequest {
    /// Both lists as one kind, that of the first reading.
    fn check(self, at: &At<'_>, reader: &mut Reader) -> Option<CombineQuestion> {
        let Amounts(add) = self.add;
        let Amounts(subtract) = self.subtract.unwrap_or(Amounts(Vec::new()));
        let Some(first) = add.first().copied() else {
            let expected = "a list of 1 to 32 readings".to_owned();
            return reader.push_fault(&At::Field(at, "add"), Fault::TooFew { count: 0, least: 1, expected });
        };
        let mut is_clean = true;
        for (name, list) in [("add", &add), ("subtract", &subtract)] {
            let at = At::Field(at, name);
            for (index, amount) in list.iter().enumerate() {
                if amount.kind() != first.kind() {
                    is_clean = false;
                    reader.push_fault::<()>(
                        &At::Index(&at, index),
                        Fault::MixedKinds {
                            first: first.kind().name_in_words(),
                            this: amount.kind().name_in_words(),
                        },
                    );
                }
            }
        }
        let list = |all: Vec<Amount>| match first {
            Amount::FNumber(_) => Readings::FNumbers(all.into_iter().filter_map(Amount::f_number).collect()),
            Amount::Guide(_) => Readings::Guides(all.into_iter().filter_map(Amount::guide).collect()),
        };
        is_clean.then(|| CombineQuestion {
            add: list(add),
            subtract: list(subtract),
            step: reader.rules.step,
        })
    }
}

impl Amount {
    const fn kind(self) -> Kind {
        match self {
            Self::FNumber(_) => Kind::FNumber,
            Self::Guide(_) => Kind::GuideNumber,
        }
    }

    const fn f_number(self) -> Option<FNumber> {
        if let Self::FNumber(f_number) = self { Some(f_number) } else { None }
    }

    const fn guide(self) -> Option<GuideMetres> {
        if let Self::Guide(guide) = self { Some(guide) } else { None }
    }
}

/// Light to add and to take away, of one kind.
pub(crate) struct CombineQuestion {
    add: Readings,
    subtract: Readings,
    step: Step,
}

impl Read for CombineQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        CombineRequest::read(value, at, reader)?.check(at, reader)
    }
}

impl Calculation for CombineQuestion {
    type Answer = Combined;
    const OPTIONS: Options = Options::MARKS_DRAWN;
    const PICTURE: Option<Draw<Self, Combined>> = Some(|question, answer, width| {
        let parts = readings::parts(&question.add, &question.subtract);
        let is_guide = matches!(question.add, Readings::Guides(_));
        drawing::readings(answer, &parts, is_guide, question.step, width)
    });

    fn answer(&self, _: &dyn Interrupt) -> Result<Combined, Vec<InvalidPart>> {
        Ok(readings::combine(&self.add, &self.subtract, self.step))
    }
}

request! {
    /// Two readings: each light metered alone, or each side with all lights on.
    struct ReadingRatioRequest {
        /// The key light metered alone, on the side that it lights.
        key: Option<FNumber>,
        /// The fill light metered alone. It reaches both sides.
        fill: Option<FNumber>,
        /// The lit side with all lights on.
        lit: Option<FNumber>,
        /// The shadow side with all lights on.
        shadow: Option<FNumber>,
    }
    exactly one of "the pair of readings": key & fill | lit & shadow
}

/// Two readings whose ratio is asked for.
pub(crate) struct ReadingRatioQuestion {
    pair: Pair,
    step: Step,
}

impl Read for ReadingRatioQuestion {
    fn read(value: &Value<'_>, at: &At<'_>, reader: &mut Reader) -> Option<Self> {
        let request = ReadingRatioRequest::read(value, at, reader)?;
        let pair = match (request.key.zip(request.fill), request.lit.zip(request.shadow)) {
            (Some((key, fill)), None) => Pair::Lights { key, fill },
            (None, Some((lit, shadow))) => Pair::Sides { lit, shadow },
            // Refused by the reader.
            _ => return None,
        };
        Some(Self { pair, step: reader.rules.step })
    }
}

impl Calculation for ReadingRatioQuestion {
    type Answer = ReadingRatio;

    fn answer(&self, _: &dyn Interrupt) -> Result<ReadingRatio, Vec<InvalidPart>> {
        Ok(readings::ratio(self.pair, self.step))
    }
}

/// Combine readings, by query
///
/// What a meter reads when lights come together, and what is left when one is switched off. Write items between commas: `add=f/8,f/5.6`. Answers may be cached.
#[utoipa::path(get, path = "/v1/readings/combine", tag = "measuring", params(CombineRequest),
    responses((status = 200, description = "The light that is left", body = Combined)))]
async fn combine_readings_by_query(
    headers: HeaderMap,
    query: Query<CombineQuestion>,
) -> Result<Response, Problem> {
    query.answer(&headers)
}

/// Combine readings
///
/// What a meter reads when lights that were metered alone come together (`add`), and what is left when one is switched off (`subtract`). Light adds, so f-numbers and guide numbers add by their squares: f/8 and f/5.6 together read f/10. Taking away more than there is, is not feasible.
#[utoipa::path(post, path = "/v1/readings/combine", tag = "measuring", request_body = CombineRequest,
    responses((status = 200, description = "The light that is left", body = Combined)))]
async fn combine_readings(body: Body<CombineQuestion>) -> Result<Response, Problem> {
    body.answer().await
}

/// Tell the ratio of readings, by query
///
/// The lighting ratio of two meter readings, counted by sides and by lights. Answers may be cached.
#[utoipa::path(get, path = "/v1/readings/ratio", tag = "measuring", params(ReadingRatioRequest),
    responses((status = 200, description = "The ratio", body = ReadingRatio)))]
async fn tell_reading_ratio_by_query(
    headers: HeaderMap,
    query: Query<ReadingRatioQuestion>,
) -> Result<Response, Problem> {
    query.answer(&headers)
}

/// Tell the ratio of readings
///
/// The lighting ratio of two meter readings: of `key` and `fill`, each light metered alone, or of the `lit` and the `shadow` side with all lights on. The answer counts it both ways: by sides (key and fill to fill) and by lights (key to fill).
#[utoipa::path(post, path = "/v1/readings/ratio", tag = "measuring", request_body = ReadingRatioRequest,
    responses((status = 200, description = "The ratio", body = ReadingRatio)))]
async fn tell_reading_ratio(body: Body<ReadingRatioQuestion>) -> Result<Response, Problem> {
    body.answer().await
}
