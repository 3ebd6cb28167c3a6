//! Command-line arguments as a request: `from=f/8`, `source.disc_m=0.9`, `lights.0.setting=7.3`, `gels:=[]`.

use crate::{
    endpoints::extract::{self, BODY_LIMIT},
    request::{
        faults::FieldError,
        json,
        place::Pointer,
        value::{Value, tokens},
    },
    server::problem::{Problem, Refused},
    wording::fault::Fault,
};

/// The limit of parts in a name; no request is half as deep.
const MAX_DEPTH: usize = 16;

/// A request, in the forms in which it can be sent.
pub struct Question {
    /// The JSON body.
    pub body: Vec<u8>,
    /// The places of words from the command line, which are read as numbers if their fields want numbers.
    pub lenient: Vec<Pointer>,
    /// The query string, if the request consists of words only.
    pub query: Option<String>,
}

/// The request of a body with arguments laid over it.
pub fn question(given: Option<Vec<u8>>, arguments: &[String]) -> Result<Question, Problem> {
    let arguments = collect(arguments.iter().map(|text| Argument::read(text)))?;
    let is_query = given.is_none() && arguments.iter().all(Argument::is_word);
    let query = is_query.then(|| {
        let pairs = arguments.iter().filter_map(|argument| Some((argument.name, argument.value.text()?)));
        form_urlencoded::Serializer::new(String::new()).extend_pairs(pairs).finish()
    });
    let words = arguments.iter().filter(|argument| argument.is_word());
    let lenient = words.map(|argument| argument.place.clone()).collect();
    let mut body = given.unwrap_or_else(|| b"{}".to_vec());
    if body.len() > BODY_LIMIT {
        return Err(extract::too_large());
    }
    if !arguments.is_empty() {
        let mut tree = json::parse(&body)?;
        let mut seen = Vec::new();
        collect(arguments.into_iter().map(|Argument { place, value, .. }| {
            insert(&mut tree, &place, value, &seen)?;
            seen.push(place);
            Ok(())
        }))?;
        body = serde_json::to_vec(&tree).unwrap_or_default();
    }
    Ok(Question { body, lenient, query })
}

/// All values, or every error.
fn collect<T>(results: impl Iterator<Item = Result<T, FieldError>>) -> Result<Vec<T>, Problem> {
    let (mut values, mut faults) = (Vec::new(), Vec::new());
    for result in results {
        match result {
            Ok(value) => values.push(value),
            Err(fault) => faults.push(fault.written()),
        }
    }
    if faults.is_empty() { Ok(values) } else { Err(Refused { first: faults, more: 0 }.into()) }
}

/// One argument.
struct Argument<'a> {
    name: &'a str,
    place: Pointer,
    value: Value<'a>,
}

impl<'a> Argument<'a> {
    fn read(text: &'a str) -> Result<Self, FieldError> {
        let refused = |pointer, fault| Err(FieldError { pointer, fault });
        let Some((name, value)) = text.split_once('=') else {
            return refused(Pointer::root(), Fault::NoEqualsSign { text: text.to_owned() });
        };
        let (name, is_json) = name.strip_suffix(':').map_or((name, false), |name| (name, true));
        // As in a query, source[disc_m] is source.disc_m.
        let dotted = name.strip_suffix(']').map(|name| name.replace("][", ".").replace('[', "."));
        let parts: Vec<&str> = dotted.as_deref().unwrap_or(name).split('.').collect();
        if parts.contains(&"") || parts.len() > MAX_DEPTH {
            return refused(Pointer::root(), Fault::NoArgumentName { name: name.to_owned() });
        }
        let place = parts.iter().fold(Pointer::root(), |place, part| place.field(part));
        if !is_json {
            return Ok(Self { name, place, value: Value::Parameter(value.into()) });
        }
        match serde_json::from_str(value) {
            Ok(value) => Ok(Self { name, place, value }),
            Err(error) => refused(place, Fault::ArgumentNotJson { error: error.to_string() }),
        }
    }

    /// Whether the value is a word, which may be read as a number or as text, rather than JSON.
    fn is_word(&self) -> bool {
        matches!(self.value, Value::Parameter(_))
    }
}

/// Sets the value at a place. Missing containers on the way are created: a list if a number follows, else an object.
fn insert<'a>(
    tree: &mut Value<'a>,
    place: &Pointer,
    value: Value<'a>,
    seen: &[Pointer],
) -> Result<(), FieldError> {
    let inner = format!("{}/", place.as_str());
    if seen.iter().any(|earlier| earlier == place || earlier.as_str().starts_with(&inner)) {
        return Err(FieldError { pointer: place.clone(), fault: Fault::ArgumentRepeated });
    }
    let mut here = tree;
    let mut pointer = Pointer::root();
    for token in tokens(place.as_str()) {
        let next = pointer.field(&token);
        here = child(here, &token).map_err(|fault| FieldError { pointer: pointer.clone(), fault })?;
        pointer = next;
    }
    *here = value;
    Ok(())
}

/// The field of an object or the element of a list, created if missing.
fn child<'t, 'a>(tree: &'t mut Value<'a>, token: &str) -> Result<&'t mut Value<'a>, Fault> {
    let number = token.parse::<usize>().ok();
    if matches!(tree, Value::Null) {
        *tree = if number.is_some() { Value::List(Vec::new()) } else { Value::Object(Vec::new()) };
    }
    match tree {
        Value::Object(entries) => {
            let index = entries.iter().position(|(key, _)| key == token).unwrap_or_else(|| {
                entries.push((token.to_owned().into(), Value::Null));
                entries.len() - 1
            });
            Ok(&mut entries[index].1)
        }
        Value::List(items) => {
            let count = items.len();
            let Some(number) = number.filter(|number| *number <= count) else {
                return Err(Fault::ElementBeyondEnd { name: token.to_owned(), count });
            };
            if number == count {
                items.push(Value::Null);
            }
            Ok(&mut items[number])
        }
        other => Err(Fault::WrongType {
            found: other.what(),
            expected: "an object or a list; only these have parts".to_owned(),
        }),
    }
}
