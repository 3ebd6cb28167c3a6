//! Sheets of every width: text of a legible size within the edges, and the one stylesheet.

use roxmltree::Node;
use serde_json::json;
use sha2::{Digest, Sha256};

use super::{SVG, draw, drawn, number};
use crate::support::{Server, document};

/// The least width that a text takes in any common font, px.
fn least_width(text: Node<'_, '_>) -> f64 {
    let narrow = |c: char| if " .,:;'|!/()[]ijlftrI".contains(c) { 0.22 } else { 0.45 };
    text.text().unwrap_or_default().chars().map(narrow).sum::<f64>() * number(text, "font-size")
}

/// Checks the texts of a picture that is `width` wide.
fn check_texts(at: &str, picture: &str, width: f64) {
    let picture = roxmltree::Document::parse(picture).expect(at);
    let sheet = picture.root_element();
    assert!((number(sheet, "width") - width).abs() < 0.01, "{at}");
    let height = number(sheet, "height");
    for text in picture.descendants().filter(|node| node.has_tag_name("text")) {
        let label = text.text().unwrap_or_default();
        assert!(number(text, "font-size") >= 14.0, "{at}: {label}");
        let [x, y] = [number(text, "x"), number(text, "y")];
        assert!((0.0..=height).contains(&y), "{at}: {label} at {y} of {height}");
        // An upright text turns around its position.
        let wide = if text.attribute("transform").is_some() { 0.0 } else { least_width(text) };
        let before = match text.attribute("text-anchor") {
            Some("middle") => wide / 2.0,
            Some("end") => wide,
            _ => 0.0,
        };
        assert!(x - before >= -0.5 && x - before + wide <= width + 0.5, "{at}: {label} at {x} of {width}");
    }
    for circle in picture.descendants().filter(|node| node.has_tag_name("circle")) {
        let (x, radius) = (number(circle, "cx"), number(circle, "r"));
        assert!(x >= 0.0 && x <= width && radius > 0.0, "{at}: a circle at {x}");
    }
    let points = picture.descendants().filter_map(|node| node.attribute("points"));
    for point in points.flat_map(|points| points.split(' ')) {
        let (x, y) = point.split_once(',').expect(at);
        let [x, y] = [x, y].map(|part| part.parse::<f64>().expect(at));
        assert!(
            (0.0..=width).contains(&x) && (0.0..=height).contains(&y),
            "{at}: {point} of {width} by {height}"
        );
    }
}

#[tokio::test]
async fn text_is_legible_and_within_the_sheet_at_every_width() {
    let server = Server::start().await;
    for path in drawn() {
        let examples =
            &document()["paths"][&path]["post"]["requestBody"]["content"]["application/json"]["examples"];
        for (name, example) in examples.as_object().expect("examples") {
            for width in [320_u16, 390, 900, 1600] {
                let mut body = example["value"].clone();
                body["width"] = json!(width);
                let answer = draw(&server, &path, &body).await;
                if answer.status == 200 {
                    let picture = answer.body.as_str().expect("a text");
                    check_texts(&format!("{path} {name} {width}"), picture, width.into());
                }
            }
        }
    }
}

#[tokio::test]
async fn a_width_is_of_the_picture_only() {
    let server = Server::start().await;
    let path = "/v1/lights/falloff";
    let body = json!({"distances": [1, 2]});
    let narrow = json!({"distances": [1, 2], "width": 390});
    assert_eq!(server.ask(path, body.clone()).await, server.ask(path, narrow).await);
    let usual = draw(&server, path, &body).await;
    assert!(usual.body.as_str().expect("a text").contains(" width=\"900\""));
    let by_query = server.get(&format!("{path}?distances=1,2&width=390&format=svg")).await;
    assert_eq!((by_query.status, by_query.header("content-type")), (200, SVG));
    assert!(by_query.body.as_str().expect("a text").contains(" width=\"390\""));
    for odd in [json!(319), json!(1601), json!(390.5), json!("wide")] {
        let found = server.refused(path, json!({"distances": [1], "width": odd})).await;
        assert_eq!(found[0][0], "/width", "{odd}");
    }
    // Where there is no picture, it is an unknown field.
    let found = server.refused("/v1/stops/convert", json!({"from": "f/8", "to": "f/11", "width": 390})).await;
    assert_eq!(found[0][0], "/width");
}

/// Base64 with padding (RFC 4648, section 4).
fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let quad = |three: &[u8]| {
        let bits =
            (0..3).fold(0_usize, |bits, index| bits << 8 | usize::from(*three.get(index).unwrap_or(&0)));
        let digit = move |index: usize| {
            if index <= three.len() { char::from(DIGITS[bits >> (18 - 6 * index) & 63]) } else { '=' }
        };
        (0..4).map(digit).collect::<String>()
    };
    bytes.chunks(3).map(quad).collect()
}

#[tokio::test]
async fn the_policy_allows_the_one_style_of_pictures() {
    let server = Server::start().await;
    assert_eq!([base64(b"f"), base64(b"fo"), base64(b"foo")], ["Zg==", "Zm8=", "Zm9v"]);
    for path in drawn() {
        let examples =
            &document()["paths"][&path]["post"]["requestBody"]["content"]["application/json"]["examples"];
        let (_, example) = examples.as_object().and_then(|all| all.iter().next()).expect("an example");
        let answer = draw(&server, &path, &example["value"]).await;
        let picture = roxmltree::Document::parse(answer.body.as_str().expect("a text")).expect("XML");
        let styles: Vec<Node> = picture.descendants().filter(|node| node.has_tag_name("style")).collect();
        let [style] = styles[..] else { panic!("{path}: {} styles", styles.len()) };
        let hash = base64(&Sha256::digest(style.text().unwrap_or_default()));
        let policy = answer.header("content-security-policy");
        assert!(policy.contains(&format!("style-src 'self' 'sha256-{hash}';")), "{hash} in {policy}");
        // The style names each class in use.
        let css = style.text().unwrap_or_default();
        for class in picture.descendants().filter_map(|node| node.attribute("class")) {
            assert!(class.split(' ').all(|name| css.contains(&format!(".{name}{{"))), "{path}: {class}");
        }
    }
}
