//! Boards, checked against view factors, numeric integration by SciPy, and each other.

use std::time::Instant;

use serde_json::Value;

use crate::light::{
    quantity::Metres,
    set::{
        beam::Beam,
        placement::Source,
        reflector::*,
        vector::{plus, scaled},
    },
};

fn board(middle: Vector, normal: Vector, size: [f64; 2], up: Option<Vector>, reflectance: f64) -> Reflector {
    let panel =
        Panel::new(middle, normal, size.map(Metres::new_unchecked), up).expect("not along the normal");
    Reflector { id: None, name: "board".to_owned(), panel, reflectance, plus_minus: None }
}

fn around<'s>(face: Face<'s>, place: Place, blockers: &'s [Blocker]) -> Around<'s> {
    Around { lights: vec![vec![Some(face)]], places: vec![Some(place)], blockers, boards: 1 }
}

/// The factor by way of one board.
fn bounced(face: Face<'_>, board: &Reflector, place: Place, blockers: &[Blocker]) -> f64 {
    board.factors(&around(face, place, blockers))[0][0]
}

#[test]
fn boards_agree_with_numeric_integration() {
    let data: Value = serde_json::from_str(include_str!("../../../../tests/data/boards.json")).expect("JSON");
    let cases = data["cases"].as_array().expect("cases");
    assert!(cases.len() >= 16);
    let vector = |value: &Value| -> Option<Vector> { serde_json::from_value(value.clone()).ok() };
    for case in cases {
        let pair = |value: &Value| -> Option<[f64; 2]> { serde_json::from_value(value.clone()).ok() };
        let (light, it, place) = (&case["light"], &case["board"], &case["place"]);
        let source = pair(&light["rectangle_m"]).map(|sides| {
            let [width, height] = sides.map(Metres::new_unchecked);
            Source::Rectangle { width, height }
        });
        let beam = light["half_power_deg"].as_f64().map(|deg| Beam::HalfPower { deg });
        let from = vector(&light["position"]).expect("a position");
        let axis = minus(vector(&light["aim"]).expect("an aim"), from);
        let at = vector(&place["position"]).expect("a position");
        let place = Place { at, normal: vector(&place["normal"]).map(unit) };
        let board = board(
            vector(&it["position"]).expect("a position"),
            vector(&it["normal"]).expect("a normal"),
            pair(&it["size_m"]).expect("a size"),
            vector(&it["up"]),
            it["reflectance"].as_f64().expect("a reflectance"),
        );
        let factor = bounced(Face::new(from, axis, source, beam.as_ref()), &board, place, &[]);
        let off = (factor / case["factor_per_m2"].as_f64().expect("a factor")).log2();
        let cells = board.cells(&around(Face::new(from, axis, source, beam.as_ref()), place, &[]));
        println!("{}: off by {off:.6} stop, {} cells", case["what"], cells.len());
        assert!(off.abs() < 1e-3, "{}: {factor}, off by {off} stop", case["what"]);
    }
}

/// The view factor from a small place to a rectangle, by a light so far away that it lights the board evenly: then the
/// light of the board over what falls on it is ρ·F.
fn view_factor(board: &Reflector, place: Place) -> f64 {
    let far = 1e5;
    let from = plus(board.panel.middle, far, board.panel.normal);
    let face = Face::new(from, scaled(board.panel.normal, -1.0), None, None);
    bounced(face, board, place, &[]) * far * far / board.reflectance
}

#[test]
fn boards_have_the_view_factors_of_parallel_and_perpendicular_rectangles() {
    // Published: Siegel & Howell, configuration factors of a small element to a rectangle from a corner; four of them make
    // one that is above its middle, two one that stands on its edge's plane.
    for (a, b, c) in [(1.0_f64, 1.5_f64, 0.8_f64), (0.3, 0.4, 2.0), (2.0, 1.0, 0.1), (1.0, 1.0, 0.02)] {
        let (x, y) = (a / c, b / c);
        let side = |x: f64, y: f64| x / (1.0 + x * x).sqrt() * (y / (1.0 + x * x).sqrt()).atan();
        let parallel = 4.0 * (side(x, y) + side(y, x)) / (2.0 * PI);
        let above = Place { at: [0.0, 0.0, c], normal: Some([0.0, 0.0, -1.0]) };
        let level = board([0.0; 3], [0.0, 0.0, 1.0], [2.0 * a, 2.0 * b], None, 0.7);
        let found = view_factor(&level, above);
        assert!((found / parallel).log2().abs() < 1e-3, "{a} {b} {c}: {found} {parallel}");
        // A place c before the lower edge of a wall, in its middle, that faces up: perpendicular to the wall.
        let upright = 2.0 * ((a / c).atan() - (c / b.hypot(c)) * (a / b.hypot(c)).atan()) / (2.0 * PI);
        let floor = Place { at: [0.0, -c, 0.0], normal: Some([0.0, 0.0, 1.0]) };
        let wall = board([0.0, 0.0, b / 2.0], [0.0, -1.0, 0.0], [2.0 * a, b], None, 0.7);
        let found = view_factor(&wall, floor);
        assert!((found / upright).log2().abs() < 1e-3, "{a} {b} {c}: {found} {upright}");
    }
}

#[test]
fn a_board_behind_lights_or_edge_on_gives_nothing() {
    let white = |normal: Vector| board([0.0, 1.0, 0.0], normal, [1.0, 1.0], None, 0.9);
    let bulb = || Face::new([-1.0, -1.0, 0.0], [0.0, 1.0, 0.0], None, None);
    let place = Place { at: [1.0, -1.0, 0.0], normal: None };
    assert!(bounced(bulb(), &white([0.0, -1.0, 0.0]), place, &[]) > 0.0);
    assert_eq!(bounced(bulb(), &white([0.0, 1.0, 0.0]), place, &[]).to_bits(), 0);
    // Light and point both in the plane of the board.
    let edge_on = board([0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 1.0], None, 0.9);
    assert_eq!(bounced(bulb(), &edge_on, place, &[]).to_bits(), 0);
}

#[test]
fn paper_behind_a_subject_lifts_its_edges_by_three_quarters_of_a_stop() {
    // A cheek that looks 86° away from the camera, lit from beside the camera, 60 cm before white paper that the light
    // reaches too.
    let paper = board([0.0, 0.6, 1.5], [0.0, -1.0, 0.0], [2.7, 3.0], None, 0.9);
    let (sine, cosine) = 86.0_f64.to_radians().sin_cos();
    let edge = Place { at: [0.09, 0.0, 1.6], normal: Some([sine, -cosine, 0.0]) };
    let from = [0.3, -2.0, 1.9];
    let lamp = || Face::new(from, minus([0.0, 0.0, 1.6], from), None, None);
    let direct = lamp().factor(&edge, &[]);
    let lift = ((direct + bounced(lamp(), &paper, edge, &[])) / direct).log2();
    println!("lift {lift}");
    assert!((lift - 0.75).abs() < 0.05, "{lift}");
}

#[test]
fn a_flag_shades_a_board_and_its_light() {
    let paper = board([0.0, 1.0, 0.0], [0.0, -1.0, 0.0], [2.0, 2.0], None, 0.9);
    let place = Place { at: [0.5, -1.0, 0.0], normal: None };
    let bulb = || Face::new([-0.5, -1.0, 0.0], [0.0, 1.0, 0.0], None, None);
    let flag = |middle: Vector, width: f64| Blocker {
        id: None,
        name: "flag".to_owned(),
        shape: crate::light::set::blocker::Shape::Board(Panel::upright(
            middle,
            [0.0, 1.0, 0.0],
            [width, 4.0].map(Metres::new_unchecked),
        )),
    };
    let open = bounced(bulb(), &paper, place, &[]);
    // All of the light, or all that the point sees.
    assert_eq!(bounced(bulb(), &paper, place, &[flag([-0.5, -0.5, 0.0], 4.0)]).to_bits(), 0);
    assert_eq!(bounced(bulb(), &paper, place, &[flag([0.5, -0.5, 0.0], 4.0)]).to_bits(), 0);
    // A flag that hides the left half of the board from the bulb, against a board of which that half is missing.
    let half = board([0.5, 1.0, 0.0], [0.0, -1.0, 0.0], [1.0, 2.0], None, 0.9);
    let shaded = bounced(bulb(), &paper, place, &[flag([-2.25, 0.0, 0.0], 4.0)]);
    let expected = bounced(bulb(), &half, place, &[]);
    assert!((shaded / expected).log2().abs() < 0.05, "{shaded} {expected} {open}");
}

#[test]
fn a_board_on_eight_lights_and_points_is_quick() {
    // The goal is 1 ms in release.
    let paper = board([0.0, 1.0, 1.5], [0.0, -1.0, 0.0], [2.7, 3.0], None, 0.9);
    let at = |index: usize| 0.35 * (index as f64 - 3.5);
    let places: Vec<Option<Place>> = (0..8)
        .map(|index| Some(Place { at: [at(index), 0.0, 1.6], normal: Some([0.0, -1.0, 0.0]) }))
        .map(|place| place.map(|place| Place { normal: Some(unit([0.9, 0.3, 0.0])), ..place }))
        .collect();
    let side = Metres::new_unchecked(0.8);
    let source = Some(Source::Rectangle { width: side, height: side });
    let face = |index: usize, to: Vector, source| {
        let from = [1.2 * at(index), -2.0, 2.0];
        Some(Face::new(from, minus(to, from), source, None))
    };
    let aimed: Vec<Faces<'_>> = (0..8).map(|index| vec![face(index, [0.0, 0.0, 1.5], source)]).collect();
    let at_each: Vec<Faces<'_>> = (0..8)
        .map(|index| places.iter().flatten().map(|place| face(index, place.at, source)).collect())
        .collect();
    let points: Vec<Faces<'_>> = (0..8).map(|index| vec![face(index, [0.0, 0.0, 1.5], None)]).collect();
    for (what, lights) in [("points", points), ("aimed faces", aimed), ("faces aimed at each point", at_each)]
    {
        let around = Around { lights, places: places.clone(), blockers: &[], boards: 1 };
        let round = || {
            let start = Instant::now();
            assert!(paper.factors(&around)[3][4] > 0.0);
            start.elapsed()
        };
        let took = (0..20).map(|_| round()).min().unwrap_or_default();
        println!("{what}: {took:?}, {} cells", paper.cells(&around).len());
        assert!(took.as_millis() < 40, "{what}: {took:?}");
    }
}
