//! Writes changes of a question as a JSON Patch (RFC 6902) of the request as it was sent.

use serde_json::{Map, Value as Json, json};

use crate::{
    light::{
        quantity::{
            kind::Kind,
            rules::{Reading, Rules},
            significant,
            units::Units,
        },
        remedy::{Edit, NewValue, Operation, Patch},
        unit::UnitObject,
    },
    request::{
        options::{self, Options},
        place::Pointer,
        reader::Reader,
        value::{Value, tokens},
    },
};

/// Writes the operations of patches.
pub struct PatchWriter {
    request: Json,
    rules: Rules,
    is_query: bool,
}

impl PatchWriter {
    /// For patches of this request, of a body or of a query.
    pub fn new(request: &Value<'_>, is_query: bool) -> Self {
        let mut reader = Reader::with_options(request, Options::ALL_DRAWN.of_body());
        let rules = options::rules(request, &mut reader);
        Self { request: serde_json::to_value(request).unwrap_or_default(), rules, is_query }
    }

    /// Writes the operations of one patch.
    pub fn write(&self, patch: &mut Patch) {
        let mut request = self.request.clone();
        patch.operations = patch.edits.iter().map(|edit| self.operation(edit, &mut request)).collect();
    }

    /// The operation of an edit, which is also carried out on the request, so that the next ones find it there.
    fn operation(&self, Edit { part, value }: &Edit, request: &mut Json) -> Operation {
        let adds = matches!(value, NewValue::AddFilter(_) | NewValue::AddUnit(_));
        let value = self.json(value);
        let value = if self.is_query { as_parameters(value) } else { value };
        set(request, &Pointer::from(*part), value, adds, self.is_query)
    }

    fn json(&self, value: &NewValue) -> Json {
        let marked =
            |kind: Kind, value: f64| self.mark(kind, value).map_or_else(|| number(value), Json::from);
        match value {
            NewValue::FNumber(f_number) => marked(Kind::FNumber, f_number.get()),
            NewValue::Iso(iso) => marked(Kind::Iso, iso.get()),
            NewValue::Seconds(time) => marked(Kind::ExposureTime, time.get()),
            NewValue::Metres(length) => match self.rules.units {
                Units::Metric => number(length.get()),
                Units::Imperial => self.rules.units.measured(*length).into(),
            },
            NewValue::Position(position) => position.0.map(number).to_vec().into(),
            NewValue::Label(label) => label.as_str().into(),
            NewValue::Settings(settings) => {
                let entry = |(light, setting): &(String, String)| json!({"light": light, "setting": setting});
                settings.iter().map(entry).collect::<Vec<_>>().into()
            }
            NewValue::Flag(flag) => (*flag).into(),
            NewValue::Count(count) => (*count).into(),
            NewValue::Number(value) => number(*value),
            NewValue::Guide(guide) => guide_text(guide.get()),
            NewValue::AddFilter(filter) => filter.mark().into(),
            NewValue::Unit(unit) => serde_json::to_value(UnitObject::of(unit)).unwrap_or_default(),
            NewValue::AddUnit(unit) => json!({"unit": UnitObject::of(unit)}),
            NewValue::Reading { f_number, exposure_time, iso } => json!({
                "f_number": marked(Kind::FNumber, f_number.get()),
                "exposure_time": marked(Kind::ExposureTime, exposure_time.get()),
                "iso": marked(Kind::Iso, iso.get())
            }),
        }
    }

    /// The mark that is read as exactly this value.
    fn mark(&self, kind: Kind, value: f64) -> Option<String> {
        let (mark, off) = kind.mark_for(value, self.rules.step)?;
        (self.rules.reading == Reading::Marked && off.abs() < 1e-9).then(|| mark.into_owned())
    }
}

/// The value as a query has it: texts, lists with commas, a guide number as a text.
fn as_parameters(value: Json) -> Json {
    match value {
        Json::Object(fields) => {
            if let (Some(guide), Some("m")) =
                (fields.get("value").and_then(Json::as_f64), fields.get("unit").and_then(Json::as_str))
            {
                return guide_text(guide);
            }
            let is_empty = |value: &Json| value.as_array().is_some_and(Vec::is_empty);
            let fields = fields.into_iter().filter(|(_, value)| !is_empty(value));
            Json::Object(fields.map(|(name, value)| (name, as_parameters(value))).collect())
        }
        Json::Array(items) => {
            let items = items.into_iter().map(|item| match as_parameters(item) {
                Json::String(text) => text,
                other => other.to_string(),
            });
            items.collect::<Vec<_>>().join(",").into()
        }
        Json::String(text) => text.into(),
        other => other.to_string().into(),
    }
}

fn guide_text(metres: f64) -> Json {
    format!("GN {}", significant(metres)).into()
}

fn number(value: f64) -> Json {
    significant(value).into()
}

/// Sets the value at a place, or adds it to the list there, and answers the operation that does so. Objects that are
/// missing on the way are made with it.
fn set(request: &mut Json, place: &Pointer, value: Json, adds: bool, is_query: bool) -> Operation {
    let names: Vec<String> = tokens(place.as_str()).map(std::borrow::Cow::into_owned).collect();
    let mut here = request;
    let mut path = Pointer::root();
    for (depth, name) in names.iter().enumerate() {
        path = path.field(name);
        let is_last = depth + 1 == names.len();
        if !is_last && child(here, name).is_some_and(|value| !value.is_null()) {
            let Some(next) = child(here, name) else { break };
            here = next;
            continue;
        }
        let list = child(here, name).filter(|_| adds).and_then(|list| list.as_array_mut());
        if let Some(list) = list {
            list.push(value.clone());
            return Operation { replaces: false, path: path.field("-").as_str().to_owned(), value };
        }
        let value = match value {
            // A list in a query is one text.
            Json::String(item) if adds && is_query => {
                let list = child(here, name).and_then(|list| list.as_str());
                list.map_or_else(|| item.clone(), |list| format!("{list},{item}")).into()
            }
            value if adds => Json::Array(vec![value]),
            value => value,
        };
        // The rest of the way, from the inside out.
        let value = names[depth + 1..]
            .iter()
            .rev()
            .fold(value, |inner, name| Json::Object(Map::from_iter([(name.clone(), inner)])));
        let replaces = child(here, name).is_some();
        if let Json::Object(fields) = here {
            fields.insert(name.clone(), value.clone());
        }
        return Operation { replaces, path: path.as_str().to_owned(), value };
    }
    Operation { replaces: true, path: String::new(), value }
}

/// The field or the element of this name.
fn child<'j>(parent: &'j mut Json, name: &str) -> Option<&'j mut Json> {
    match parent {
        Json::Object(fields) => fields.get_mut(name),
        Json::Array(items) => items.get_mut(name.parse::<usize>().ok()?),
        _ => None,
    }
}
