//! The front page: `pages/front.html`, with a link to the API reference for each endpoint that it names by path, and the
//! picture of a set.

use crate::endpoints::service::Endpoint;

/// The picture of a set, as the service draws it; a test in `tests/integration/pictures.rs` holds it true.
pub const BALANCE: &str = include_str!("../../docs/pictures/balance.svg");
/// The same for phones.
pub const BALANCE_NARROW: &str = include_str!("../../docs/pictures/balance_narrow.svg");

/// Renders the page.
pub fn page(endpoints: &[Endpoint]) -> String {
    let page = include_str!("pages/front.html")
        .replace("{{version}}", env!("CARGO_PKG_VERSION"))
        .replace("{{picture}}", &picture());
    endpoints.chunk_by(|one, next| one.path == next.path).fold(page, |page, methods| {
        // A path with GET and POST links to the last one, which is POST.
        let Some(Endpoint { path, summary, tag, id, .. }) = methods.last() else { return page };
        let names: Vec<&str> = methods.iter().map(|endpoint| endpoint.method.as_str()).collect();
        let link = format!(
            "<a href=\"/docs/#/{tag}/{id}\">{}</a> <code>{} {}</code>",
            escape(summary),
            names.join(", "),
            escape(path)
        );
        page.replace(&format!("{{{{endpoint {path}}}}}"), &link)
    })
}

/// The picture of a set. Its sizes are given, so that nothing moves when it loads, and its headline is its description.
fn picture() -> String {
    let size = |svg| {
        let side = |name| between(svg, name, "\"");
        format!("width=\"{}\" height=\"{}\"", side(" width=\""), side(" height=\""))
    };
    // Of the description, which is escaped for XML: what to dial.
    let headline = between(BALANCE, "<desc>", ". ").replace('"', "&quot;");
    format!(
        "<picture>\n<source media=\"(max-width: 40rem)\" srcset=\"/assets/balance_narrow.svg\" {}>\n\
         <img class=\"picture\" src=\"/assets/balance.svg\" {} loading=\"lazy\" \
         alt=\"A set of lights, from above and as a table. {headline}.\">\n</picture>",
        size(BALANCE_NARROW),
        size(BALANCE)
    )
}

/// The text between the first `begin` and the `end` after it.
fn between<'text>(text: &'text str, begin: &str, end: &str) -> &'text str {
    text.split_once(begin).and_then(|(_, rest)| rest.split_once(end)).map_or("", |(found, _)| found)
}

/// Escapes text for HTML.
pub fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn summaries_are_escaped() {
        let [method, path, tag, id] = ["GET", "/readyz", "service", "check"].map(str::to_owned);
        let summary = "1/60 < 1/30 & \"so on\"".to_owned();
        let page = page(&[Endpoint { method, path, summary, tag, id }]);
        assert!(
            page.contains("<a href=\"/docs/#/service/check\">1/60 &lt; 1/30 &amp; &quot;so on&quot;</a>")
        );
    }

    #[test]
    fn the_picture_has_its_size_and_its_headline() {
        let picture = picture();
        assert!(!picture.contains("width=\"\"") && !picture.contains("height=\"\""), "{picture}");
        assert!(picture.contains("Set &quot;key&quot; to "), "{picture}");
    }
}
