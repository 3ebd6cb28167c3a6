//! The phrase table: each kind of remark, assumption and fault has a code and a template; its sentence is the template with
//! its params filled in.

use std::borrow::Cow;

use serde::Serialize;
use serde_json::Value;

use crate::{
    light::{
        quantity::{Estimate, Stops, bounds::plain, significant},
        remark::Percentage,
    },
    server::problem::Params,
    wording::format::{digits, fraction, names, range},
};

/// A kind of sentence. `{name}` in a template stands for a param.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Phrase {
    /// The stable code for programs.
    pub code: &'static str,
    /// The name of an assumption.
    pub name: Option<&'static str>,
    /// The sentence: what is remarked, assumed or wrong.
    pub template: &'static str,
    /// The sentence for a count of one, where it reads otherwise.
    pub template_one: Option<&'static str>,
    /// A second sentence: the source of an assumption, or what was expected instead of a fault. `None` also if the second
    /// sentence is a text of its own each time.
    pub second: Option<&'static str>,
    fields: &'static [&'static str],
}

impl Phrase {
    /// A phrase out of the table. A second sentence that is one field alone is a text of its own, and no param.
    pub const fn new(
        code: &'static str,
        name: Option<&'static str>,
        [template, second]: [&'static str; 2],
        template_one: Option<&'static str>,
        fields: &'static [&'static str],
    ) -> Self {
        let second = if second.is_empty() || Self::is_one_field(second) { None } else { Some(second) };
        Self { code, name, template, template_one, second, fields }
    }

    const fn is_one_field(template: &str) -> bool {
        let bytes = template.as_bytes();
        let mut at = 1;
        while at < bytes.len() && bytes[at] != b'}' {
            at += 1;
        }
        bytes[0] == b'{' && at + 1 == bytes.len()
    }

    /// The names of its params: those that its sentences have.
    pub fn params(&self) -> impl Iterator<Item = &'static str> {
        let sentences = [Some(self.template), self.template_one, self.second];
        let is_in = move |field: &str| {
            let place = format!("{{{field}}}");
            sentences.into_iter().flatten().any(|sentence| sentence.contains(&place))
        };
        self.fields.iter().copied().filter(move |field| is_in(field))
    }
}

/// A finished sentence.
#[derive(Debug, Clone, PartialEq)]
pub struct Sentence {
    /// Its kind.
    pub phrase: &'static Phrase,
    /// The sentence: what is remarked, assumed or wrong.
    pub text: String,
    /// The second sentence; empty if there is none.
    pub second: String,
    /// Its numbers and names.
    pub params: Params,
}

/// A type whose values are sentences out of the table.
pub trait Phrased {
    /// The kinds of its sentences.
    const PHRASES: &'static [Phrase];

    /// The sentence of a value.
    fn sentence(&self) -> Sentence;
}

/// A value in a sentence.
pub trait Shown {
    /// The value as text.
    fn shown(&self) -> Cow<'_, str>;

    /// The value as a param.
    fn param(&self) -> Value {
        self.shown().into()
    }
}

impl Shown for str {
    fn shown(&self) -> Cow<'_, str> {
        self.into()
    }
}

impl Shown for &str {
    fn shown(&self) -> Cow<'_, str> {
        (*self).into()
    }
}

impl Shown for String {
    fn shown(&self) -> Cow<'_, str> {
        self.as_str().into()
    }
}

impl Shown for f64 {
    fn shown(&self) -> Cow<'_, str> {
        plain(significant(*self)).into()
    }

    fn param(&self) -> Value {
        significant(*self).into()
    }
}

impl Shown for Percentage {
    fn shown(&self) -> Cow<'_, str> {
        format!("{} %", digits(100.0 * self.0, 2)).into()
    }

    fn param(&self) -> Value {
        significant(self.0).into()
    }
}

impl Shown for Stops {
    fn shown(&self) -> Cow<'_, str> {
        fraction(self.get()).into()
    }

    fn param(&self) -> Value {
        json(self)
    }
}

/// A range is an object, `{"low", "typical", "high"}`.
impl Shown for Estimate<f64> {
    fn shown(&self) -> Cow<'_, str> {
        range(*self).into()
    }

    fn param(&self) -> Value {
        json(&self.map(significant))
    }
}

impl Shown for Estimate<Stops> {
    fn shown(&self) -> Cow<'_, str> {
        range(self.map(Stops::get)).into()
    }

    fn param(&self) -> Value {
        json(self)
    }
}

impl<T: AsRef<str>> Shown for Vec<T> {
    fn shown(&self) -> Cow<'_, str> {
        names(self).into()
    }

    fn param(&self) -> Value {
        self.iter().map(AsRef::as_ref).collect()
    }
}

/// Words that a field takes: quoted in a sentence, bare in a param.
#[derive(Debug, Clone, PartialEq)]
pub struct Words(pub Vec<&'static str>);

impl Shown for Words {
    fn shown(&self) -> Cow<'_, str> {
        names(&self.0.iter().map(|word| format!("\"{word}\"")).collect::<Vec<_>>()).into()
    }

    fn param(&self) -> Value {
        self.0.param()
    }
}

macro_rules! shown_as_displayed {
    ($($type:ty),+) => {$(
        impl Shown for $type {
            fn shown(&self) -> Cow<'_, str> {
                self.to_string().into()
            }

            fn param(&self) -> Value {
                (*self).into()
            }
        }
    )+};
}
shown_as_displayed!(u32, u64, usize);

/// A number as answers write it; `null` if it is not finite, which an answer never is.
fn json(value: &impl Serialize) -> Value {
    serde_json::to_value(value).unwrap_or_default()
}

/// The params of a sentence.
pub fn params(phrase: &Phrase, fields: &[(&'static str, &dyn Shown)]) -> Params {
    let value = |name| fields.iter().find(|(field, _)| *field == name).map(|(_, value)| value.param());
    phrase.params().filter_map(|name| Some((name.to_owned(), value(name)?))).collect()
}

/// Declares the sentences of an enum: for each variant its code, its template with fields named in braces as in `format!`,
/// and perhaps a name, a form for a count of one (`one(count) "…"`) and a second sentence (`/ "…"`).
macro_rules! phrases {
    (
        $enum:ident:
        $(
            $kind:ident $({ $($field:ident),+ $(,)? })? = $code:literal $(($name:literal))?:
            $template:literal $(one($count:ident) $one:literal)? $(/ $second:literal)?
        ),+ $(,)?
        $(; $other:pat => $sentence:expr)?
    ) => {
        impl $crate::wording::phrase::Phrased for $enum {
            const PHRASES: &'static [$crate::wording::phrase::Phrase] = &[$(
                $crate::wording::phrase::phrase!(
                    $code [$($name)?] $template [$($one)?] [$($second)?] [$($($field),+)?]
                )
            ),+];

            #[allow(unused_variables, unused_imports, clippy::useless_format, reason = "not every sentence has fields")]
            fn sentence(&self) -> $crate::wording::phrase::Sentence {
                use $crate::wording::phrase::{Phrase, Sentence, Shown, params, phrase};
                match self {
                    $(
                        Self::$kind $({ $($field),+ })? => {
                            const PHRASE: &Phrase = &phrase!(
                                $code [$($name)?] $template [$($one)?] [$($second)?] [$($($field),+)?]
                            );
                            let params = params(PHRASE, &[$($((stringify!($field), $field as &dyn Shown)),+)?]);
                            $($(let $field = $field.shown();)+)?
                            let text = format!($template);
                            $(let text = if $count == "1" { format!($one) } else { text };)?
                            let second = String::new();
                            // A unit at the end may be empty.
                            $(let second = format!($second).trim_end().to_owned();)?
                            Sentence { phrase: PHRASE, text, second, params }
                        }
                    )+
                    $($other => $sentence,)?
                }
            }
        }
    };
}
pub(crate) use phrases;

/// One row of a table.
macro_rules! phrase {
    ($code:literal [$($name:literal)?] $template:literal [$($one:literal)?] [$($second:literal)?] [$($field:ident),*]) => {
        $crate::wording::phrase::Phrase::new(
            $code,
            $crate::wording::phrase::some!($($name)?),
            [$template, concat!($($second)?)],
            $crate::wording::phrase::some!($($one)?),
            &[$(stringify!($field)),*],
        )
    };
}
pub(crate) use phrase;

macro_rules! some {
    () => {
        None
    };
    ($it:literal) => {
        Some($it)
    };
}
pub(crate) use some;
