//! One item: its envelope, its calculation, and the line that answers it.

use std::{
    io::Write as _,
    panic::{AssertUnwindSafe, catch_unwind},
};

use crate::{
    endpoints::{batch::request::BatchItem, registry},
    light::{id::Id, interrupt::Interrupt},
    request::{
        json,
        place::At,
        reader::{Read, Reader},
        value::Value,
    },
    server::problem::{Kind, Problem},
    wording::format::names,
};

/// Answers the item in `text`, its body with the `defaults`, and appends the answer to `out`. If the item is not JSON, the problem names its number.
pub fn answer(
    text: &[u8],
    defaults: Option<&Value<'_>>,
    (what, number): (&str, usize),
    request_id: &str,
    interrupt: &dyn Interrupt,
    out: &mut Vec<u8>,
) {
    let value = match json::parse(text) {
        Ok(mut value) => {
            if let Some(defaults) = defaults {
                fill_in(&mut value, defaults);
            }
            value
        }
        Err(problem) => return write_problem(None, &problem.for_item(what, number), request_id, out),
    };
    let id = id(&value);
    let start = out.len();
    write_head(id.as_ref(), 200, out);
    // Catches panics, as the HTTP layer does for handlers. A panic cannot leave shared state inconsistent: there is none.
    let outcome = catch_unwind(AssertUnwindSafe(|| dispatch(&value, interrupt, out)));
    match outcome.unwrap_or_else(|_| Err(Problem::new(Kind::Internal, "The calculation failed."))) {
        Ok(()) => out.push(b'}'),
        Err(problem) => {
            out.truncate(start);
            write_problem(id.as_ref(), &problem, request_id, out);
        }
    }
}

/// Adds to the body of an item the fields that it lacks.
fn fill_in<'t>(item: &mut Value<'t>, defaults: &Value<'t>) {
    let Value::Object(entries) = item else { return };
    let body = entries.iter_mut().find(|(name, _)| name == "body").map(|(_, body)| body);
    let (Some(Value::Object(body)), Value::Object(defaults)) = (body, defaults) else { return };
    let lacking: Vec<_> =
        defaults.iter().filter(|(name, _)| body.iter().all(|(known, _)| known != name)).cloned().collect();
    body.extend(lacking);
}

/// Writes a problem for an item without running its calculation.
pub fn reject(text: &[u8], problem: &Problem, request_id: &str, out: &mut Vec<u8>) {
    let value = json::parse(text);
    write_problem(value.as_ref().ok().and_then(id).as_ref(), problem, request_id, out);
}

/// Writes a problem instead of an answer.
pub fn write_problem(id: Option<&Id>, problem: &Problem, request_id: &str, out: &mut Vec<u8>) {
    write_head(id, problem.status().as_u16(), out);
    out.extend(problem.document(request_id));
    out.push(b'}');
}

fn write_head(id: Option<&Id>, status: u16, out: &mut Vec<u8>) {
    // Writing to a Vec cannot fail.
    out.extend_from_slice(b"{\"id\":");
    let _ = serde_json::to_writer(&mut *out, &id);
    let _ = write!(out, ",\"status\":{status},\"body\":");
}

/// The item's id, if it has a valid one.
fn id(value: &Value<'_>) -> Option<Id> {
    Id::read(value.get("id")?, &At::Root, &mut Reader::default())
}

/// Reads the envelope and runs the calculation at its path.
fn dispatch(value: &Value<'_>, interrupt: &dyn Interrupt, out: &mut Vec<u8>) -> Result<(), Problem> {
    let mut reader = Reader::new(value);
    let item = BatchItem::read(value, &At::Root, &mut reader);
    reader.finish()?;
    let (Some(BatchItem { path, .. }), Some(body)) = (item, value.get("body")) else {
        return Err(Problem::new(Kind::Internal, "The item was not read."));
    };
    match registry::find(&path) {
        Some(entry) => (entry.run)(body, interrupt, out),
        None => {
            let known: Vec<String> =
                registry::ALL.iter().map(|entry| format!("/v1/{}", entry.path)).collect();
            let known = names(&known);
            let detail = format!("\"{path}\" is no calculation that takes a body. These are: {known}.");
            Err(Problem::new(Kind::NotFound, detail))
        }
    }
}
