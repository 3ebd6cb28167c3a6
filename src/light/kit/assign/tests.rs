//! Assignments against brute force over all of them, and against a reference library.

use proptest::prelude::*;

use crate::light::kit::assign::*;

/// The objectives in order, smaller is better: empty roles, unreached roles, worst error, moves, minus headroom.
fn rank(pairs: &[Vec<Pair>], assignment: &Assignment) -> (usize, usize, f64, usize, f64) {
    let chosen: Vec<Option<Pair>> =
        assignment.iter().zip(pairs).map(|(unit, row)| unit.map(|unit| row[unit])).collect();
    let empty = chosen.iter().filter(|pair| pair.is_none()).count();
    let given = || chosen.iter().flatten();
    let unreached = given().filter(|pair| pair.short > SAME).count();
    let worst = given().map(|pair| pair.short).fold(0.0, f64::max);
    let moves = given().filter(|pair| pair.moved).count();
    let tightest =
        given().filter(|pair| pair.short <= SAME).map(|pair| pair.headroom).fold(f64::INFINITY, f64::min);
    (empty, unreached, worst, moves, -tightest)
}

/// Every assignment, including those that leave roles empty.
fn every_assignment(roles: usize, units: usize) -> Vec<Assignment> {
    (0..roles).fold(vec![Vec::new()], |all, _| {
        all.into_iter()
            .flat_map(|assignment: Assignment| {
                let free: Vec<Option<usize>> =
                    (0..units).map(Some).filter(|unit| !assignment.contains(unit)).chain([None]).collect();
                free.into_iter().map(move |unit| {
                    let mut longer = assignment.clone();
                    longer.push(unit);
                    longer
                })
            })
            .collect()
    })
}

fn pair() -> impl Strategy<Value = Pair> {
    (prop_oneof![2 => Just(0.0), 1 => (1..8_i32).prop_map(|k| f64::from(k) / 4.0)], 0..8_i32, any::<bool>())
        .prop_map(|(short, headroom, moved)| Pair { short, headroom: f64::from(headroom) / 4.0, moved })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn no_assignment_is_better(
        pairs in (1_usize..5, 1_usize..6).prop_flat_map(|(roles, units)| {
            prop::collection::vec(prop::collection::vec(pair(), units), roles)
        })
    ) {
        let found = rank(&pairs, &assign(&pairs));
        let reached: Vec<Vec<bool>> =
            pairs.iter().map(|row| row.iter().map(|pair| pair.short <= 0.0).collect()).collect();
        prop_assert_eq!(all_reached(&reached), found.0 == 0 && found.1 == 0);
        for other in every_assignment(pairs.len(), pairs[0].len()) {
            let other = rank(&pairs, &other);
            let order = found.0.cmp(&other.0)
                .then(found.1.cmp(&other.1))
                .then(found.2.total_cmp(&other.2))
                .then(found.3.cmp(&other.3))
                .then(found.4.total_cmp(&other.4));
            prop_assert!(order.is_le(), "{found:?} {other:?}");
        }
    }
}

#[test]
fn assignments_agree_with_a_reference_library() {
    // The file names the library and its version.
    let data: serde_json::Value =
        serde_json::from_str(include_str!("../../../../tests/data/scipy.json")).expect("JSON");
    let is = |value: &serde_json::Value| value.as_i64() == Some(1);
    for case in data["assignments"].as_array().expect("assignments") {
        let rows =
            case["reached"].as_array().expect("rows").iter().zip(case["moved"].as_array().expect("rows"));
        let pairs: Vec<Vec<Pair>> = rows
            .map(|(reached, moved)| {
                let both = reached.as_array().expect("a row").iter().zip(moved.as_array().expect("a row"));
                both.map(|(reached, moved)| Pair {
                    short: if is(reached) { 0.0 } else { 1.0 },
                    headroom: 0.0,
                    moved: is(moved),
                })
                .collect()
            })
            .collect();
        let (empty, unreached, _, moves, _) = rank(&pairs, &assign(&pairs));
        assert_eq!(case["unreached"], empty + unreached);
        assert_eq!(case["moves"], moves);
    }
}
