//! The responses and headers that operations share, each declared once and referred to by its status or its name.
//!
//! Which refusals an operation can answer follows from the stack in `app.rs` and from its own shape.

use serde_json::{Map, Value, json};

use crate::server::problem::Kind;

/// The headers, with what they say and their types. Those of a cache only on what caches may keep.
const HEADERS: [(&str, &str, &str); 8] = [
    (
        "X-Request-Id",
        "string",
        "The id of the request: the client's own if it sent one of 1 to 64 letters, digits, `.`, `_`, `-`.",
    ),
    (
        "RateLimit",
        "string",
        "What the caller has left of its calls: `\"calls\";r=9;t=1` (r calls at once, all of them again in t seconds). Only if the service limits rates.",
    ),
    (
        "RateLimit-Policy",
        "string",
        "The limit: `\"calls\";q=10;w=10` (q calls in w seconds). Only if the service limits rates.",
    ),
    ("ETag", "string", "A weak entity tag; send it back in `If-None-Match`."),
    ("Cache-Control", "string", "How long the answer may be kept, and by which caches."),
    (
        "Vary",
        "string",
        "The request headers on which the answer depends. Answers too small to compress need not have it.",
    ),
    ("Retry-After", "integer", "Seconds after which to send the request again."),
    ("WWW-Authenticate", "string", "`Bearer`: send a key."),
];
/// On every response.
const ALWAYS: &[&str] = &["X-Request-Id"];
/// On the responses to calculations.
const RATES: &[&str] = &["RateLimit", "RateLimit-Policy"];
/// On what caches may keep.
const CACHED: &[&str] = &["ETag", "Cache-Control", "Vary"];
/// On what is compressed if it is large.
const COMPRESSED: &[&str] = &["Vary"];

/// Adds the refusals that each operation can answer, 304, and the headers.
pub fn add(document: &mut Value) {
    for (name, kind, description) in HEADERS {
        document["components"]["headers"][name] =
            json!({"description": description, "schema": {"type": kind}});
    }
    let mut used: Vec<Kind> = Vec::new();
    for (path, operations) in document["paths"].as_object_mut().into_iter().flatten() {
        let is_limited = path.starts_with("/v1/");
        for (method, operation) in operations.as_object_mut().into_iter().flatten() {
            let is_cached = method == "get" && !matches!(path.as_str(), "/healthz" | "/readyz");
            let kinds: Vec<Kind> =
                Kind::ALL.into_iter().filter(|kind| can_answer(*kind, path, operation)).collect();
            let of_cache = if is_cached { CACHED } else { COMPRESSED };
            let headers = [Some(ALWAYS), is_limited.then_some(RATES), Some(of_cache)];
            let responses = &mut operation["responses"];
            responses["200"]["headers"] = references(headers.into_iter().flatten());
            if is_cached {
                responses["304"] = json!({"$ref": "#/components/responses/304"});
            }
            for kind in &kinds {
                let status = kind.status();
                responses[status.as_str()] =
                    json!({"$ref": format!("#/components/responses/{}", status.as_str())});
            }
            used.extend(kinds);
        }
    }
    let responses = &mut document["components"]["responses"];
    responses["304"] = json!({
        "description": "What the client has is still right: its `If-None-Match` names the answer's tag",
        "headers": references([ALWAYS, RATES, CACHED])
    });
    for kind in Kind::ALL.into_iter().filter(|kind| used.contains(kind)) {
        responses[kind.status().as_str()] = json!({
            "description": kind.title(),
            "headers": references([ALWAYS, own_headers(kind)]),
            "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
        });
    }
}

/// Whether an operation can answer with this kind of problem.
fn can_answer(kind: Kind, path: &str, operation: &Value) -> bool {
    let is_calculation = path.starts_with("/v1/");
    let has_body = operation.get("requestBody").is_some();
    match kind {
        // The listener, the checks of the message, the time limit and the catcher of panics are around every route.
        Kind::Malformed | Kind::Timeout | Kind::Internal | Kind::Unavailable => true,
        // Every query and body of a calculation is checked for unknown names.
        Kind::Unauthorized | Kind::TooMany | Kind::Invalid => is_calculation,
        // A path that is there is found, unless a part of it is free.
        Kind::NotFound => path.contains('{'),
        // Another method is no operation of the document.
        Kind::MethodNotAllowed => false,
        Kind::NotAcceptable => {
            operation["responses"]["200"]["content"].as_object().is_some_and(|all| all.len() > 1)
        }
        Kind::TooLarge | Kind::UnsupportedMediaType => has_body,
    }
}

/// The headers of a refusal beside the id.
const fn own_headers(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Unauthorized => &["WWW-Authenticate", "RateLimit", "RateLimit-Policy"],
        Kind::TooMany => &["Retry-After", "RateLimit", "RateLimit-Policy"],
        Kind::Unavailable => &["Retry-After"],
        Kind::Invalid | Kind::TooLarge | Kind::UnsupportedMediaType => RATES,
        _ => &[],
    }
}

fn references<'n>(names: impl IntoIterator<Item = &'n [&'static str]>) -> Value {
    let reference =
        |name: &&str| ((*name).to_owned(), json!({"$ref": format!("#/components/headers/{name}")}));
    Value::Object(names.into_iter().flatten().map(reference).collect::<Map<_, _>>())
}
