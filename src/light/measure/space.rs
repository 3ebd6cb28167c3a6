//! Colour spaces of image files: conversion between levels and linear light, and luminance.
//!
//! Published: sRGB (IEC 61966-2-1), Adobe RGB (1998) (exponent 563/256), Display P3 (the sRGB curve), ROMM
//! (ISO 22028-2: exponent 1.8, linear below 1/512).

use crate::light::quantity::words::words;

words! {
    /// The colour space of the levels of a file.
    pub enum Space as "ColourSpace" {
        /// IEC 61966-2-1.
        Srgb = "srgb",
        /// Adobe RGB (1998).
        AdobeRgb1998 = "adobe_rgb_1998",
        /// Display P3.
        DisplayP3 = "display_p3",
        /// ROMM RGB (ISO 22028-2).
        Romm = "romm",
        /// Levels proportional to light, such as raw data; luminance by the primaries of sRGB.
        Linear = "linear",
    }
}

/// 18 % grey, the reflectance of the card that meters are calibrated to (common practice).
pub const GREY: f64 = 0.18;

impl Space {
    /// Converts an encoded value to linear light, both 0 to 1.
    ///
    /// ```
    /// use stopwright::light::measure::space::Space;
    /// assert!((Space::Srgb.decode(118.0 / 255.0) - 0.1811642).abs() < 1e-6);
    /// ```
    pub fn decode(self, encoded: f64) -> f64 {
        match self {
            Self::Srgb | Self::DisplayP3 if encoded <= 0.04045 => encoded / 12.92,
            Self::Srgb | Self::DisplayP3 => ((encoded + 0.055) / 1.055).powf(2.4),
            Self::AdobeRgb1998 => encoded.powf(563.0 / 256.0),
            Self::Romm if encoded < 16.0 / 512.0 => encoded / 16.0,
            Self::Romm => encoded.powf(1.8),
            Self::Linear => encoded,
        }
    }

    /// Converts linear light to an encoded value, both 0 to 1.
    pub fn encode(self, linear: f64) -> f64 {
        match self {
            Self::Srgb | Self::DisplayP3 if linear <= 0.04045 / 12.92 => linear * 12.92,
            Self::Srgb | Self::DisplayP3 => 1.055 * linear.powf(1.0 / 2.4) - 0.055,
            Self::AdobeRgb1998 => linear.powf(256.0 / 563.0),
            Self::Romm if linear < 1.0 / 512.0 => linear * 16.0,
            Self::Romm => linear.powf(1.0 / 1.8),
            Self::Linear => linear,
        }
    }

    /// The weights of red, green and blue in luminance: the Y row of the matrix for the primaries and white of the
    /// space.
    const fn luminance(self) -> [f64; 3] {
        match self {
            Self::Srgb | Self::Linear => [0.2126, 0.7152, 0.0722],
            Self::AdobeRgb1998 => [0.297_34, 0.627_36, 0.075_29],
            Self::DisplayP3 => [0.228_975, 0.691_739, 0.079_287],
            Self::Romm => [0.288_040, 0.711_874, 0.000_086],
        }
    }
}

/// The encoding of the levels of a file: colour space and bit depth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Encoding {
    /// The colour space.
    pub space: Space,
    /// Bits of a level, 8 or 16.
    pub bits: u32,
}

impl Default for Encoding {
    fn default() -> Self {
        Self { space: Space::Srgb, bits: 8 }
    }
}

/// The level of a patch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Level {
    /// One number for a neutral grey.
    Grey(f64),
    /// Red, green and blue.
    Rgb([f64; 3]),
}

impl Encoding {
    /// The highest level.
    pub fn greatest(self) -> f64 {
        f64::from(self.bits).exp2() - 1.0
    }

    /// The luminance of a level as linear light, 0 to 1.
    pub fn linear(self, level: Level) -> f64 {
        let decode = |level: f64| self.space.decode(level / self.greatest());
        match level {
            Level::Grey(level) => decode(level),
            Level::Rgb(rgb) => rgb
                .into_iter()
                .zip(self.space.luminance())
                .map(|(level, weight)| decode(level) * weight)
                .sum(),
        }
    }

    /// The level of the grey with the same luminance.
    pub fn grey(self, level: Level) -> f64 {
        match level {
            Level::Grey(level) => level,
            Level::Rgb(_) => self.space.encode(self.linear(level)) * self.greatest(),
        }
    }

    /// Whether a channel is at an end of its range, where different amounts of light give the same level.
    pub fn is_clipped(self, level: Level) -> bool {
        let clipped = |level: f64| level <= 0.0 || level >= self.greatest();
        match level {
            Level::Grey(level) => clipped(level),
            Level::Rgb(rgb) => rgb.into_iter().any(clipped),
        }
    }
}
