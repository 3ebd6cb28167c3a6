//! Problems as pages, for browsers: an error answer, and what a kind of problem means. No script.

use std::fmt::Write as _;

use serde_json::Value;

use super::front_page::escape;
use crate::{request::value::tokens, server::problem::Kind, wording::visible::visible_value};

/// The page of a problem document: what is wrong where, what was expected, and ways back.
pub fn problem(document: &[u8]) -> String {
    let document = serde_json::from_slice(document).unwrap_or(Value::Null);
    let document = visible_value(&document);
    let text = |value: &Value| escape(value.as_str().unwrap_or_default());
    let (title, detail) = (text(&document["title"]), text(&document["detail"]));
    let faults = document["errors"].as_array().map(Vec::as_slice).unwrap_or_default();
    let mut body = String::new();
    if faults.is_empty() && detail != title {
        body = format!("<p>{detail}</p>\n");
    }
    if !faults.is_empty() {
        let items: String = faults.iter().map(fault).collect();
        body = format!("<ul class=\"faults\">\n{items}</ul>\n");
    }
    if let Some(more) = document["more_errors"].as_u64() {
        // Writing to a String cannot fail.
        let _ = writeln!(body, "<p>And {more} more.</p>");
    }
    let id = text(&document["request_id"]);
    let _ = write!(body, "<p class=\"quiet\">Status {}, request <code>{id}</code></p>", document["status"]);
    let meaning = text(&document["type"]);
    page(&title, &body, &format!("<li><a href=\"{meaning}\">What this means</a></li>\n"))
}

/// A fault: where it is, in the notation of an argument's name, what is wrong, and what was expected.
fn fault(fault: &Value) -> String {
    let text = |name: &str| escape(fault[name].as_str().unwrap_or_default());
    let place = tokens(fault["pointer"].as_str().unwrap_or_default()).collect::<Vec<_>>().join(".");
    let place = match escape(&place) {
        none if none.is_empty() => none,
        place => format!("<p class=\"where\"><code>{place}</code></p>\n"),
    };
    let (detail, expected) = (text("detail"), text("expected"));
    format!("<li>\n{place}<p>{detail}</p>\n<p class=\"quiet\">Expected: {expected}</p>\n</li>\n")
}

/// The page that explains a kind of problem.
pub fn explanation(kind: Kind) -> String {
    // Names of fields are between backticks.
    let marked = escape(kind.explanation());
    let text: String = marked
        .split('`')
        .enumerate()
        .map(|(at, part)| if at % 2 == 0 { part.to_owned() } else { format!("<code>{part}</code>") })
        .collect();
    let body = format!("<p>{text}</p>\n<p class=\"quiet\">Status {}</p>", kind.status().as_u16());
    page(&escape(kind.title()), &body, "")
}

/// The page, of escaped parts. `more` are list items of links.
fn page(title: &str, body: &str, more: &str) -> String {
    // The body last: it may quote a request, which may have the marks in it.
    include_str!("pages/problem.html")
        .replace("{{title}}", title)
        .replace("{{more}}", more)
        .replacen("{{body}}", body, 1)
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn what_a_request_quotes_is_escaped() {
        let error = json!({"pointer": "/<b>/{{title}}", "detail": "<script>alert(1)</script>", "expected": "a & \"b\""});
        let document = json!({"title": "The request has faults", "status": 422, "errors": [error], "type": "/problems/x"});
        let page = problem(document.to_string().as_bytes());
        assert!(!page.contains("<script") && !page.contains("<b>"), "{page}");
        assert!(page.contains("&lt;b&gt;.{{title}}") && page.contains("a &amp; &quot;b&quot;"), "{page}");
    }

    #[test]
    fn each_kind_has_a_page() {
        for kind in Kind::ALL {
            let page = explanation(kind);
            assert!(page.contains(kind.title()) && !page.contains(['`', '{']), "{page}");
        }
    }
}
