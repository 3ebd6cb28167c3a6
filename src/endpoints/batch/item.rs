//! One item: its envelope, the calculation that it asks for, and the line that answers it.

use std::{
    io::Write as _,
    panic::{AssertUnwindSafe, catch_unwind},
};

use crate::{
    endpoints::{batch::BatchItem, extract, registry},
    light::{error, interrupt::Interrupt},
    request::{
        place::At,
        reader::{NAME_MOST, Read, Reader},
        value::Value,
    },
    server::problem::{Kind, Problem},
};

/// Answers the item whose text is `text`, and writes the answer to the end of `out`. Where it cannot be read, its
/// number tells which it is.
pub fn answer(
    text: &[u8],
    (what, number): (&str, usize),
    request_id: &str,
    interrupt: &dyn Interrupt,
    out: &mut Vec<u8>,
) {
    let tree = match extract::parse(text) {
        Ok(tree) => tree,
        Err(problem) => return write_problem(None, &problem.for_item(what, number), request_id, out),
    };
    let id = id(&tree);
    let begun = out.len();
    write_head(id, 200, out);
    // The same net that HTTP has under its handlers: nothing is shared that a panic could leave half done.
    let answered = catch_unwind(AssertUnwindSafe(|| dispatch(&tree, interrupt, out)));
    match answered.unwrap_or_else(|_| Err(Problem::new(Kind::Internal, "The calculation failed."))) {
        Ok(()) => out.push(b'}'),
        Err(problem) => {
            out.truncate(begun);
            write_problem(id, &problem, request_id, out);
        }
    }
}

/// Writes the problem of an item that is not answered.
pub fn refuse(text: &[u8], problem: &Problem, request_id: &str, out: &mut Vec<u8>) {
    let tree = extract::parse(text);
    write_problem(tree.as_ref().ok().and_then(id), problem, request_id, out);
}

/// Writes a problem in place of an answer.
pub fn write_problem(id: Option<&str>, problem: &Problem, request_id: &str, out: &mut Vec<u8>) {
    write_head(id, problem.status().as_u16(), out);
    out.extend(problem.document(request_id));
    out.push(b'}');
}

fn write_head(id: Option<&str>, status: u16, out: &mut Vec<u8>) {
    // Writing to a Vec cannot fail.
    out.extend_from_slice(b"{\"id\":");
    let _ = serde_json::to_writer(&mut *out, &id);
    let _ = write!(out, ",\"status\":{status},\"body\":");
}

/// The id that was given, if it is one.
fn id<'t>(tree: &'t Value<'_>) -> Option<&'t str> {
    match tree.get("id")? {
        Value::Text(id) if (1..=NAME_MOST).contains(&id.chars().count()) => Some(id),
        _ => None,
    }
}

fn dispatch(tree: &Value<'_>, interrupt: &dyn Interrupt, out: &mut Vec<u8>) -> Result<(), Problem> {
    let mut reader = Reader::of(tree);
    let item = BatchItem::read(tree, &At::Root, &mut reader);
    reader.finish()?;
    let (Some(BatchItem { path, .. }), Some(body)) = (item, tree.get("body")) else {
        return Err(Problem::new(Kind::Internal, "The item was not read."));
    };
    match registry::find(&path) {
        Some(entry) => (entry.run)(body, interrupt, out),
        None => {
            let known: Vec<String> =
                registry::ALL.iter().map(|entry| format!("/v1/{}", entry.path)).collect();
            let known = error::names(&known);
            let detail = format!("\"{path}\" is no calculation that takes a body. These are: {known}.");
            Err(Problem::new(Kind::NotFound, detail))
        }
    }
}
