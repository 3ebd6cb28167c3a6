//! Ways to take some of a list.

/// The number of ways to take so many of `all`.
pub fn binomial(all: usize, taken: usize) -> u64 {
    (0..taken as u64).fold(1, |product, index| product * (all as u64 - index) / (index + 1))
}

/// All ways to take so many, in order.
pub fn combinations(all: &[usize], taken: usize) -> Vec<Vec<usize>> {
    if taken == 0 {
        return vec![Vec::new()];
    }
    let begin = |(index, first): (usize, &usize)| {
        let rest = combinations(&all[index + 1..], taken - 1).into_iter();
        rest.map(|rest| [vec![*first], rest].concat()).collect::<Vec<_>>()
    };
    all.iter().enumerate().flat_map(begin).collect()
}

/// All ways to take so many, in every order.
pub fn arrangements(all: &[usize], taken: usize) -> Vec<Vec<usize>> {
    if taken == 0 {
        return vec![Vec::new()];
    }
    let begin = |first: &usize| {
        let others: Vec<usize> = all.iter().copied().filter(|other| other != first).collect();
        let rest = arrangements(&others, taken - 1).into_iter();
        rest.map(|rest| [vec![*first], rest].concat()).collect::<Vec<_>>()
    };
    all.iter().flat_map(begin).collect()
}
