//! Falloff, checked against closed forms and sums over the face.

use std::f64::consts::PI;

use crate::light::set::falloff::*;

/// E on the axis over that of the inverse-square law, sum_over_face over small squares of a uniform Lambertian face:
/// each contributes L·cos⁴/d² (CIE e-ILV: photometric distance law with cosines at both ends).
fn sum_over_face(width: f64, height: f64, is_disc: bool, distance: f64) -> f64 {
    let cells = 400;
    let (mut sum, mut area) = (0.0, 0.0);
    for i in 0..cells {
        for j in 0..cells {
            let x = ((f64::from(i) + 0.5) / f64::from(cells) - 0.5) * width;
            let y = ((f64::from(j) + 0.5) / f64::from(cells) - 0.5) * height;
            if is_disc && x.hypot(y) > width / 2.0 {
                continue;
            }
            let square = distance * distance + x * x + y * y;
            sum += distance * distance / (square * square);
            area += 1.0;
        }
    }
    sum / area * distance * distance
}

#[test]
fn finite_sources_agree_with_a_sum_over_the_face() {
    for (width, height) in [(0.5, 0.5), (1.2, 0.4), (2.0, 1.0)] {
        for distance in [0.3, 0.7, 1.5, 6.0] {
            let size = |side: f64| Metres::new_unchecked(side);
            let rectangle = Source::Rectangle { width: size(width), height: size(height) };
            let factor = rectangle.factor(Metres::new_unchecked(distance));
            let sum = sum_over_face(width, height, false, distance);
            assert!((factor / sum - 1.0).abs() < 1e-4, "{width} x {height} at {distance}: {factor} {sum}");
            let disc = Source::Disc { diameter: size(width) };
            let factor = disc.factor(Metres::new_unchecked(distance));
            let sum = sum_over_face(width, width, true, distance);
            assert!((factor / sum - 1.0).abs() < 2e-3, "disc {width} at {distance}: {factor} {sum}");
        }
    }
}

#[test]
fn five_times_the_largest_dimension_is_as_good_as_a_point() {
    // Published: ANSI/IES LS-1, 9.1.1: within 1 %.
    let disc = Source::Disc { diameter: Metres::new_unchecked(1.0) };
    let square = Source::Rectangle { width: Metres::new_unchecked(1.0), height: Metres::new_unchecked(1.0) };
    for source in [disc, square] {
        let factor = source.factor(Metres::new_unchecked(AS_A_POINT));
        assert!((0.985..1.0).contains(&factor), "{factor}");
    }
    // The factor of a disc there is 1/(1 + 0.1²) = 0.990.
    assert!((disc.factor(Metres::new_unchecked(5.0)) - 1.0 / 1.01).abs() < 1e-12);
}

#[test]
fn light_at_the_distance_for_evenness_is_just_even_enough() {
    let disc = Some(Source::Disc { diameter: Metres::new_unchecked(1.2) });
    let rectangle =
        Some(Source::Rectangle { width: Metres::new_unchecked(0.4), height: Metres::new_unchecked(1.8) });
    for source in [None, disc, rectangle] {
        for (depth, within) in [(0.3, 0.1), (1.0, 0.33), (2.5, 1.0)] {
            let front = evenness(source, depth, within).expect("within 1 km");
            assert!(
                (-stops(source, front, front + depth) - within).abs() < 1e-6,
                "{source:?} {depth} {within}"
            );
        }
    }
    // By hand, for a point: half a metre of depth within one stop needs 0.5/(√2 - 1) = 1.2071 m.
    assert!((evenness(None, 0.5, 1.0).expect("near") - 1.207_106_8).abs() < 1e-6);
}

#[test]
fn the_solid_angle_of_a_beam_is_its_integral() {
    // Sum the beam over the sphere in rings.
    let table = Beam::Table(vec![[0.0, 2.0], [12.0, 1.8], [30.0, 0.9], [55.0, 0.2], [90.0, 0.0]]);
    for beam in
        [Beam::HalfPower { deg: 20.0 }, Beam::HalfPower { deg: 65.0 }, Beam::HalfPower { deg: 140.0 }, table]
    {
        let rings = 200_000;
        let step = PI / f64::from(rings);
        let sum: f64 = (0..rings)
            .map(|ring| (f64::from(ring) + 0.5) * step)
            .map(|angle| beam.relative(angle.to_degrees()) * 2.0 * PI * angle.sin() * step)
            .sum();
        assert!((beam.solid_angle().get() / sum - 1.0).abs() < 1e-4, "{beam:?}: {sum}");
    }
}

#[test]
fn light_is_even_at_every_distance_beyond() {
    // For a disc in closed form: ((d+t)² + R²)/(d² + R²) = k has its outer root at (t + √(t² - (k-1)((k-1)R² - t²)))/(k-1),
    // derived from the factor 1/(1+(R/d)²).
    let disc = |diameter: f64| Source::Disc { diameter: Metres::new_unchecked(diameter) };
    for diameter in [0.05, 0.6, 1.2, 3.0, 20.0] {
        for depth in [0.02, 0.3, 1.0, 4.0] {
            for within in [0.05_f64, 0.33, 0.71, 1.0, 2.0] {
                let (radius, k) = (diameter / 2.0, within.exp2() - 1.0);
                let root = depth * depth - k * (k * radius * radius - depth * depth);
                let expected = if root < 0.0 { 0.0 } else { (depth + root.sqrt()) / k };
                let from = evenness(Some(disc(diameter)), depth, within).expect("within 1 km");
                assert!(
                    (from - expected).abs() < 1e-5 * expected.max(1.0),
                    "{diameter} {depth} {within}: {from} {expected}"
                );
            }
        }
    }
    // For rectangles by an exhaustive search.
    for (width, height) in [(0.6, 0.6), (1.2, 0.8), (0.3, 1.8), (0.05, 4.0), (6.0, 4.0)] {
        let source =
            Source::Rectangle { width: Metres::new_unchecked(width), height: Metres::new_unchecked(height) };
        for depth in [0.05, 0.3, 1.0, 3.0] {
            for within in [0.1, 0.33, 0.71, 1.5] {
                let from = evenness(Some(source), depth, within).expect("within 1 km");
                let drop = |front: f64| -stops(Some(source), front, front + depth);
                let all = (0..2000).map(|k| 1e-3 * (f64::from(k) / 2000.0 * 1e6_f64.ln()).exp());
                let beyond = all.filter(|front| *front >= from).map(drop).fold(0.0, f64::max);
                assert!(beyond <= within + 1e-9, "{source:?} {depth} {within}: {beyond} from {from}");
                assert!(from == 0.0 || (drop(from) - within).abs() < 1e-6, "{source:?} {depth} {within}");
            }
        }
    }
}
