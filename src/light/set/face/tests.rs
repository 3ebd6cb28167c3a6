//! Faces, checked against closed forms and sums of 200 × 200 parts.

use std::{f64::consts::PI, time::Instant};

use crate::light::set::face::*;

/// Uniform pseudo-random numbers from a seed (SplitMix64; published: Steele, Lea and Flood 2014).
struct Random(u64);

impl Random {
    fn next(&mut self, least: f64, greatest: f64) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^= bits >> 31;
        (greatest - least).mul_add((bits >> 11) as f64 / (1_u64 << 53) as f64, least)
    }

    fn direction(&mut self) -> Vector {
        let up = self.next(-1.0, 1.0);
        let (sine, cosine) = self.next(0.0, 2.0 * PI).sin_cos();
        let level = (1.0 - up * up).sqrt();
        [level * cosine, level * sine, up]
    }
}

fn metres(length: f64) -> Metres {
    Metres::new_unchecked(length)
}

/// The factor by a sum of 200 × 200 parts of equal area, and how near the nearest part is over its size.
fn sum(face: &Face<'_>, source: Source, place: &Place) -> (f64, f64) {
    const PARTS: i32 = 200;
    let normal = place.normal.unwrap_or_else(|| unit(minus(face.middle, place.at)));
    let panel = Panel::upright(face.middle, face.axis, source.sides());
    if dot(minus(place.at, face.middle), face.axis) <= 0.0 {
        return (0.0, f64::INFINITY);
    }
    let (mut all, mut parts, mut nearest) = (0.0, 0.0, f64::INFINITY);
    for (i, j) in (0..PARTS).flat_map(|i| (0..PARTS).map(move |j| (i, j))) {
        let [x, y] = [i, j].map(|part| (2.0 * f64::from(part) + 1.0) / f64::from(PARTS) - 1.0);
        if matches!(source, Source::Disc { .. }) && x.hypot(y) > 1.0 {
            continue;
        }
        let at = panel.at([x, y]);
        parts += 1.0;
        let to = minus(place.at, at);
        let distance = length(to);
        nearest = f64::min(nearest, distance);
        let off = dot(to, face.axis) / distance;
        let strength = face.beam.map_or(off, |beam| beam.relative(off.clamp(-1.0, 1.0).acos().to_degrees()));
        all += strength * (-dot(to, normal)).max(0.0) / distance.powi(3);
    }
    let [width, height] = source.sides().map(Metres::get);
    (all / parts, nearest * f64::from(PARTS) / width.max(height))
}

#[test]
fn faces_agree_with_a_sum_over_200_by_200_parts_anywhere_and_tilted_anyhow() {
    let mut random = Random(17);
    let table = Beam::Table(vec![[0.0, 2.0], [12.0, 1.8], [30.0, 0.9], [55.0, 0.2], [90.0, 0.0]]);
    let (mut compared, mut dark) = (0, 0);
    let mut worst = [0.0; 4];
    while compared < 400 {
        let sides = [random.next(0.1, 2.0), random.next(0.1, 2.0)];
        let source = if random.next(0.0, 1.0) < 0.5 {
            Source::Disc { diameter: metres(sides[0]) }
        } else {
            Source::Rectangle { width: metres(sides[0]), height: metres(sides[1]) }
        };
        let kind = random.next(0.0, 4.0) as usize;
        let half_power = Beam::HalfPower { deg: random.next(15.0, 150.0) };
        let beam = [None, Some(&half_power), Some(&table), Some(&Beam::Even)][kind];
        let axis = random.direction();
        let face = Face::new([0.3, -0.2, 1.5], axis, Some(source), beam);
        let toward = unit(plus(axis, random.next(0.0, 1.5), random.direction()));
        let far = sides[0].max(sides[1]) * random.next(0.05_f64.ln(), 5.0_f64.ln()).exp();
        let at = plus(face.middle, far, toward);
        let normal = (random.next(0.0, 1.0) < 0.8).then(|| random.direction());
        let place = Place { at, normal };
        let (expected, nearest) = sum(&face, source, &place);
        let factor = face.factor(&place, &[]);
        // A sum is no reference where its parts are not small, nor in the last thousandth of the light.
        if expected * far * far < 1e-3 {
            dark += 1;
            assert!(factor * far * far < 1.1e-3, "{factor} {expected}");
        } else if nearest > 6.0 {
            compared += 1;
            let off = (factor / expected).log2().abs();
            worst[kind] = f64::max(worst[kind], off);
            assert!(
                off < 0.005,
                "{source:?} {beam:?} {axis:?} {place:?}: {factor} {expected}, off by {off} stop"
            );
        }
    }
    assert!(dark > 50, "places behind or below");
    println!("worst, stops: Lambertian, half power, table, even: {worst:?}");
}

#[test]
fn faces_on_their_axis_are_the_closed_forms() {
    for distance in [0.05, 0.3, 1.0, 7.0, 900.0] {
        for source in [
            Source::Disc { diameter: metres(1.3) },
            Source::Rectangle { width: metres(0.4), height: metres(1.8) },
            Source::Disc { diameter: metres(0.001) },
        ] {
            let face = Face::new([1.0, 2.0, 3.0], [1.0, 1.0, 0.5], Some(source), None);
            let at = plus(face.middle, distance, face.axis);
            for normal in [None, Some(scaled(face.axis, -1.0))] {
                let factor = face.factor(&Place { at, normal }, &[]);
                let expected = source.factor(metres(distance)) / (distance * distance);
                assert!((factor / expected - 1.0).abs() < 1e-9, "{source:?} {distance}: {factor} {expected}");
            }
        }
    }
}

#[test]
fn a_disc_that_is_cut_off_goes_over_into_one_that_is_not() {
    // Just above and just below the horizon, the closed form and the polygon meet.
    let face = Face::new([0.0; 3], [0.0, 1.0, 0.0], Some(Source::Disc { diameter: metres(1.0) }), None);
    let at = [0.0, 0.6, 0.5];
    let lit = |tilt: f64| {
        let (sine, cosine) = tilt.sin_cos();
        face.factor(&Place { at, normal: Some([0.0, -cosine, -sine]) }, &[])
    };
    // The upper edge of the disc is level with the point.
    let horizon = PI / 2.0;
    let steps = [lit(horizon - 1e-3), lit(horizon - 1e-6), lit(horizon + 1e-6), lit(horizon + 1e-3)];
    assert!(steps.windows(2).all(|pair| (pair[1] / pair[0] - 1.0).abs() < 2e-3), "{steps:?}");
}

#[test]
fn a_chin_under_a_wide_face_gets_more_than_its_middle_gives() {
    // A 1.2 × 1.2 m face at 1 m whose middle is 80° off the normal: half of it is above the horizon. One factor on the axis
    // times one cosine was 0.26 to 0.68 stop too dark there (issue 17).
    let face = |side: f64| {
        let source = Source::Rectangle { width: metres(side), height: metres(side) };
        Face::new([0.0; 3], [0.0, 1.0, 0.0], Some(source), None)
    };
    let (sine, cosine) = 80.0_f64.to_radians().sin_cos();
    let place = Place { at: [0.0, 1.0, 0.0], normal: Some([sine, -cosine, 0.0]) };
    for side in [1.2, 2.0] {
        let source = Source::Rectangle { width: metres(side), height: metres(side) };
        let before = source.factor(metres(1.0)) * cosine;
        let more = (face(side).factor(&place, &[]) / before).log2();
        let (expected, _) = sum(&face(side), source, &place);
        assert!((0.2..0.9).contains(&more), "{more}");
        assert!((more - (expected / before).log2()).abs() < 1e-3, "{more}");
    }
}

#[test]
fn a_set_of_faces_is_quick() {
    // 8 faces by 16 points; the goal is 1 ms in release.
    let narrow = Beam::HalfPower { deg: 60.0 };
    for (source, beam) in [
        (Source::Rectangle { width: metres(0.6), height: metres(0.9) }, None),
        (Source::Disc { diameter: metres(1.2) }, None),
        (Source::Rectangle { width: metres(0.6), height: metres(0.9) }, Some(&narrow)),
        (Source::Disc { diameter: metres(1.2) }, Some(&narrow)),
    ] {
        let round = || {
            let mut random = Random(3);
            let start = Instant::now();
            let mut all = 0.0;
            for _ in 0..128 {
                let at = [random.next(-1.0, 1.0), random.next(1.0, 3.0), random.next(-1.0, 1.0)];
                let face = Face::new([0.0; 3], [0.0, 1.0, 0.0], Some(source), beam);
                all += face.factor(&Place { at, normal: Some(unit([0.3, -0.8, 0.2])) }, &[]);
            }
            assert!(all > 0.0);
            start.elapsed()
        };
        let took = (0..20).map(|_| round()).min().unwrap_or_default();
        println!("128 pairs of {source:?}, beam {}: {took:?}", beam.is_some());
        assert!(took.as_millis() < 20, "{took:?}");
    }
}
