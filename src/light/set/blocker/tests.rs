//! Blockers, checked by hand and against fine sums of rays.

use crate::light::{
    quantity::Metres,
    set::{
        blocker::*,
        face::{Face, Place},
        placement::Source,
    },
};

fn blocker(shape: Shape) -> Blocker {
    Blocker { id: None, name: "b".to_owned(), shape }
}

fn flag(middle: Vector, normal: Vector, size: [f64; 2]) -> Blocker {
    blocker(Shape::Board(Panel::upright(middle, normal, size.map(Metres::new_unchecked))))
}

fn body(x: f64, y: f64) -> Blocker {
    blocker(Shape::Cylinder { foot: [x, y, 0.0], height: 1.8, radius: 0.25 })
}

/// A softbox of 1 × 1 m at 2 m from the origin of the floor plan, 1.5 m high.
fn softbox() -> Face<'static> {
    let side = Metres::new_unchecked(1.0);
    let source = Source::Rectangle { width: side, height: side };
    Face::new([0.0, 2.0, 1.5], [0.0, -1.0, 0.0], Some(source), None)
}

fn place() -> Place {
    Place { at: [0.0, 0.0, 1.5], normal: Some([0.0, 1.0, 0.0]) }
}

#[test]
fn what_stands_in_the_line_hides_a_point() {
    let [from, to] = [[0.0, 0.0, 1.5], [0.0, 2.0, 1.5]];
    for (it, hides) in [
        (flag([0.0, 1.0, 1.5], [0.0, 1.0, 0.0], [0.4, 0.4]), true),
        (flag([0.0, 1.0, 1.5], [1.0, -1.0, 0.3], [0.4, 0.4]), true),
        // Beside the line, behind either end, and along the line.
        (flag([0.3, 1.0, 1.5], [0.0, 1.0, 0.0], [0.4, 0.4]), false),
        (flag([0.0, 2.5, 1.5], [0.0, 1.0, 0.0], [0.4, 0.4]), false),
        (flag([0.0, -0.5, 1.5], [0.0, 1.0, 0.0], [0.4, 0.4]), false),
        (flag([0.0, 1.0, 1.5], [1.0, 0.0, 0.0], [0.4, 0.4]), false),
        (body(0.0, 1.0), true),
        (body(0.24, 1.0), true),
        (body(0.26, 1.0), false),
        (body(0.0, 3.0), false),
    ] {
        assert_eq!(it.hides(from, to), hides, "{it:?}");
        assert_eq!(it.hides(to, from), hides, "{it:?}");
    }
    // Over the head, and down on it.
    assert!(!body(0.0, 1.0).hides([0.0, 0.0, 1.9], [0.0, 2.0, 1.9]));
    assert!(body(0.0, 1.0).hides([0.0, 1.0, 3.0], [0.0, 1.0, -1.0]));
    assert!(!body(0.0, 1.0).hides([0.3, 1.0, 3.0], [0.3, 1.0, -1.0]));
}

#[test]
fn a_point_on_a_body_is_dark_to_what_is_behind_it_only() {
    // The body's axis is 25 cm behind the point.
    let it = body(0.0, -0.25);
    for at in [[0.0, 0.0, 1.5], [0.0, 0.005, 1.5], [0.0, -0.005, 1.5]] {
        assert!(!it.hides(at, [0.3, 2.0, 1.5]), "{at:?}");
        assert!(it.hides(at, [0.3, -2.0, 1.5]), "{at:?}");
        assert!(it.hides([0.3, -2.0, 1.5], at), "{at:?}");
        let lit = softbox().factor(&Place { at, normal: None }, std::slice::from_ref(&it));
        assert!((lit / softbox().factor(&Place { at, normal: None }, &[]) - 1.0).abs() < 1e-9, "{at:?}");
    }
    // On top of the head, and inside, where it hides nothing.
    assert!(!it.hides([0.0, -0.25, 1.8], [0.0, -0.25, 4.0]));
    assert!(!it.hides([0.0, -0.25, 1.6], [0.0, 2.0, 1.5]));
    assert!(it.contains([0.0, -0.25, 1.6]) && !it.contains([0.0, 0.0, 1.6]));
}

#[test]
fn a_flag_over_half_a_face_leaves_the_half() {
    // Its edge is on the line from the point to the middle of the face: by symmetry one half is left.
    let whole = softbox().factor(&place(), &[]);
    for (middle, part) in [
        ([-2.0, 1.0, 1.5], 0.5),
        ([2.0, 1.0, 1.5], 0.5),
        // All hidden, and nothing hidden.
        ([-1.0, 1.0, 1.5], 0.0),
        ([-2.6, 1.0, 1.5], 1.0),
        ([0.0, 3.0, 1.5], 1.0),
        ([0.0, -1.0, 1.5], 1.0),
    ] {
        let lit = softbox().factor(&place(), &[flag(middle, [0.0, 1.0, 0.0], [4.0, 4.0])]);
        assert!((lit / whole - part).abs() < 1e-9, "{middle:?}: {}", lit / whole);
    }
    // Two flags that overlap take no more than both together.
    let two = [
        flag([-2.0, 1.0, 1.5], [0.0, 1.0, 0.0], [4.0, 4.0]),
        flag([-2.0, 0.5, 1.5], [0.0, 1.0, 0.0], [4.0, 4.0]),
    ];
    assert!((softbox().factor(&place(), &two) / whole - 0.5).abs() < 1e-9);
}

#[test]
fn half_shade_agrees_with_a_fine_sum_of_rays() {
    // Each of 300 × 300 parts of the face, all or nothing.
    let at = [0.1, 0.0, 1.4];
    let normal = [0.2, 0.98, 0.0];
    let lit_by_rays = |blockers: &[Blocker]| -> f64 {
        let parts = (0..90_000).map(|part: i32| {
            let [x, z] = [part % 300, part / 300].map(|part| (f64::from(part) + 0.5) / 300.0 - 0.5);
            let from = [x, 2.0, 1.5 + z];
            if blockers.iter().any(|it| it.hides(at, from)) {
                return 0.0;
            }
            let to = minus(at, from);
            let square = dot(to, to);
            -to[1] * -dot(to, normal) / (square * square) / 90_000.0
        });
        parts.sum()
    };
    let strip = flag([0.1, 0.8, 1.6], [0.3, 1.0, 0.2], [0.15, 0.3]);
    let head = blocker(Shape::Cylinder { foot: [-0.1, 1.0, 0.0], height: 1.55, radius: 0.12 });
    let drum = blocker(Shape::Cylinder { foot: [0.1, 0.7, 1.5], height: 0.2, radius: 0.1 });
    let low = blocker(Shape::Cylinder { foot: [0.0, 0.3, 0.0], height: 1.3, radius: 0.2 });
    for blockers in [
        vec![strip.clone()],
        vec![head.clone()],
        vec![drum.clone()],
        vec![strip.clone(), head.clone()],
        vec![strip, head, drum, low],
    ] {
        let place = Place { at, normal: Some(normal) };
        let lit = softbox().factor(&place, &blockers);
        let off = (lit / lit_by_rays(&blockers)).log2();
        let taken = (lit / softbox().factor(&place, &[])).log2();
        assert!(off.abs() < 0.01 && (-3.0..-0.01).contains(&taken), "{off} of {taken}: {blockers:?}");
    }
}
