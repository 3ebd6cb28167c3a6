//! JSON that may be odd: names keep their order and may come twice, numbers stay as they were written.

/// A value.
#[derive(Debug, Clone, PartialEq)]
pub enum Json {
    /// A number, `true`, `false` or `null`, as it is written.
    Bare(String),
    /// A string.
    Text(String),
    /// A list.
    List(Vec<Json>),
    /// An object.
    Object(Vec<(String, Json)>),
}

/// Levels that are read; more are left to those who change bytes.
const DEPTH: usize = 300;

impl Json {
    /// Reads a text; none where it is no JSON.
    pub fn parse(text: &[u8]) -> Option<Self> {
        let mut scan = Scan { text: std::str::from_utf8(text).ok()?, at: 0 };
        let value = scan.value(0)?;
        scan.blanks();
        (scan.at == scan.text.len()).then_some(value)
    }

    /// The text.
    pub fn text(&self) -> String {
        let mut out = String::new();
        self.write(&mut out);
        out
    }

    fn write(&self, out: &mut String) {
        match self {
            Self::Bare(word) => out.push_str(word),
            Self::Text(text) => quote(text, out),
            Self::List(items) => {
                out.push('[');
                for (index, item) in items.iter().enumerate() {
                    out.push_str(if index == 0 { "" } else { "," });
                    item.write(out);
                }
                out.push(']');
            }
            Self::Object(entries) => {
                out.push('{');
                for (index, (name, value)) in entries.iter().enumerate() {
                    out.push_str(if index == 0 { "" } else { "," });
                    quote(name, out);
                    out.push(':');
                    value.write(out);
                }
                out.push('}');
            }
        }
    }

    /// How many values it has, itself among them.
    pub fn count(&self) -> usize {
        1 + match self {
            Self::Bare(_) | Self::Text(_) => 0,
            Self::List(items) => items.iter().map(Self::count).sum(),
            Self::Object(entries) => entries.iter().map(|(_, value)| value.count()).sum(),
        }
    }

    /// The value of that number, itself first.
    pub fn nth(&mut self, index: usize) -> Option<&mut Self> {
        if index == 0 {
            return Some(self);
        }
        let mut left = index - 1;
        let inner: Vec<&mut Self> = match self {
            Self::Bare(_) | Self::Text(_) => Vec::new(),
            Self::List(items) => items.iter_mut().collect(),
            Self::Object(entries) => entries.iter_mut().map(|(_, value)| value).collect(),
        };
        for value in inner {
            let count = value.count();
            if left < count {
                return value.nth(left);
            }
            left -= count;
        }
        None
    }
}

fn quote(text: &str, out: &mut String) {
    out.push_str(&serde_json::to_string(text).unwrap_or_default());
}

struct Scan<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Scan<'a> {
    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    fn blanks(&mut self) {
        while self.peek().is_some_and(|byte| byte.is_ascii_whitespace()) {
            self.at += 1;
        }
    }

    fn eat(&mut self, byte: u8) -> bool {
        self.blanks();
        let is_there = self.peek() == Some(byte);
        self.at += usize::from(is_there);
        is_there
    }

    fn value(&mut self, depth: usize) -> Option<Json> {
        self.blanks();
        match self.peek()? {
            _ if depth > DEPTH => None,
            b'"' => self.string().map(Json::Text),
            b'[' => self.list(depth),
            b'{' => self.object(depth),
            _ => {
                let word = self.run(|byte| byte.is_ascii_alphanumeric() || b"+-.".contains(&byte));
                (!word.is_empty()).then(|| Json::Bare(word.to_owned()))
            }
        }
    }

    fn run(&mut self, is_of: impl Fn(u8) -> bool) -> &'a str {
        let begin = self.at;
        while self.peek().is_some_and(&is_of) {
            self.at += 1;
        }
        &self.text[begin..self.at]
    }

    fn string(&mut self) -> Option<String> {
        let begin = self.at;
        self.at += 1;
        loop {
            match self.peek()? {
                b'"' => break,
                b'\\' => self.at += 2,
                _ => self.at += 1,
            }
        }
        self.at += 1;
        serde_json::from_str(self.text.get(begin..self.at)?).ok()
    }

    fn list(&mut self, depth: usize) -> Option<Json> {
        let mut items = Vec::new();
        self.eat(b'[');
        if self.eat(b']') {
            return Some(Json::List(items));
        }
        loop {
            items.push(self.value(depth + 1)?);
            if self.eat(b']') {
                return Some(Json::List(items));
            }
            self.eat(b',').then_some(())?;
        }
    }

    fn object(&mut self, depth: usize) -> Option<Json> {
        let mut entries = Vec::new();
        self.eat(b'{');
        if self.eat(b'}') {
            return Some(Json::Object(entries));
        }
        loop {
            self.blanks();
            (self.peek()? == b'"').then_some(())?;
            let name = self.string()?;
            self.eat(b':').then_some(())?;
            entries.push((name, self.value(depth + 1)?));
            if self.eat(b'}') {
                return Some(Json::Object(entries));
            }
            self.eat(b',').then_some(())?;
        }
    }
}
