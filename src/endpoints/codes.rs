//! `/v1/codes`.

use axum::{http::HeaderMap, response::Response};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_axum::routes;

use crate::{
    endpoints::{extract::Query, format::QueryRequest},
    light::{
        assumption::AssumptionKind,
        quantity::words::words,
        remark::{CautionKind, WarningKind},
    },
    request::{
        declare::request,
        format::{AnswerFormat, WRITTEN},
        options::Options,
        reader::words::reads_word,
    },
    server::{problem::Problem, state::Routes},
    wording::{
        fault,
        phrase::{Phrase, Phrased},
        phrases::change::CHANGES,
    },
};

/// The routes of this file.
pub fn routes() -> Routes {
    Routes::new().routes(routes!(list_codes))
}

words! {
    /// Where a code stands.
    pub enum CodeKind as "CodeKind" {
        /// In `warnings` of an answer.
        Warning = "warning",
        /// In `cautions` of an answer.
        Caution = "caution",
        /// In `assumptions` of an answer.
        Assumption = "assumption",
        /// In `errors` of a problem.
        Fault = "fault",
        /// In `changes` of a remedy.
        Change = "change",
    }
}

reads_word!(CodeKind: CodeKind::ALL.map(|kind| (kind.text(), kind)));

request! {
    /// Which codes to list.
    struct CodesRequest {
        /// Only the codes of this kind; all if left out.
        kind: Option<CodeKind>,
    }
}

impl QueryRequest for CodesRequest {
    const FORMATS: &'static [AnswerFormat] = WRITTEN;
    const OPTIONS: Options = Options::NONE;
}

/// The codes.
#[derive(Serialize, ToSchema)]
pub struct CodeTable {
    /// The codes, by kind.
    codes: Vec<CodeRow>,
}

/// A code, and the sentence that it stands for.
#[derive(Serialize, ToSchema)]
pub struct CodeRow {
    /// The code.
    #[schema(examples("recycle_too_slow"))]
    code: &'static str,
    /// Where it stands.
    kind: CodeKind,
    /// The text of a warning or a caution, the value of an assumption, what is wrong in a fault, or what a change is. `{name}` stands for the param of that name: a number, a text, a list (in the text cut after eight names), or a range, `{"low", "typical", "high"}` (in the text `low 1, typical 2, high 3`). The params of a change are in the change itself: the fields of its `to`, as the `mark` or `label` where they have one (a unit may have `guide_number_m` in place of `energy_j`), and as `subject` the light, role or candidate that it names; the lens if it names none.
    template: &'static str,
    /// The template for a count of one. Absent if it reads the same.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    template_one: Option<&'static str>,
    /// What a fault says is expected. Absent if that is a text of its own each time, and for other kinds.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    expected: Option<&'static str>,
    /// The name of an assumption. Absent for other kinds.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    name: Option<&'static str>,
    /// The source of an assumption. Absent for other kinds.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false)]
    source: Option<&'static str>,
    /// The names of the params.
    params: Vec<&'static str>,
}

impl CodeRow {
    fn new(kind: CodeKind, phrase: &Phrase) -> Self {
        let second = |of: CodeKind| phrase.second.filter(|_| kind == of);
        Self {
            code: phrase.code,
            kind,
            template: phrase.template,
            template_one: phrase.template_one,
            expected: second(CodeKind::Fault),
            name: phrase.name,
            source: second(CodeKind::Assumption),
            params: phrase.params().collect(),
        }
    }
}

/// List codes
///
/// Every code of warnings, cautions, assumptions, faults and changes, with the template of its text and the names of its params, so that a program can put its own words, or another language, in place of the text. A code never changes its meaning; new ones may come, and a program that does not know a code shows the text.
#[utoipa::path(get, path = "/v1/codes", tag = "service", params(CodesRequest),
    responses((status = 200, description = "The codes", body = CodeTable)))]
async fn list_codes(headers: HeaderMap, query: Query<CodesRequest>) -> Result<Response, Problem> {
    query.respond(&headers, &table(query.request().kind))
}

/// The codes of one kind, or all.
pub fn table(only: Option<CodeKind>) -> CodeTable {
    let faults = fault::phrases();
    let kinds: [(CodeKind, &[Phrase]); 5] = [
        (CodeKind::Warning, WarningKind::PHRASES),
        (CodeKind::Caution, CautionKind::PHRASES),
        (CodeKind::Assumption, AssumptionKind::PHRASES),
        (CodeKind::Fault, &faults),
        (CodeKind::Change, &CHANGES),
    ];
    let kinds = kinds.iter().filter(|(kind, _)| only.is_none_or(|only| only == *kind));
    let rows = kinds.flat_map(|(kind, phrases)| phrases.iter().map(|phrase| CodeRow::new(*kind, phrase)));
    CodeTable { codes: rows.collect() }
}
