//! Colours by their role, in light and in dark, and fills.
//!
//! An element states its light colour as an attribute, for viewers without CSS and for print. Its class lets the one
//! stylesheet of a picture replace it on a dark screen.

use std::{fmt::Write, sync::LazyLock};

use svg::Node;

use crate::drawing::canvas::hatches::BACKGROUNDS;

/// What a colour is for. Those of data differ in lightness too, and a shape or hatch repeats what each shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Colour {
    /// The main colour of lines and text.
    Ink,
    /// Secondary lines and text.
    Grey,
    /// Grid lines.
    Faint,
    /// The background.
    Paper,
    /// Ranges within tolerance.
    Tolerance,
    /// The main data.
    Data,
    /// Data beside the main data.
    Second,
    /// What is only just enough.
    Tight,
    /// Errors, which always have a shape of their own as well.
    Wrong,
    /// A beam of light, which lets what is under it show through.
    Beam,
}

/// Each role with its name in classes, and its colours on light and dark paper.
const COLOURS: [(Colour, &str, &str, &str); 10] = [
    (Colour::Ink, "ink", "#1a1a1a", "#f0f0f0"),
    (Colour::Grey, "grey", "#5c5c5c", "#aeb4bd"),
    (Colour::Faint, "faint", "#d4d4d4", "#3d424b"),
    (Colour::Paper, "paper", "#ffffff", "#16181c"),
    (Colour::Tolerance, "tolerance", "#dbe9f6", "#1f3a57"),
    (Colour::Data, "data", "#2168b0", "#62b0ff"),
    (Colour::Second, "second", "#5b2a86", "#d3b4ff"),
    (Colour::Tight, "tight", "#a06a00", "#ffd166"),
    (Colour::Wrong, "wrong", "#a32000", "#f4683c"),
    (Colour::Beam, "beam", "#e0a800", "#ffe08a"),
];

impl Colour {
    /// The part of a beam's light that hides what is under it.
    const BEAM_OPACITY: f64 = 0.25;

    const fn row(self) -> (&'static str, &'static str) {
        let (_, name, light, _) = COLOURS[self as usize];
        (name, light)
    }

    /// The colour on light paper.
    pub const fn light(self) -> &'static str {
        self.row().1
    }

    /// The class of a stroke of this colour.
    pub fn stroke_class(self) -> String {
        format!("s-{}", self.row().0)
    }

    /// The class of a fill of this colour.
    pub fn fill_class(self) -> String {
        format!("f-{}", self.row().0)
    }
}

/// How an area is filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    /// Not at all.
    None,
    /// With a colour.
    Colour(Colour),
    /// With one of the patterns of [`super::hatches`], which can be distinguished without colour.
    Hatch(usize),
    /// With slanting lines, for missing light.
    Missing,
}

impl From<Colour> for Fill {
    fn from(colour: Colour) -> Self {
        Self::Colour(colour)
    }
}

impl Fill {
    /// Sets the attributes of an element. Returns the class that goes with them.
    pub(super) fn set(self, element: &mut impl Node) -> Option<String> {
        match self {
            Self::None => element.assign("fill", "none"),
            Self::Hatch(index) => element.assign("fill", format!("url(#hatch{index})")),
            Self::Missing => element.assign("fill", "url(#hatched)"),
            Self::Colour(colour) => {
                element.assign("fill", colour.light());
                if colour == Colour::Beam {
                    element.assign("fill-opacity", Colour::BEAM_OPACITY);
                }
                return Some(colour.fill_class());
            }
        }
        None
    }
}

/// The stylesheet of every picture: its colours on a dark screen. The content security policy of `page_headers` allows
/// it by its hash, so it is the same in all of them.
pub static STYLE: LazyLock<String> = LazyLock::new(|| {
    let mut style = "@media screen and (prefers-color-scheme:dark){svg:root{color-scheme:dark}".to_owned();
    for (_, name, _, dark) in COLOURS {
        let _ = write!(style, ".f-{name}{{fill:{dark}}}.s-{name}{{stroke:{dark}}}");
    }
    for (index, (_, dark)) in BACKGROUNDS.into_iter().enumerate() {
        let _ = write!(style, ".h-{index}{{fill:{dark}}}");
    }
    style.push('}');
    style
});

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance (WCAG 2.2).
    fn luminance(colour: &str) -> f64 {
        let part = |from: usize| {
            let value = f64::from(u8::from_str_radix(&colour[from..from + 2], 16).expect("a byte")) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
    }

    fn contrast(one: f64, other: f64) -> f64 {
        (one.max(other) + 0.05) / (one.min(other) + 0.05)
    }

    #[test]
    fn each_role_stands_in_its_row() {
        for (index, (colour, ..)) in COLOURS.into_iter().enumerate() {
            assert_eq!(colour as usize, index);
        }
    }

    #[test]
    fn text_is_legible_and_data_differ_in_lightness() {
        let written = [Colour::Ink, Colour::Grey, Colour::Data, Colour::Second, Colour::Tight, Colour::Wrong];
        let themes: [fn(Colour) -> &'static str; 2] =
            [|colour| COLOURS[colour as usize].2, |colour| COLOURS[colour as usize].3];
        for (theme, of) in themes.into_iter().enumerate() {
            let paper = luminance(of(Colour::Paper));
            for colour in written {
                assert!(contrast(luminance(of(colour)), paper) >= 4.5, "{colour:?} on paper {theme}");
            }
            // CIE lightness.
            let lightness = |colour: Colour| 116.0 * luminance(of(colour)).cbrt() - 16.0;
            let mut data = [Colour::Data, Colour::Second, Colour::Tight, Colour::Wrong].map(lightness);
            data.sort_by(f64::total_cmp);
            assert!(data.windows(2).all(|pair| pair[1] - pair[0] > 4.0), "{data:?} on paper {theme}");
            for (light, dark) in BACKGROUNDS {
                let background = luminance([light, dark][theme]);
                assert!(contrast(luminance(of(Colour::Ink)), background) >= 4.5, "{light}, {dark}");
            }
        }
    }
}
