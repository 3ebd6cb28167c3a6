//! Round trips: for every kind, a shift and its opposite lead back to the start.

use proptest::prelude::*;

use crate::light::{
    quantity::{
        Stops,
        kind::Kind,
        rules::{Reading, Rules},
    },
    stops::{Given, Target, convert},
};

fn literal() -> Rules {
    Rules { reading: Reading::Literal, ..Rules::default() }
}

proptest! {
    #[test]
    fn a_shift_and_its_opposite_cancel(
        which in 0..Kind::ALL.len(),
        along in 0.01..0.99_f64,
        shift in -12.0..12.0_f64,
    ) {
        let kind = Kind::ALL[which];
        let bounds = kind.bounds();
        // Uniform in stops over the range; a density, which may be 0, is uniform in density.
        let start = if bounds.least > 0.0 {
            bounds.least * (bounds.greatest / bounds.least).powf(along)
        } else {
            bounds.least + (bounds.greatest - bounds.least) * along
        };
        let shifted = convert(&Given::Number(start), &Target::Shift(Stops::new_unchecked(shift)), Some(kind), literal());
        prop_assume!(shifted.is_ok());
        let shifted = shifted.expect("assumed").to.value.get();
        let back = convert(&Given::Number(shifted), &Target::Shift(Stops::new_unchecked(-shift)), Some(kind), literal());
        let back = back.expect("where it came from lies in range").to.value.get();
        prop_assert!((back - start).abs() <= 1e-9 * start.abs().max(1.0), "{start} {shifted} {back}");
        // The difference between the two values is the shift.
        let counted = convert(&Given::Number(start), &Target::To(Given::Number(shifted)), Some(kind), literal());
        let counted = counted.expect("both lie in range").exposure_stops.get();
        prop_assert!((counted - shift).abs() < 1e-9, "{counted} {shift}");
    }

    #[test]
    fn a_mark_in_an_answer_is_read_as_the_same_value(which in 0..Kind::ALL.len(), along in 0.0..1.0_f64) {
        let kind = Kind::ALL[which];
        let bounds = kind.bounds();
        let start = bounds.least.max(1e-3) * (bounds.greatest / bounds.least.max(1e-3)).powf(along);
        let no_shift = Target::Shift(Stops::ZERO);
        let first = convert(&Given::Number(start), &no_shift, Some(kind), literal());
        prop_assume!(first.is_ok());
        let first = first.expect("assumed").from;
        let Some(mark) = first.mark else { return Ok(()) };
        let again = convert(&Given::Text(mark.clone().into_owned()), &no_shift, Some(kind), Rules::default());
        let again = again.expect("a mark can be sent back").from;
        let reported = first.off_by_stops.expect("beside a mark").get();
        // The mark differs from the value by exactly the reported error.
        let off = kind.exposure_stops(again.value.get()) - kind.exposure_stops(start);
        prop_assert!((off - reported).abs() < 1e-9, "{start} {mark} {off} {reported}");
        prop_assert_eq!(again.mark, Some(mark));
    }
}
