//! Bytes in, bytes out: the extractors of every calculation and the answers of all.
//!
//! [`Body`] rejects with 406 (no acceptable type), 415 (not JSON by content type) and 413 (too large); where it is
//! answered, with 400 (not JSON) and 422 (every fault of shape and value). [`Query`] rejects with 400 (bad
//! encoding), 422 and, unless the query says a form, 406.

use std::{borrow::Cow, marker::PhantomData, sync::Arc};

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
        calculation::Calculation,
        format::{self, Asked},
    },
    light::{
        error::{FieldError, Pointer},
        interrupt::{Interrupt, NeverInterrupted},
        quantity::rules::Rules,
    },
    request::{self, faults, format::Form, reader::Nothing, value::Value},
    server::{
        caching, negotiation,
        problem::{Kind, Problem},
        state::AppState,
        worker_pool::{WorkerPool, caller_info::CallerInfo},
    },
};

/// How deep objects may stand in a query.
const PATH_MOST: usize = 4;
/// Parameters that a query may have.
const PARAMETERS_MOST: usize = 256;
/// Bytes that a body may have.
pub const BODY_LIMIT: usize = 256 * 1024;

/// Bytes of a body up to which it is read among the light calls. A larger one is read, and its faults are found, on the
/// threads for heavy work: neither ever holds up a light call.
pub const SMALL: usize = 2 * 1024;

/// A calculation asked by a JSON body.
pub struct Body<C> {
    bytes: Bytes,
    asker: CallerInfo,
    workers: WorkerPool,
    loose: Option<LenientText>,
    form: Form,
    calculation: PhantomData<fn() -> C>,
}

/// Places in a body whose texts are read as those of a query: as whatever their fields want. Only a request that is
/// made in this process can say so (`ask`).
#[derive(Debug, Clone)]
pub struct LenientText(pub Vec<Pointer>);

impl<C: Calculation> FromRequest<Arc<AppState>> for Body<C> {
    type Rejection = Problem;

    async fn from_request(mut request: Request, running: &Arc<AppState>) -> Result<Self, Problem> {
        let form = Form::of(request.headers(), format::forms::<C>())?;
        if !is_json(request.headers()) {
            return Err(Problem::new(
                Kind::UnsupportedMediaType,
                "Send the body with Content-Type: application/json (curl --json does).",
            ));
        }
        is_plain(&request)?;
        let loose = request.extensions_mut().remove::<LenientText>();
        let asker = request.extensions_mut().remove::<CallerInfo>().unwrap_or_default();
        let bytes = bytes(request).await?;
        Ok(Self { bytes, asker, workers: running.workers.clone(), loose, form, calculation: PhantomData })
    }
}

impl<C: Calculation> Body<C> {
    /// The answer.
    pub async fn answer(self) -> Result<Response, Problem> {
        // A large picture takes longer than its answer.
        let is_heavy = C::HEAVY || self.form == Form::Svg || self.bytes.len() > SMALL;
        let (media, body) = if is_heavy {
            let (workers, asker) = (self.workers.clone(), self.asker.clone());
            workers.run(asker, move |interrupt| self.tell(interrupt)).await?
        } else {
            self.tell(&NeverInterrupted)
        }?;
        Ok(negotiation::response(media, body))
    }

    /// The answer's media type, and its bytes.
    fn tell(&self, interrupt: &dyn Interrupt) -> Result<(&'static str, Vec<u8>), Problem> {
        let mut tree = parse(&self.bytes)?;
        for place in self.loose.iter().flat_map(|LenientText(places)| places) {
            tree.loosen(place);
        }
        let (request, _) = request::read::<C>(&tree)?;
        drop(tree);
        let answer = request.answer(interrupt).map_err(|faults| refuse(parse(&self.bytes), faults))?;
        format::tell(self.form, &request, &answer)
    }
}

/// The problem of faults that the maths found, in the order of the document. That is read again only here,
/// where something is wrong anyway.
fn refuse(tree: Result<Value<'_>, Problem>, faults: Vec<FieldError>) -> Problem {
    match tree {
        Ok(tree) => faults::in_order(&tree, faults).into(),
        Err(problem) => problem,
    }
}

/// The whole body, as far as the limit allows.
pub async fn bytes(request: Request) -> Result<Bytes, Problem> {
    let mut body = Limited::new(request.into_body(), BODY_LIMIT);
    let mut whole = Bytes::new();
    let mut joined = Vec::new();
    // A small body comes in one piece, mostly, and is not copied.
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
        let piece = frame.into_data().unwrap_or_default();
        if whole.is_empty() && joined.is_empty() {
            whole = piece;
        } else {
            if joined.is_empty() {
                joined.extend_from_slice(&whole);
            }
            joined.extend_from_slice(&piece);
        }
    }
    Ok(if joined.is_empty() { whole } else { joined.into() })
}

/// The problem of a body beyond the limit.
pub fn too_large() -> Problem {
    Problem::new(Kind::TooLarge, format!("The body may have {BODY_LIMIT} bytes."))
}

/// JSON text to a tree; a syntax error says its line and column.
pub fn parse(bytes: &[u8]) -> Result<Value<'_>, Problem> {
    serde_json::from_slice(unmarked(bytes)).map_err(|error| {
        let fault = FieldError {
            place: Pointer::root(),
            detail: format!("cannot be read as JSON: {error}"),
            expected: "one JSON object".to_owned(),
        };
        Problem::located(Kind::Malformed, fault)
    })
}

/// A text without the byte order mark that some editors put before it (RFC 8259, 8.1: it may be ignored).
pub fn unmarked(bytes: &[u8]) -> &[u8] {
    bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes)
}

/// Whether the body is as it looks, and all of the request: not compressed, UTF-8, no query beside it.
pub fn is_plain(request: &Request) -> Result<(), Problem> {
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
    let names = form_urlencoded::parse(query.as_bytes()).take(PARAMETERS_MOST);
    let fault = |(name, _): (Cow<'_, str>, Cow<'_, str>)| FieldError {
        place: Pointer::root().field(&name.chars().take(64).collect::<String>()),
        detail: "a parameter in the query beside a body".to_owned(),
        expected: "all of the request in the body, or all in the query of a GET".to_owned(),
    };
    Err(names.map(fault).collect::<Vec<_>>().into())
}

/// Whether the body is of a media type, by its content type, whose parameters may be any.
pub fn is_media(headers: &HeaderMap, media: &str) -> bool {
    media_of(headers).eq_ignore_ascii_case(media)
}

/// Whether the body is JSON by its content type.
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

/// Whether the caller takes an answer of this type.
pub fn takes(headers: &HeaderMap, media: &'static str) -> Result<(), Problem> {
    negotiation::choose(headers, [(media, ())]).ok_or_else(|| {
        let told = format!("Answers are {media}, which the Accept header does not allow.");
        Problem::new(Kind::NotAcceptable, told)
    })
}

/// A request read from the query string.
pub struct Query<T> {
    request: T,
    /// What it says beside its own fields.
    pub rules: Rules,
    form: Form,
    text: String,
}

impl<S: Send + Sync, T: Asked> FromRequestParts<S> for Query<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        let text = parts.uri.query().unwrap_or_default();
        let tree = parse_query(text)?;
        let (request, rules, form) = request::read_query(&tree, T::FORMS)?;
        let form = form.map_or_else(|| Form::of(&parts.headers, T::FORMS), Ok)?;
        Ok(Self { request, rules, form, text: text.to_owned() })
    }
}

impl<C: Calculation> Query<C> {
    /// The answer, which a cache may keep. Heavy calculations are not asked by query.
    pub fn answer(self, headers: &HeaderMap) -> Result<Response, Problem> {
        let Self { request, form, text, .. } = self;
        let computed = request.answer(&NeverInterrupted);
        let answer = computed.map_err(|faults| refuse(parse_query(&text), faults))?;
        Ok(caching::answer(headers, format::tell(form, &request, &answer)?))
    }
}

impl Query<Nothing> {
    /// An answer that depends on nothing else, which a cache may keep.
    pub fn tell<T: Serialize>(&self, headers: &HeaderMap, answer: &T) -> Result<Response, Problem> {
        Ok(caching::answer(headers, format::write(self.form, answer)?))
    }
}

fn parse_query(text: &str) -> Result<Value<'_>, Problem> {
    let bad = |detail: String, expected: &str| {
        let fault = FieldError { place: Pointer::root(), detail, expected: expected.to_owned() };
        Err(Problem::located(Kind::Malformed, fault))
    };
    for (at, _) in text.match_indices('%') {
        let hex = text.as_bytes().get(at + 1..at + 3);
        if !hex.is_some_and(|hex| hex.iter().all(u8::is_ascii_hexdigit)) {
            return bad(
                format!("the query has a bare % at byte {at}"),
                "%25 for a percent sign, %2B for a plus sign",
            );
        }
    }
    let count = form_urlencoded::parse(text.as_bytes()).count();
    if count > PARAMETERS_MOST {
        return bad(format!("the query has {count} parameters"), &format!("at most {PARAMETERS_MOST}"));
    }
    let mut entries = Vec::new();
    for (name, value) in form_urlencoded::parse(text.as_bytes()) {
        // Bytes that are not UTF-8 decode to the replacement character.
        if name.contains('\u{fffd}') || value.contains('\u{fffd}') {
            return bad("the query is not UTF-8".to_owned(), "percent-encoded UTF-8");
        }
        insert(&mut entries, name, value);
    }
    Ok(Value::Object(entries))
}

/// Puts `source[disc_m]=0.9` into the object `source` (OpenAPI: style deepObject), all else at top level.
fn insert<'t>(entries: &mut Vec<(Cow<'t, str>, Value<'t>)>, name: Cow<'t, str>, value: Cow<'t, str>) {
    let path: Option<Vec<String>> = name.strip_suffix(']').and_then(|name| {
        let mut path = name.split("][").flat_map(|part| part.splitn(2, '[')).map(str::to_owned);
        let path: Vec<String> = path.by_ref().take(PATH_MOST + 1).collect();
        (2..=PATH_MOST).contains(&path.len()).then_some(path)
    });
    let Some(path) = path else {
        entries.push((name, Value::Parameter(value)));
        return;
    };
    let mut here = entries;
    let last = path.len() - 1;
    for (depth, part) in path.into_iter().enumerate() {
        if depth == last {
            here.push((part.into(), Value::Parameter(value)));
            return;
        }
        let found = here.iter().position(|(key, tree)| *key == part && matches!(tree, Value::Object(_)));
        let index = found.unwrap_or_else(|| {
            here.push((part.into(), Value::Object(Vec::new())));
            here.len() - 1
        });
        let Value::Object(inner) = &mut here[index].1 else { return };
        here = inner;
    }
}
