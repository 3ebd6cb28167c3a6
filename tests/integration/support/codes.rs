//! Checks that every remark and fault of an answer is what its code says.

use std::{
    collections::{BTreeMap, BTreeSet},
    sync::OnceLock,
};

use serde_json::Value;

/// The lists of remarks and faults, and the kind of their codes.
const LISTS: [(&str, &str); 4] =
    [("warnings", "warning"), ("cautions", "caution"), ("assumptions", "assumption"), ("errors", "fault")];

/// The rows of `/v1/codes` by code.
pub fn rows() -> &'static BTreeMap<String, Value> {
    static ROWS: OnceLock<BTreeMap<String, Value>> = OnceLock::new();
    ROWS.get_or_init(|| {
        let table = serde_json::to_value(stopwright::endpoints::codes::table(None)).expect("JSON");
        let rows = table["codes"].as_array().expect("codes").iter();
        rows.map(|row| (row["code"].as_str().expect("a code").to_owned(), row.clone())).collect()
    })
}

/// Calls `visit` with the kind and the object of every remark and fault in a value.
pub fn visit(value: &Value, each: &mut impl FnMut(&str, &Value)) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| visit(item, each)),
        Value::Object(map) => {
            for (name, inner) in map {
                let kind = LISTS.iter().find(|(list, _)| list == name).map(|(_, kind)| *kind);
                match (kind, inner) {
                    (Some(kind), Value::Array(all)) => all.iter().for_each(|one| each(kind, one)),
                    _ => visit(inner, each),
                }
            }
        }
        _ => {}
    }
}

/// Checks every remark and fault in an answer: its code is listed with its kind, it has the params of its code and no
/// others, and its text is the template with these filled in.
pub fn check(answer: &Value) {
    visit(answer, &mut |kind, one| {
        let code = one["code"].as_str().unwrap_or_else(|| panic!("no code: {one}"));
        let row = rows().get(code).unwrap_or_else(|| panic!("{code} is not listed: {one}"));
        assert_eq!(row["kind"], kind, "{one}");
        let params: BTreeSet<&str> =
            one["params"].as_object().into_iter().flatten().map(|(name, _)| name.as_str()).collect();
        let listed = row["params"].as_array().expect("params").iter().filter_map(Value::as_str).collect();
        assert_eq!(params, listed, "{one}");
        assert_eq!(one.get("params").is_some(), !params.is_empty(), "{one}");
        let says = |text: &str, templates: &[&str]| {
            if let Some(text) = one[text].as_str().filter(|text| !text.contains('…')) {
                let is_it = |name: &&str| {
                    let template = row[*name].as_str();
                    // A list in a sentence is one of all or of any.
                    [", ", " or "].iter().any(|joint| {
                        template.is_some_and(|template| {
                            words(&fill(template, &one["params"], joint)) == words(text)
                        })
                    })
                };
                assert!(templates.iter().any(is_it), "{one} is not {row}");
            }
        };
        match kind {
            "fault" => {
                says("detail", &["template", "template_one"]);
                if row.get("expected").is_some() {
                    says("expected", &["expected"]);
                }
            }
            "assumption" => {
                says("name", &["name"]);
                says("value", &["template"]);
                says("source", &["source"]);
            }
            _ => says("text", &["template", "template_one"]),
        }
    });
}

/// Checks that the place of every remark is in the request.
pub fn check_places(answer: &Value, request: &Value) {
    visit(answer, &mut |_, one| {
        if let Some(at) = one.get("at") {
            let at = at.as_str().expect("a pointer");
            assert!(request.pointer(at).is_some(), "{one}: not in {request}");
        }
    });
}

/// A template with its params filled in.
fn fill(template: &str, params: &Value, joint: &str) -> String {
    let params = params.as_object().into_iter().flatten();
    params.fold(template.to_owned(), |text, (name, value)| {
        text.replace(&format!("{{{name}}}"), &shown(value, joint))
    })
}

fn shown(param: &Value, joint: &str) -> String {
    match param {
        Value::String(text) => text.clone(),
        Value::Array(names) => {
            let names: Vec<&str> = names.iter().map(|name| name.as_str().expect("a name")).collect();
            let more = if names.len() > 8 { " and more" } else { "" };
            names[..names.len().min(8)].join(joint) + more
        }
        Value::Object(range) => range.keys().cloned().collect::<Vec<_>>().join(" "),
        number => {
            assert!(number.is_number(), "{number}");
            String::new()
        }
    }
}

/// The words of a text, without numbers (1e300) and quotes.
fn words(text: &str) -> Vec<&str> {
    let mut words: Vec<&str> =
        text.split(|c: char| !c.is_alphabetic()).filter(|word| !matches!(*word, "" | "e")).collect();
    // The ends of a range come in any order.
    if words.contains(&"typical") {
        words.sort_unstable();
    }
    words
}
