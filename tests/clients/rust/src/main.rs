//! Calls the service at the address given, with a client made of its document by progenitor.

#[allow(clippy::all, clippy::pedantic, dead_code, unused_imports)]
mod client {
    include!(concat!(env!("OUT_DIR"), "/client.rs"));
}

use std::{env, error::Error};

use client::{
    Client,
    types::{
        BatchItem, BatchRequest, CalibrateRequest, CandidateInput, CodeKind, Conversion, ConvertRequest,
        EquivalenceRequest, ExposureInput, Id, LightInput, LightingRatioInput, MarkStep, MarksKind,
        NumberReading, Params, Problem, QuantityKind, QuestionBody, RatioCounting, ReadingInput,
        ReadingOption, ReferenceInput, ScaleInput, ScaleStyle, SetRequest, SettingInput, UnitInput,
        UnitReadingInput, WarningCode,
    },
};

type Called = Result<(), Box<dyn Error>>;

#[tokio::main(flavor = "current_thread")]
async fn main() -> Called {
    let client = Client::new(&env::args().nth(1).ok_or("the address of a service")?);
    stops(&client).await?;
    println!("rust: stops");
    balance(&client).await?;
    println!("rust: balance");
    remedy_followed(&client).await?;
    println!("rust: remedy_followed");
    code_translated(&client).await?;
    println!("rust: code_translated");
    refused(&client).await?;
    println!("rust: refused");
    sent_back(&client).await?;
    println!("rust: sent_back");
    batch(&client).await?;
    println!("rust: batch");
    Ok(())
}

async fn stops(client: &Client) -> Called {
    let asked = client.convert_stops_by_query().from("f/8").to("f/11").send().await?.into_inner();
    let body = ConvertRequest::builder().from("f/8").to(Some("f/11".parse()?));
    let posted = client.convert_stops().body(body).send().await?.into_inner();
    assert_eq!(serde_json::to_value(&asked)?, serde_json::to_value(&posted)?);
    assert_eq!(asked.exposure_stops, -1.0);
    assert_eq!(asked.to.mark.as_deref(), Some("f/11"));
    assert_eq!(asked.kind, QuantityKind::FNumber);
    let numbers = ConvertRequest::builder().from(8.0).to(Some(11.0.into())).kind(QuantityKind::FNumber);
    assert_eq!(client.convert_stops().body(numbers).send().await?.exposure_stops, -1.0);
    // The words "1", "1/2", "1/3" have no better names here.
    let marks = client.list_marks().kind(MarksKind::FNumber).step(MarkStep::X12).send().await?.into_inner();
    assert!(marks.marks.iter().any(|row| row.mark == "f/9.5"));
    Ok(())
}

/// A key and a fill, and what they give alone at 8 and at full.
fn set(ratio: &str, [key_gives, fill_gives]: [&str; 2]) -> Result<SetRequest, Box<dyn Error>> {
    let dial = ScaleInput::builder().style(ScaleStyle::Dial).full(Some(9.0.into())).least(2.0);
    let percent = ScaleInput::builder().style(ScaleStyle::Percent).least(5.0);
    let key = UnitInput::builder().energy(Some("600 J".parse()?)).scale(Some(dial.try_into()?));
    let fill = UnitInput::builder().energy(Some(300.0.into())).scale(Some(percent.try_into()?));
    let light = |name: &str, unit| -> Result<LightInput, Box<dyn Error>> {
        Ok(LightInput::builder().name(Some(name.parse()?)).unit(unit).try_into()?)
    };
    let reading = |light, setting: SettingInput, f_number: &str| -> Result<ReadingInput, Box<dyn Error>> {
        Ok(ReadingInput::builder().light(light).setting(setting).f_number(f_number).try_into()?)
    };
    let ratio = LightingRatioInput::builder().value(ratio).key("key").fill("fill");
    let readings =
        vec![reading("key", 8.0.into(), key_gives)?, reading("fill", label("100 %")?, fill_gives)?];
    Ok(SetRequest::builder()
        .exposure(ExposureInput::builder().f_number("f/8"))
        .lights(vec![light("key", key)?, light("fill", fill)?])
        .ratio(Some(ratio.try_into()?))
        .readings(Some(readings))
        .try_into()?)
}

/// A set whose fill is too weak for the ratio.
fn weak_fill() -> Result<SetRequest, Box<dyn Error>> {
    set("2:1", ["f/11", "f/4"])
}

async fn balance(client: &Client) -> Called {
    let body = set("3:1", ["f/11", "f/8"])?;
    let answer = client.balance_lights().body(body).send().await?.into_inner();
    assert!(answer.feasible && answer.optimality.proven);
    let settings: Vec<_> = answer
        .settings
        .iter()
        .map(|light| (&*light.light, light.setting.as_ref().map(|s| &*s.label)))
        .collect();
    assert_eq!(settings, [("key", Some("6.4")), ("fill", Some("33 %"))]);
    assert_eq!(answer.ratio.map(|ratio| ratio.counting), Some(RatioCounting::Sides));
    Ok(())
}

/// What the service proposes is applied to the request and asked again.
async fn remedy_followed(client: &Client) -> Called {
    let body = weak_fill()?;
    let answer = client.balance_lights().body(body.clone()).send().await?.into_inner();
    assert!(!answer.feasible);
    let remedy = answer.remedies.first().ok_or("no remedy")?;
    let patch: json_patch::Patch = serde_json::from_value(serde_json::to_value(&remedy.patch)?)?;
    let mut patched = serde_json::to_value(body)?;
    json_patch::patch(&mut patched, &patch)?;
    let patched: SetRequest = serde_json::from_value(patched)?;
    let better = client.balance_lights().body(patched).send().await?.into_inner();
    assert_eq!(better.feasible, remedy.then.feasible);
    assert_eq!(Some(better.worst_error_stops), remedy.then.worst_error_stops);
    Ok(())
}

/// What this program says in German, by code.
fn german(code: WarningCode) -> Option<&'static str> {
    match code {
        WarningCode::SidesRatioMissed => {
            Some("Lichtseite zu Schattenseite ergibt {achieved}:1 statt {target}:1.")
        }
        _ => None,
    }
}

/// A template with its params in place.
fn filled(template: &str, params: &Params, decimal: &str) -> String {
    params.iter().fold(template.to_owned(), |text, (name, value)| {
        let value = match (value.as_f64(), value.as_str()) {
            (Some(number), _) => number.to_string().replace('.', decimal),
            (None, Some(words)) => words.to_owned(),
            (None, None) => value.to_string(),
        };
        text.replace(&format!("{{{name}}}"), &value)
    })
}

async fn code_translated(client: &Client) -> Called {
    let codes = client.list_codes().send().await?.into_inner().codes;
    let answer = client.balance_lights().body(weak_fill()?).send().await?.into_inner();
    let warning = answer.warnings.first().ok_or("no warning")?;
    let params = warning.params.as_ref().ok_or("no params")?;
    let is_its = |kind, code: &str| kind == CodeKind::Warning && code == warning.code.to_string();
    let row = codes.iter().find(|row| is_its(row.kind, &row.code)).ok_or("an unknown code")?;
    assert_eq!(filled(&row.template, params, "."), warning.text);
    let words = filled(german(warning.code).unwrap_or(&row.template), params, ",");
    assert_eq!(words, "Lichtseite zu Schattenseite ergibt 4,03:1 statt 2:1.");
    Ok(())
}

async fn refused(client: &Client) -> Called {
    let body = ConvertRequest::builder().from("f/0").to(Some("f/-2".parse()?));
    let Err(client::Error::ErrorResponse(response)) = client.convert_stops().body(body).send().await else {
        return Err("nonsense is answered".into());
    };
    assert_eq!(response.status(), 422);
    let problem: Problem = response.into_inner();
    assert_eq!((problem.status, &*problem.type_), (422, "/problems/invalid-request"));
    let pointers: Vec<_> = problem.errors.iter().map(|error| &*error.pointer).collect();
    assert_eq!(pointers, ["/from", "/to"]);
    Ok(())
}

async fn sent_back(client: &Client) -> Called {
    let scale = ScaleInput::builder().style(ScaleStyle::Dial).full(Some(9.0.into())).least(3.0);
    let unit = UnitInput::builder().energy(Some("400 J".parse()?)).scale(Some(scale.try_into()?));
    let reading = |label: f64| {
        let f_number = 22.0 / ((9.0 - label) / 2.0).exp2();
        UnitReadingInput::builder().setting(Some(label.into())).f_number(Some(f_number.into())).try_into()
    };
    let body = CalibrateRequest::builder()
        .unit(Some(unit.try_into()?))
        .readings(vec![reading(9.0)?, reading(8.0)?, reading(7.0)?])
        .reading(Some(ReadingOption(Some(NumberReading::Literal))));
    let calibration = client.calibrate_unit().body(body).send().await?.into_inner();
    let unit: UnitInput = serde_json::from_value(serde_json::to_value(&calibration.unit)?)?;
    let mut setting = label("8")?;
    // A setting out of an answer may be sent as it is.
    for _ in 0..2 {
        let exposure = ExposureInput::builder().f_number("f/8");
        let reference = ReferenceInput::builder().unit(unit.clone()).setting(setting).exposure(Some(exposure.try_into()?));
        let candidate = CandidateInput::builder().unit(unit.clone()).try_into()?;
        let body = EquivalenceRequest::builder().reference(reference).candidates(vec![candidate]);
        let answer = client.match_units().body(body).send().await?.into_inner();
        let [candidate] = &answer.candidates[..] else { return Err("one candidate".into()) };
        assert_eq!(candidate.setting.label, "8");
        setting = candidate.setting.clone().into();
    }
    Ok(())
}

async fn batch(client: &Client) -> Called {
    let question: ConvertRequest =
        ConvertRequest::builder().from("f/8").shift(Some((-1.0).into())).try_into()?;
    let body: QuestionBody = serde_json::from_value(serde_json::to_value(question)?)?;
    let item =
        BatchItem::builder().id(Some("one".parse()?)).path("/v1/stops/convert").body(body).try_into()?;
    let answers = client.answer_batch().body(BatchRequest::builder().requests(vec![item])).send().await?;
    let [answer] = &answers.answers[..] else { return Err("one answer".into()) };
    assert!(matches!(&answer.id, Some(Id::String(id)) if id == "one"));
    assert_eq!(answer.status, 200);
    let conversion: Conversion = serde_json::from_value(serde_json::to_value(&answer.body)?)?;
    assert_eq!(conversion.to.mark.as_deref(), Some("f/11"));
    Ok(())
}

fn label(text: &str) -> Result<SettingInput, Box<dyn Error>> {
    Ok(SettingInput::String(text.parse()?))
}
