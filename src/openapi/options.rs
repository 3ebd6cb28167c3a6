//! The options that a calculation takes beside its own fields, each declared once and referred to.

use serde_json::{Value, json};
use utoipa::{IntoParams, PartialSchema, openapi::path::ParameterIn};

use crate::{
    endpoints::registry,
    request::{
        format::{self, FormatInput},
        options::{Options, RulesInput},
    },
};

/// The parameter for the format of an answer that has no picture.
const TEXT_FORMAT: &str = "writtenFormat";

/// Adds the options of every calculation to its body or its query.
pub fn add(document: &mut Value) {
    let mut bodies = Vec::new();
    let paths = document["paths"].as_object_mut().into_iter().flatten();
    for (path, methods) in paths.filter(|(path, _)| path.starts_with("/v1/")) {
        let options = registry::find(path).map_or(Options::NONE, |entry| entry.options);
        for (method, operation) in methods.as_object_mut().into_iter().flatten() {
            let schema = operation["requestBody"].pointer("/content/application~1json/schema/$ref");
            if let Some(name) = schema.and_then(Value::as_str).and_then(|path| path.rsplit('/').next()) {
                bodies.push((name.to_owned(), options));
            } else if method == "get" {
                let format = if registry::is_drawn(path) { format::NAME } else { TEXT_FORMAT };
                let names = options.of_body().iter().copied().chain([format]);
                let references = names.map(|name| json!({"$ref": format!("#/components/parameters/{name}")}));
                let own = operation["parameters"].as_array().into_iter().flatten().cloned();
                operation["parameters"] = own.chain(references).collect();
            }
        }
    }
    for (body, options) in bodies {
        for name in options.of_body() {
            document["components"]["schemas"][&body]["properties"][name] =
                json!({"$ref": format!("#/components/schemas/{}", schema_name(name))});
        }
    }
    let fields = serde_json::to_value(RulesInput::schema()).unwrap_or_default();
    for (name, field) in fields["properties"].as_object().into_iter().flatten() {
        document["components"]["schemas"][schema_name(name)] = field.clone();
    }
    let mut parameters = RulesInput::into_params(|| Some(ParameterIn::Query));
    parameters.extend(FormatInput::into_params(|| Some(ParameterIn::Query)));
    for parameter in parameters {
        let parameter = serde_json::to_value(parameter).unwrap_or_default();
        let name = parameter["name"].as_str().unwrap_or_default().to_owned();
        if name == format::NAME {
            let mut without = parameter.clone();
            without["schema"] = json!({"$ref": "#/components/schemas/WrittenForm"});
            document["components"]["parameters"][TEXT_FORMAT] = without;
        }
        document["components"]["parameters"][name] = parameter;
    }
}

/// The name of an option's schema: `ReadingOption`.
fn schema_name(option: &str) -> String {
    format!("{}{}Option", option[..1].to_uppercase(), &option[1..])
}
