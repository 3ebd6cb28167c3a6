//! Posterior, evidence and gain against NumPy (`tests/correct/reference.py`; its version is in the data).

use nalgebra::DMatrix;
use serde_json::Value;

use crate::light::correct::{
    next_reading::variances_after,
    posterior::{Metered, Posterior},
    prior::{Handling, Prior},
    tests::known,
    worst::expected_worst,
};

fn reference() -> Value {
    serde_json::from_str(include_str!("../../../../tests/correct/reference.json")).expect("JSON")
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(|item| item.as_f64().expect("a number")).collect()
}

fn rows(value: &Value) -> Vec<Vec<f64>> {
    value.as_array().expect("a list").iter().map(numbers).collect()
}

fn matrix(value: &Value) -> DMatrix<f64> {
    let rows = rows(value);
    DMatrix::from_fn(rows.len(), rows[0].len(), |row, column| rows[row][column])
}

fn prior(asked: &Value) -> Prior {
    let own = numbers(&asked["own"]);
    let number = |name: &str| asked[name].as_f64().expect("a number");
    let handling = vec![Handling { dial: number("dial"), repeat: number("repeat") }; own.len()];
    let mut common = numbers(&asked["common"]);
    common.resize(own.len(), 0.0);
    Prior::new(&known(&own, &common, &matrix(&asked["pairs"])), &handling)
}

fn readings(asked: &Value) -> Vec<Metered> {
    let index = |value: &Value| value.as_u64().expect("an index") as usize;
    let number = |value: &Value| value.as_f64().expect("a number");
    let one = |reading: &Value| Metered {
        round: index(&reading["round"]),
        point: index(&reading["point"]),
        light: numbers(&reading["light"]),
        redialled: reading["redialled"]
            .as_array()
            .expect("a list")
            .iter()
            .map(|is| is.as_bool() == Some(true))
            .collect(),
        ambient: number(&reading["ambient"]),
        stops: number(&reading["stops"]),
        variance: number(&reading["variance"]),
    };
    asked["readings"].as_array().expect("a list").iter().map(one).collect()
}

#[track_caller]
fn near(found: impl IntoIterator<Item = f64>, wanted: impl IntoIterator<Item = f64>, within: f64) {
    let (found, wanted): (Vec<f64>, Vec<f64>) = (found.into_iter().collect(), wanted.into_iter().collect());
    assert_eq!(found.len(), wanted.len());
    let off = found.iter().zip(&wanted).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    assert!(off < within, "{off}: {found:?}, not {wanted:?}");
}

#[test]
fn posterior_and_gain_are_those_of_numpy() {
    for case in reference()["cases"].as_array().expect("cases") {
        let (asked, answer) = (&case["asked"], &case["answer"]);
        let (prior, readings) = (prior(asked), readings(asked));
        let posterior = Posterior::new(prior, &readings).expect("a posterior");
        let flat = |value: &Value| rows(value).concat();
        near(posterior.pairs.transpose().iter().copied(), flat(&answer["pairs"]), 1e-5);
        near(posterior.lights().iter().copied(), numbers(&answer["lights"]), 1e-5);
        near(posterior.covariance().iter().copied(), flat(&answer["covariance"]), 1e-6);
        near(posterior.left_over.iter().copied(), numbers(&answer["left_over"]), 1e-5);
        near([posterior.evidence], [answer["evidence"].as_f64().expect("a number")], 1e-4);

        let at = matrix(&asked["at"]);
        let light = DMatrix::from_fn(at.ncols(), at.nrows(), |point, light| {
            at[(light, point)] * posterior.pairs[(light, point)].exp2()
        });
        let shares = DMatrix::from_fn(light.nrows(), light.ncols(), |point, of| {
            light[(point, of)] / light.row(point).sum()
        });
        let extra = vec![0.0; at.ncols()];
        let (now, then) = variances_after(&posterior, &shares, &extra, readings[0].variance, |_, _| true);
        near(now, numbers(&answer["variances"]), 1e-6);
        // In the reference light by light, here point by point.
        for candidate in then {
            let wanted = &answer["then"][candidate.light * at.ncols() + candidate.point];
            near(candidate.variances, numbers(wanted), 1e-6);
        }
    }
}

#[test]
fn expected_worst_is_that_of_draws() {
    for case in reference()["worsts"].as_array().expect("cases") {
        let found = expected_worst(&numbers(&case["variances"]));
        near([found], [case["worst"].as_f64().expect("a number")], 0.003);
    }
}
