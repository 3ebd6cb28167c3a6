//! What a document breaks for clients of an older one.
//!
//! A request that the old document allowed must still be allowed; an answer of the new one must be one that readers of the
//! old one understand, fields and words that they do not know aside. No tool for that could be had: oasdiff is for Go,
//! openapi-diff (npm) reads OpenAPI 3.0 only, optic is archived.

use std::collections::BTreeSet;

use serde_json::{Map, Value};

/// Everything that breaks, each with its place.
pub fn breaks(old: &Value, new: &Value) -> Vec<String> {
    let mut check = Check { old, new, found: Vec::new(), inside: BTreeSet::new() };
    for (path, operations) in entries(&old["paths"]) {
        for (method, operation) in entries(operations) {
            let at = format!("{} {path}", method.to_uppercase());
            match new["paths"][path].get(method) {
                Some(now) => check.operation(operation, now, &at),
                None => check.found(&at, "is gone"),
            }
        }
    }
    check.found
}

/// Which way a value goes.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Way {
    Request,
    Answer,
}

struct Check<'d> {
    old: &'d Value,
    new: &'d Value,
    found: Vec<String>,
    /// The pairs of named schemas that are being compared, since schemas may contain themselves.
    inside: BTreeSet<(String, String, Way)>,
}

fn entries(value: &Value) -> impl Iterator<Item = (&String, &Value)> {
    value.as_object().into_iter().flatten()
}

fn list(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

/// What a reference refers to; any other value is itself.
fn resolved<'d>(document: &'d Value, mut value: &'d Value) -> &'d Value {
    while let Some(path) = value["$ref"].as_str() {
        value = document.pointer(&path[1..]).expect("the reference points somewhere");
    }
    value
}

/// The schemas of which a value fits one, each of a single type; parts of `allOf` are joined.
fn alternatives(document: &Value, schema: &Value) -> Vec<Value> {
    let schema = resolved(document, schema);
    if let Some(union) = schema.get("oneOf").or_else(|| schema.get("anyOf")) {
        return list(union).flat_map(|part| alternatives(document, part)).collect();
    }
    let mut schema = schema.clone();
    if let Some(all) = schema.get("allOf").cloned() {
        let mut joined = Map::from_iter([("type".to_owned(), "object".into())]);
        for part in list(&all).map(|part| resolved(document, part)) {
            for name in ["properties", "required"] {
                let before = joined.remove(name).filter(|before| !before.is_null());
                let both = match (before, part.get(name)) {
                    (Some(Value::Object(mut a)), Some(Value::Object(b))) => {
                        a.extend(b.clone());
                        Value::Object(a)
                    }
                    (Some(Value::Array(a)), Some(Value::Array(b))) => a.iter().chain(b).cloned().collect(),
                    (before, part) => before.or(part.cloned()).unwrap_or_default(),
                };
                joined.insert(name.to_owned(), both);
            }
        }
        schema = Value::Object(joined);
    }
    let kinds = match schema["type"].take() {
        Value::Array(kinds) => kinds,
        kind => vec![kind],
    };
    let with_kind = |kind| {
        let mut one = schema.clone();
        one["type"] = kind;
        one
    };
    kinds.into_iter().map(with_kind).collect()
}

impl Check<'_> {
    fn found(&mut self, at: &str, what: impl std::fmt::Display) {
        self.found.push(format!("{at}: {what}"));
    }

    fn operation(&mut self, old: &Value, new: &Value, at: &str) {
        let (before, after) = (self.old, self.new);
        let parameters = |document, operation: &Value| -> Vec<Value> {
            list(&operation["parameters"]).map(|one| resolved(document, one).clone()).collect()
        };
        let (was, now) = (parameters(before, old), parameters(after, new));
        let same = |a: &Value, b: &Value| a["name"] == b["name"] && a["in"] == b["in"];
        for one in &was {
            let at = format!("{at} parameter {}", one["name"]);
            match now.iter().find(|other| same(one, other)) {
                Some(other) => self.schema(&one["schema"], &other["schema"], Way::Request, &at),
                None => self.found(&at, "is gone"),
            }
        }
        for one in now.iter().filter(|one| one["required"] == true) {
            if !was.iter().any(|other| same(one, other) && other["required"] == true) {
                self.found(at, format!("parameter {} is required now", one["name"]));
            }
        }
        let (body, body_now) = (&old["requestBody"], &new["requestBody"]);
        if body["required"] != true && body_now["required"] == true {
            self.found(at, "a body is required now");
        }
        self.content(&body["content"], &body_now["content"], Way::Request, &format!("{at} request"));
        for (status, response) in entries(&old["responses"]) {
            let at = format!("{at} {status}");
            let Some(response_now) = new["responses"].get(status) else {
                self.found(&at, "is gone");
                continue;
            };
            let (response, response_now) = (resolved(before, response), resolved(after, response_now));
            for (name, _) in entries(&response["headers"]) {
                if response_now["headers"].get(name).is_none() {
                    self.found(&at, format!("header {name} is gone"));
                }
            }
            self.content(&response["content"], &response_now["content"], Way::Answer, &at);
        }
    }

    fn content(&mut self, old: &Value, new: &Value, way: Way, at: &str) {
        for (media, content) in entries(old) {
            match new.get(media) {
                Some(now) => self.schema(&content["schema"], &now["schema"], way, at),
                None => self.found(at, format!("{media} is gone")),
            }
        }
    }

    fn schema(&mut self, old: &Value, new: &Value, way: Way, at: &str) {
        let name = |schema: &Value| schema["$ref"].as_str().unwrap_or_default().to_owned();
        let pair = (name(old), name(new), way);
        let is_named = !pair.0.is_empty() && !pair.1.is_empty();
        if is_named && !self.inside.insert(pair.clone()) {
            return;
        }
        let (was, now) = (alternatives(self.old, old), alternatives(self.new, new));
        // What was sent must find a taker, what is answered must find a reader.
        let (values, fits) = if way == Way::Request { (&was, &now) } else { (&now, &was) };
        for value in values {
            let mut least: Option<Vec<String>> = None;
            for fit in fits.iter().filter(|fit| is_kind_of(&value["type"], &fit["type"])) {
                let (old, new) = if way == Way::Request { (value, fit) } else { (fit, value) };
                let others = std::mem::take(&mut self.found);
                self.single(old, new, way, at);
                let found = std::mem::replace(&mut self.found, others);
                if least.as_ref().is_none_or(|least| found.len() < least.len()) {
                    least = Some(found);
                }
            }
            match (least, way) {
                (Some(found), _) => self.found.extend(found),
                (None, Way::Request) => {
                    self.found(at, format!("may not be of type {} any more", value["type"]));
                }
                (None, Way::Answer) => self.found(at, format!("may be of type {} now", value["type"])),
            }
        }
        if is_named {
            self.inside.remove(&pair);
        }
    }

    /// Compares two schemas of one type.
    fn single(&mut self, old: &Value, new: &Value, way: Way, at: &str) {
        if way == Way::Request {
            for (name, is_narrower) in [
                ("minimum", f64::gt as fn(&f64, &f64) -> bool),
                ("exclusiveMinimum", f64::gt),
                ("minLength", f64::gt),
                ("minItems", f64::gt),
                ("maximum", f64::lt),
                ("exclusiveMaximum", f64::lt),
                ("maxLength", f64::lt),
                ("maxItems", f64::lt),
            ] {
                let Some(now) = new[name].as_f64() else { continue };
                if old[name].as_f64().is_none_or(|was| is_narrower(&now, &was)) {
                    self.found(at, format!("{name} is {now} now"));
                }
            }
            // Whether another pattern allows more cannot be told.
            if new.get("pattern").is_some() && old["pattern"] != new["pattern"] {
                self.found(at, "has another pattern");
            }
            if let Some(words) = new["enum"].as_array() {
                match old["enum"].as_array() {
                    None => self.found(at, "may only be one of some words now"),
                    Some(was) => {
                        for word in was.iter().filter(|word| !words.contains(word)) {
                            self.found(at, format!("may not be {word} any more"));
                        }
                    }
                }
            }
        }
        let is_required = |schema: &Value, name: &str| list(&schema["required"]).any(|one| one == name);
        for (name, field) in entries(&old["properties"]) {
            let at = format!("{at}/{name}");
            match new["properties"].get(name) {
                Some(now) => self.schema(field, now, way, &at),
                None => self.found(&at, "is gone"),
            }
            if way == Way::Answer && is_required(old, name) && !is_required(new, name) {
                self.found(&at, "may be left out now");
            }
        }
        if way == Way::Request {
            for name in list(&new["required"]).filter_map(Value::as_str) {
                if !is_required(old, name) {
                    self.found(&format!("{at}/{name}"), "is required now");
                }
            }
            if old["additionalProperties"] == true && new["additionalProperties"] == false {
                self.found(at, "takes no other fields any more");
            }
        }
        if let (Some(items), Some(now)) = (old.get("items"), new.get("items")) {
            self.schema(items, now, way, &format!("{at}/[]"));
        }
    }
}

/// Whether every value of one type is of the other.
fn is_kind_of(one: &Value, other: &Value) -> bool {
    one == other || other.is_null() || (one == "integer" && other == "number")
}
