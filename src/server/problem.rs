//! Errors as problem documents (RFC 9457), one shape for all of them.
//!
//! The kinds are in `problem/kind.rs`.

mod kind;
mod shortened;
#[cfg(test)]
mod tests;

use std::borrow::Cow;

use axum::{
    body::Bytes,
    http::{HeaderMap, HeaderValue, StatusCode, header},
    response::{IntoResponse, Response},
};
use serde::Serialize;
use serde_json::{Map, Value};
use utoipa::{
    PartialSchema, ToSchema,
    openapi::{ObjectBuilder, Ref, RefOr, Schema, Type, schema::AdditionalProperties},
};

use super::negotiation;

pub use self::{
    kind::Kind,
    shortened::{json_bytes, shortened},
};

/// The media type of a problem document.
pub const MEDIA: &str = "application/problem+json";

/// Makes the page for a browser from a problem document.
pub type ProblemPage = fn(&[u8]) -> String;

/// The size limit of a problem document, in bytes.
pub const MAX_DOCUMENT_BYTES: usize = 64 * 1024;
/// Bytes reserved for everything but the list of errors.
const AROUND: usize = 4 * 1024;
/// Bytes of one listed error beside its texts: field names, indents, quotes, the code.
const AROUND_FAULT: usize = 176;
/// Bytes around one param or one name in a list: indent, quotes.
const AROUND_PARAM: usize = 16;
/// Bytes of a pointer. It may quote the request, which can be long, so it is cut at the end.
const MAX_POINTER_BYTES: usize = 256;
/// Bytes of a detail or expectation, cut likewise.
const MAX_TEXT_BYTES: usize = 400;
/// Bytes of a text in the params, cut likewise.
const MAX_PARAM_BYTES: usize = 160;
/// Names in a list of the params.
const MAX_NAMES: usize = 8;
/// Bytes of all names in a list of the params. If they have more, each is cut.
const MAX_NAMES_BYTES: usize = 240;

/// The only error of a request that cannot be read at all, if no other is known.
pub const MALFORMED: [&str; 3] =
    ["malformed", "the request cannot be read; the detail of the problem says why", "a whole request"];

/// Errors listed at most.
pub const LISTED: usize = 100;

/// The errors of a rejected request.
#[derive(Debug, Clone, Default)]
pub struct Refused {
    /// The first errors, in document order.
    pub first: Vec<LocatedError>,
    /// The number of errors beyond those.
    pub more: usize,
}

/// An error on its way to the client. It travels in the extensions of its response; the problem layer writes it out
/// with the request id.
#[derive(Debug, Clone)]
pub struct Problem {
    kind: Kind,
    detail: String,
    errors: Vec<LocatedError>,
    /// The number of errors beyond those.
    more_errors: usize,
    retry_after_s: Option<u64>,
    /// The document, if it is written already.
    written: Option<Bytes>,
}

impl Problem {
    /// A problem without located errors.
    pub fn new(kind: Kind, detail: impl Into<String>) -> Self {
        let retry_after_s = (kind == Kind::Unavailable).then_some(1);
        let detail = shortened(&detail.into(), MAX_TEXT_BYTES + MAX_POINTER_BYTES).into_owned();
        Self { kind, detail, errors: Vec::new(), more_errors: 0, retry_after_s, written: None }
    }

    /// A problem with one located error.
    pub fn located(kind: Kind, error: LocatedError) -> Self {
        let detail = error.detail.clone();
        Self { errors: vec![error], ..Self::new(kind, detail) }
    }

    /// The problem for an error response of the framework, which has a status and no document.
    pub fn from_status(status: StatusCode) -> Self {
        let kind = Kind::from_status(status);
        let detail = match kind {
            Kind::MethodNotAllowed => "The Allow header names the methods that it takes.",
            _ => kind.title(),
        };
        Self::new(kind, detail)
    }

    /// Sets `Retry-After`, in seconds.
    #[must_use]
    pub const fn retry_after(mut self, seconds: u64) -> Self {
        self.retry_after_s = Some(seconds);
        self
    }

    /// Prefixes the detail with the item of a batch that it is about.
    #[must_use]
    pub fn for_item(mut self, what: &str, number: usize) -> Self {
        self.detail = format!("{what} {number}: {}", self.detail);
        self
    }

    /// The same problem of a request that states all of it in one parameter.
    #[must_use]
    pub fn in_parameter(mut self, pointer: &str) -> Self {
        for error in &mut self.errors {
            pointer.clone_into(&mut error.pointer);
        }
        self
    }

    /// The HTTP status.
    pub const fn status(&self) -> StatusCode {
        self.kind.status()
    }

    /// The document as JSON on one line.
    pub fn document(&self, request_id: &str) -> Vec<u8> {
        serde_json::to_vec(&self.to_document(request_id)).unwrap_or_default()
    }

    fn to_document<'p>(&'p self, request_id: &'p str) -> ProblemDocument<'p> {
        let located = matches!(self.kind, Kind::Malformed | Kind::Invalid);
        ProblemDocument {
            r#type: format!("/problems/{}", self.kind.slug()),
            title: self.kind.title(),
            status: self.kind.status().as_u16(),
            detail: &self.detail,
            request_id,
            errors: located.then(|| {
                if self.errors.is_empty() {
                    let [code, detail, expected] = MALFORMED;
                    Cow::Owned(vec![LocatedError::new("", code, [detail, expected], Map::new())])
                } else {
                    Cow::Borrowed(self.errors.as_slice())
                }
            }),
            more_errors: self.more_errors,
        }
    }

    /// Writes the document now, on this thread, instead of in the problem layer.
    #[must_use]
    pub fn written(mut self, request_id: &HeaderValue) -> Self {
        self.written = Some(self.pretty_document(request_id));
        self.errors = Vec::new();
        self
    }

    /// The document as people read it in a terminal.
    fn pretty_document(&self, request_id: &HeaderValue) -> Bytes {
        let document = self.to_document(request_id.to_str().unwrap_or_default());
        let mut body = serde_json::to_vec_pretty(&document).unwrap_or_default();
        body.push(b'\n');
        body.into()
    }

    /// The response with the document, or with the page for a browser, keeping the headers that are already set (such as
    /// `Allow`).
    pub fn to_response(
        &self,
        mut headers: HeaderMap,
        request_id: &HeaderValue,
        page: Option<ProblemPage>,
    ) -> Response {
        let document = self.written.clone().unwrap_or_else(|| self.pretty_document(request_id));
        let (media, body) = match page {
            Some(page) => (negotiation::HTML_UTF8, page(&document).into()),
            None => (MEDIA, document),
        };
        headers.remove(header::CONTENT_LENGTH);
        headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(media));
        headers.append(header::VARY, HeaderValue::from_static("accept"));
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
        if self.kind == Kind::Unauthorized {
            headers.insert(header::WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        if let Some(seconds) = self.retry_after_s {
            headers.insert(header::RETRY_AFTER, seconds.into());
        }
        (self.kind.status(), headers, body).into_response()
    }
}

impl From<Refused> for Problem {
    fn from(refused: Refused) -> Self {
        let count = refused.first.len() + refused.more;
        let mut room = MAX_DOCUMENT_BYTES - AROUND;
        let errors: Vec<LocatedError> = refused
            .first
            .into_iter()
            .take_while(|error| {
                let fits = room.checked_sub(error.bytes());
                room = fits.unwrap_or_default();
                fits.is_some()
            })
            .collect();
        let detail = match errors.as_slice() {
            [error] if count == 1 && error.pointer.is_empty() => error.detail.clone(),
            [error] if count == 1 => format!("{}: {}", error.pointer, error.detail),
            _ => format!("{count} faults"),
        };
        Self { more_errors: count - errors.len(), errors, ..Self::new(Kind::Invalid, detail) }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut response = self.kind.status().into_response();
        response.extensions_mut().insert(self);
        response
    }
}

/// A problem document (RFC 9457).
#[derive(Serialize, ToSchema)]
#[schema(as = Problem)]
pub struct ProblemDocument<'p> {
    /// A path on this server that explains the problem. Stable.
    #[schema(examples("/problems/invalid-request"))]
    r#type: String,
    /// The kind of problem in words.
    title: &'p str,
    /// The HTTP status.
    #[schema(minimum = 400, maximum = 599)]
    status: u16,
    /// What is wrong with this request.
    detail: &'p str,
    /// The id of this request, also in the header `X-Request-Id`.
    request_id: &'p str,
    /// For 400 and 422: the faults in the request, in document order. At most 100 are listed, and fewer if the document would exceed 64 KiB; `more_errors` counts the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(nullable = false, value_type = Option<Vec<LocatedError>>, max_items = 100)]
    errors: Option<Cow<'p, [LocatedError]>>,
    /// The number of faults beyond those in `errors`. Absent if `errors` lists all of them.
    #[serde(skip_serializing_if = "is_none_more")]
    #[schema(nullable = false, value_type = Option<usize>, minimum = 1)]
    more_errors: usize,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the signature that serde requires")]
const fn is_none_more(more: &usize) -> bool {
    *more == 0
}

/// One fault of a request.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct LocatedError {
    /// Where the fault is: a JSON pointer into the request (RFC 6901); for a query, `/` and the parameter's name. A pointer that ends with `…` is shortened.
    #[schema(examples("/lights/1/distance"))]
    pointer: String,
    #[schema(schema_with = code_schema)]
    code: &'static str,
    /// What is wrong there.
    detail: String,
    /// What is expected instead.
    expected: String,
    /// The numbers and names in `detail` and `expected`, by the names in the templates of `/v1/codes`. Long texts are shortened and end with `…`; a list with more than eight names has `…` as its ninth.
    #[serde(skip_serializing_if = "Map::is_empty")]
    #[schema(nullable = false, value_type = Option<ParamsSchema>)]
    params: Params,
}

/// The codes are declared with the sentences, above this room.
fn code_schema() -> RefOr<Schema> {
    let code = Ref::builder().ref_location_from_schema_name("FaultCode");
    code.description(Some("A stable code for programs; `/v1/codes` lists them all.")).into()
}

/// The numbers and names of a sentence, by name.
pub type Params = Map<String, Value>;

/// [`Params`] in the OpenAPI document.
pub struct ParamsSchema;

impl PartialSchema for ParamsSchema {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new()
            .schema_type(Type::Object)
            .additional_properties(Some(AdditionalProperties::FreeForm(true)))
            .description(Some(
                "The numbers and names of a text, by their names in its template in `/v1/codes`.",
            ))
            .into()
    }
}

impl ToSchema for ParamsSchema {
    fn name() -> Cow<'static, str> {
        "Params".into()
    }
}

impl LocatedError {
    /// An error with finished texts and params.
    pub fn new(pointer: &str, code: &'static str, [detail, expected]: [&str; 2], mut params: Params) -> Self {
        params.values_mut().for_each(shorten);
        Self {
            // Shortening may cut the escape `~0` or `~1` in two; the half is dropped.
            pointer: shortened(pointer, MAX_POINTER_BYTES).replace("~…", "…"),
            code,
            detail: shortened(detail, MAX_TEXT_BYTES).into_owned(),
            expected: shortened(expected, MAX_TEXT_BYTES).into_owned(),
            params,
        }
    }

    /// Where it is.
    pub fn pointer(&self) -> &str {
        &self.pointer
    }

    /// Bytes that this error takes in the document.
    fn bytes(&self) -> usize {
        let texts = [&self.pointer, &self.detail, &self.expected];
        let params: usize =
            self.params.iter().map(|(name, value)| name.len() + AROUND_PARAM + param_bytes(value)).sum();
        AROUND_FAULT + texts.into_iter().map(|text| text_bytes(text)).sum::<usize>() + params
    }
}

/// Bounds a param: texts are cut, lists end after eight names with `…`.
fn shorten(param: &mut Value) {
    match param {
        Value::String(text) => *text = shortened(text, MAX_PARAM_BYTES).into_owned(),
        Value::Array(names) => {
            let is_cut = names.len() > MAX_NAMES;
            names.truncate(MAX_NAMES);
            if names.iter().map(param_bytes).sum::<usize>() > MAX_NAMES_BYTES {
                let most = MAX_NAMES_BYTES / names.len();
                for name in &mut *names {
                    if let Value::String(text) = name {
                        *text = shortened(text, most).into_owned();
                    }
                }
            }
            names.extend(is_cut.then(|| "…".into()));
        }
        _ => {}
    }
}

/// Bytes of a param in the document, at most.
fn param_bytes(param: &Value) -> usize {
    match param {
        Value::String(text) => text_bytes(text),
        Value::Array(names) => names.iter().map(|name| AROUND_PARAM + param_bytes(name)).sum(),
        number => number.to_string().len(),
    }
}

fn text_bytes(text: &str) -> usize {
    text.chars().map(json_bytes).sum()
}
