//! The front page: `pages/front.html`, with a link to the API reference for each endpoint that it names by path.

use crate::endpoints::service::Endpoint;

/// Renders the page.
pub fn page(endpoints: &[Endpoint]) -> String {
    let page = include_str!("pages/front.html").replace("{{version}}", env!("CARGO_PKG_VERSION"));
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
}
