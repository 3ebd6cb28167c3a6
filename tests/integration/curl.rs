//! Runs the curl lines of pages and documents against a test server.

use reqwest::Method;

use crate::support::{Answer, Server};

/// The address in those lines.
const HERE: &str = "http://127.0.0.1:8080";

/// Splits a shell line into words: single quotes, and backslashes at line ends.
pub fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in line.replace("\\\n", " ").chars() {
        match c {
            '\'' => quoted = !quoted,
            c if c.is_whitespace() && !quoted => words.push(String::new()),
            c => words.last_mut().expect("a word").push(c),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// The answer to a line: an address, with `--json` and a body, or with headers, a raw body, `--globoff`.
pub async fn ask(server: &Server, line: &str) -> Answer {
    let mut words = words(line).into_iter().skip(1);
    let (mut headers, mut json, mut data, mut path) = (Vec::new(), None, None, None);
    while let Some(word) = words.next() {
        let mut next = || words.next().expect("what the flag takes");
        match word.as_str() {
            "-H" => headers.push(next()),
            "--json" => json = Some(next()),
            "--data-binary" => data = Some(next()),
            "--globoff" => {}
            url => path = Some(url.strip_prefix(HERE).expect("the default address").to_owned()),
        }
    }
    let path = path.unwrap_or_else(|| panic!("no address in {line}"));
    if let Some(body) = &json {
        let _: serde_json::Value = serde_json::from_str(body).expect("a JSON body");
        headers.insert(0, "content-type: application/json".to_owned());
    }
    let body = json.or(data);
    let method = if body.is_some() { Method::POST } else { Method::GET };
    let mut request = server.request(method, &path).body(body.unwrap_or_default());
    for header in headers {
        let (name, value) = header.split_once(": ").expect("a header");
        request = request.header(name, value);
    }
    server.send(request).await
}
