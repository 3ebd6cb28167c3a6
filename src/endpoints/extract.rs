//! The extractors of every calculation, and the responses with their answers.
//!
//! [`Body`] rejects with 406 (no acceptable type), 415 (content type is not JSON) and 413 (too large);
//! [`Body::answer`] with 400 (invalid JSON) and 422 (every fault of shape and value). [`Query`] rejects with 400 (bad
//! encoding), 422 and, unless the query states a format, 406.

use std::{borrow::Cow, marker::PhantomData, mem, sync::Arc};

use axum::{
    body::Bytes,
    extract::{FromRequest, FromRequestParts, Request},
    http::{HeaderMap, header, request::Parts},
    response::Response,
};
use http_body_util::{BodyExt, LengthLimitError, Limited};
use hyper::body::Body as _;
use serde::Serialize;

use crate::{
    endpoints::{
        calculation::{Calculation, write_patches},
        format::{self, QueryRequest},
    },
    light::{
        error::InvalidPart,
        interrupt::{Interrupt, NeverInterrupted},
    },
    request::{
        self,
        faults::{self, FEW, FieldError},
        format::AnswerFormat,
        json::{malformed, parse},
        place::Pointer,
        value::Value,
    },
    server::{
        caching, negotiation,
        problem::{Kind, LISTED, Problem, Refused},
        request_id,
        state::AppState,
        worker_pool::{WorkerPool, caller_info::CallerInfo},
    },
    wording::fault::Fault,
};

/// Maximum nesting of objects in a query.
const MAX_PATH: usize = 4;
/// Maximum number of parameters in a query.
const MAX_PARAMETERS: usize = 256;
/// Maximum bytes of a body.
pub const BODY_LIMIT: usize = 256 * 1024;

/// Bodies up to this many bytes are parsed on the async threads, larger ones on the worker pool, so that they never
/// delay quick calls.
pub const SMALL_BODY: usize = 2 * 1024;

/// A calculation requested with a JSON body.
pub struct Body<C> {
    bytes: Bytes,
    headers: HeaderMap,
    caller: CallerInfo,
    workers: WorkerPool,
    lenient: Option<LenientText>,
    format: AnswerFormat,
    calculation: PhantomData<fn() -> C>,
}

/// Places in a body whose texts are read like query parameters: as numbers if their fields are numbers. A request
/// extension, which only the `ask` command sets.
#[derive(Debug, Clone)]
pub struct LenientText(pub Vec<Pointer>);

impl<C: Calculation> FromRequest<Arc<AppState>> for Body<C> {
    type Rejection = Problem;

    async fn from_request(mut request: Request, state: &Arc<AppState>) -> Result<Self, Problem> {
        let format = AnswerFormat::from_accept(request.headers(), format::formats::<C>())?;
        if !is_json(request.headers()) {
            return Err(Problem::new(
                Kind::UnsupportedMediaType,
                "Send the body with Content-Type: application/json (curl --json does).",
            ));
        }
        check_encoding(&request)?;
        let lenient = request.extensions_mut().remove::<LenientText>();
        let caller = request.extensions_mut().remove::<CallerInfo>().unwrap_or_default();
        let headers = mem::take(request.headers_mut());
        let bytes = read_body(request).await?;
        let workers = state.workers.clone();
        Ok(Self { bytes, headers, caller, workers, lenient, format, calculation: PhantomData })
    }
}

impl<C: Calculation> Body<C> {
    /// Computes the answer, on the worker pool if that may take long.
    pub async fn answer(self) -> Result<Response, Problem> {
        // Drawing can take longer than the calculation.
        let is_heavy = C::HEAVY || self.format == AnswerFormat::Svg || self.bytes.len() > SMALL_BODY;
        let mut request = None;
        if !is_heavy {
            match self.read(|value| request::read_quickly(value, C::OPTIONS)) {
                Ok(read) if read.0.is_heavy() => request = Some(read),
                Ok((read, width)) => {
                    let (media, body) = self.compute(&read, width, &NeverInterrupted)?;
                    return Ok(negotiation::response(media, body));
                }
                Err(unanswered) if unanswered.has_many_faults() => {}
                Err(unanswered) => return Err(unanswered.into()),
            }
        }
        let (workers, caller) = (self.workers.clone(), self.caller.clone());
        let compute = move |interrupt: &dyn Interrupt| {
            let request = match request {
                Some(request) => Ok(request),
                None => self.read(|value| request::read(value, C::OPTIONS)),
            };
            let computed = request
                .map_err(Problem::from)
                .and_then(|(request, width)| self.compute(&request, width, interrupt));
            // Written here, since a long list of faults would delay quick calls as well.
            computed.map_err(|problem| problem.written(&request_id::of(&self.headers)))
        };
        let (media, body) = workers.run(caller, compute).await??;
        Ok(negotiation::response(media, body))
    }

    /// The parsed request.
    fn value(&self) -> Result<Value<'_>, Problem> {
        let mut value = parse(&self.bytes)?;
        for place in self.lenient.iter().flat_map(|LenientText(places)| places) {
            value.make_parameter(place);
        }
        Ok(value)
    }

    /// The checked request, and the width of its picture.
    fn read(
        &self,
        read: for<'t> fn(&'t Value<'t>) -> Result<(C, f64), Refused>,
    ) -> Result<(C, f64), Unanswered> {
        Ok(read(&self.value()?)?)
    }

    /// The content type and the bytes of the answer.
    fn compute(
        &self,
        request: &C,
        width: f64,
        interrupt: &dyn Interrupt,
    ) -> Result<(&'static str, Vec<u8>), Problem> {
        let mut answer = request.answer(interrupt).map_err(|faults| sorted_problem(self.value(), faults))?;
        write_patches::<C>(&mut answer, false, || self.value().ok());
        format::write_answer(self.format, request, &answer, width)
    }
}

/// Why a body has no answer.
enum Unanswered {
    Faults(Refused),
    Problem(Problem),
}

impl Unanswered {
    /// Whether formatting the faults takes long enough to be done on a worker.
    fn has_many_faults(&self) -> bool {
        matches!(self, Self::Faults(faults) if faults.more > 0 || faults.first.len() > FEW)
    }
}

impl From<Refused> for Unanswered {
    fn from(faults: Refused) -> Self {
        Self::Faults(faults)
    }
}

impl From<Problem> for Unanswered {
    fn from(problem: Problem) -> Self {
        Self::Problem(problem)
    }
}

impl From<Unanswered> for Problem {
    fn from(unanswered: Unanswered) -> Self {
        match unanswered {
            Unanswered::Faults(faults) => faults.into(),
            Unanswered::Problem(problem) => problem,
        }
    }
}

/// The problem with faults that `light` found, in document order. The request is parsed again for that, since it is not
/// stored while the answer is computed.
fn sorted_problem(value: Result<Value<'_>, Problem>, faults: Vec<InvalidPart>) -> Problem {
    match value {
        Ok(value) => faults::in_order(&value, faults).into(),
        Err(problem) => problem,
    }
}

/// Reads the whole body, up to the limit.
pub async fn read_body(request: Request) -> Result<Bytes, Problem> {
    let mut body = Limited::new(request.into_body(), BODY_LIMIT);
    let mut first = Bytes::new();
    let mut joined = Vec::new();
    // A small body mostly arrives in one frame, and is then not copied.
    while !body.is_end_stream()
        && let Some(frame) = body.frame().await
    {
        let frame = frame.map_err(|error| {
            if error.is::<LengthLimitError>() {
                too_large()
            } else {
                Problem::new(Kind::Malformed, "The body broke off before its end.")
            }
        })?;
        let data = frame.into_data().unwrap_or_default();
        if first.is_empty() && joined.is_empty() {
            first = data;
        } else {
            if joined.is_empty() {
                // The whole length if the client states it, which is within the limit.
                joined.reserve(first.len() + body.size_hint().exact().unwrap_or_default() as usize);
                joined.extend_from_slice(&first);
            }
            joined.extend_from_slice(&data);
        }
    }
    Ok(if joined.is_empty() { first } else { joined.into() })
}

/// The problem of a body over the limit.
pub fn too_large() -> Problem {
    Problem::new(Kind::TooLarge, format!("The body may have {BODY_LIMIT} bytes."))
}

/// Checks that the body is not compressed, is UTF-8, and has no query beside it.
pub fn check_encoding(request: &Request) -> Result<(), Problem> {
    let text = |name| request.headers().get(name).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let encoding = text(header::CONTENT_ENCODING).trim();
    if !encoding.is_empty() && !encoding.eq_ignore_ascii_case("identity") {
        return Err(Problem::new(Kind::UnsupportedMediaType, "Send the body without a Content-Encoding."));
    }
    let charset = text(header::CONTENT_TYPE).split(';').skip(1).find_map(|parameter| {
        let (name, value) = parameter.split_once('=')?;
        name.trim().eq_ignore_ascii_case("charset").then_some(value.trim().trim_matches('"'))
    });
    if charset.is_some_and(|charset| !charset.eq_ignore_ascii_case("utf-8")) {
        return Err(Problem::new(Kind::UnsupportedMediaType, "Send the body as UTF-8."));
    }
    let Some(query) = request.uri().query().filter(|query| !query.is_empty()) else { return Ok(()) };
    let mut parameters = form_urlencoded::parse(query.as_bytes());
    let error = |(name, _): (Cow<'_, str>, Cow<'_, str>)| {
        let pointer = Pointer::root().field(&name.chars().take(64).collect::<String>());
        FieldError { pointer, fault: Fault::QueryBesideBody }.written()
    };
    let first = parameters.by_ref().take(LISTED).map(error).collect();
    Err(Refused { first, more: parameters.count() }.into())
}

/// Whether the content type is this media type, with any parameters.
pub fn is_media(headers: &HeaderMap, media: &str) -> bool {
    media_of(headers).eq_ignore_ascii_case(media)
}

/// Whether the content type is JSON.
pub fn is_json(headers: &HeaderMap) -> bool {
    is_media(headers, negotiation::JSON) || {
        let media = media_of(headers).to_ascii_lowercase();
        media.starts_with("application/") && media.ends_with("+json")
    }
}

fn media_of(headers: &HeaderMap) -> &str {
    let text = headers.get(header::CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
    text.split(';').next().unwrap_or_default().trim()
}

/// Checks that the `Accept` header allows this media type; 406 if not.
pub fn check_accept(headers: &HeaderMap, media: &'static str) -> Result<(), Problem> {
    negotiation::choose(headers, [(media, ())]).ok_or_else(|| {
        let detail = format!("Answers are {media}, which the Accept header does not allow.");
        Problem::new(Kind::NotAcceptable, detail)
    })
}

/// A request read from the query string.
pub struct Query<T> {
    /// The request.
    pub request: T,
    format: AnswerFormat,
    /// The width of the picture, px.
    width: f64,
    text: String,
}

impl<S: Send + Sync, T: QueryRequest> FromRequestParts<S> for Query<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        let text = parts.uri.query().unwrap_or_default();
        let value = parse_query(text)?;
        let (request, width, format) = request::read_query(&value, T::OPTIONS, T::FORMATS)?;
        let format = format.map_or_else(|| AnswerFormat::from_accept(&parts.headers, T::FORMATS), Ok)?;
        Ok(Self { request, format, width, text: text.to_owned() })
    }
}

impl<C: Calculation> Query<C> {
    /// Computes the answer, which caches may store. Heavy calculations have no query form.
    pub fn answer(self, headers: &HeaderMap) -> Result<Response, Problem> {
        let Self { request, format, width, text } = self;
        let outcome = request.answer(&NeverInterrupted);
        let mut answer = outcome.map_err(|faults| sorted_problem(parse_query(&text), faults))?;
        write_patches::<C>(&mut answer, true, || parse_query(&text).ok());
        Ok(caching::answer(headers, format::write_answer(format, &request, &answer, width)?))
    }
}

impl<T> Query<T> {
    /// The request.
    pub const fn request(&self) -> &T {
        &self.request
    }

    /// The format of its answer.
    pub const fn format(&self) -> AnswerFormat {
        self.format
    }

    /// Responds with an answer that depends only on the query, which caches may store.
    pub fn respond(&self, headers: &HeaderMap, answer: &impl Serialize) -> Result<Response, Problem> {
        Ok(caching::answer(headers, format::write(self.format, answer)?))
    }
}

fn parse_query(text: &str) -> Result<Value<'_>, Problem> {
    for (byte, _) in text.match_indices('%') {
        let hex = text.as_bytes().get(byte + 1..byte + 3);
        if !hex.is_some_and(|hex| hex.iter().all(u8::is_ascii_hexdigit)) {
            return Err(malformed(Fault::BarePercent { byte }));
        }
    }
    let count = form_urlencoded::parse(text.as_bytes()).count();
    if count > MAX_PARAMETERS {
        // Well-formed, and more than any question needs.
        let fault = Fault::TooManyParameters { count, most: MAX_PARAMETERS };
        let error = FieldError { pointer: Pointer::root(), fault };
        return Err(Refused { first: vec![error.written()], more: 0 }.into());
    }
    let mut entries = Vec::new();
    for (name, value) in form_urlencoded::parse(text.as_bytes()) {
        // Bytes that are not UTF-8 are decoded to the replacement character.
        if name.contains('\u{fffd}') || value.contains('\u{fffd}') {
            return Err(malformed(Fault::NotUtf8));
        }
        insert(&mut entries, name, value);
    }
    Ok(Value::Object(entries))
}

/// Adds a parameter: `source[disc_m]=0.9` to the object `source` (OpenAPI: style deepObject), any other at top level.
fn insert<'t>(entries: &mut Vec<(Cow<'t, str>, Value<'t>)>, name: Cow<'t, str>, value: Cow<'t, str>) {
    let path: Option<Vec<String>> = name.strip_suffix(']').and_then(|name| {
        let mut path = name.split("][").flat_map(|part| part.splitn(2, '[')).map(str::to_owned);
        let path: Vec<String> = path.by_ref().take(MAX_PATH + 1).collect();
        (2..=MAX_PATH).contains(&path.len()).then_some(path)
    });
    let Some(path) = path else {
        entries.push((name, Value::Parameter(value)));
        return;
    };
    let mut current = entries;
    let last = path.len() - 1;
    for (depth, part) in path.into_iter().enumerate() {
        if depth == last {
            current.push((part.into(), Value::Parameter(value)));
            return;
        }
        let found = current.iter().position(|(key, value)| *key == part && matches!(value, Value::Object(_)));
        let index = found.unwrap_or_else(|| {
            current.push((part.into(), Value::Object(Vec::new())));
            current.len() - 1
        });
        let Value::Object(inner) = &mut current[index].1 else { return };
        current = inner;
    }
}
