//! Chance with a seed.

/// Chance that can be repeated (SplitMix64, Steele, Lea and Flood 2014).
pub struct Dice(u64);

impl Dice {
    /// Dice that fall alike for the same seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn throw(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A whole number below `count`; 0 where that is 0.
    pub fn below(&mut self, count: usize) -> usize {
        (self.throw() % (count.max(1) as u64)) as usize
    }

    /// One time in `count`.
    pub fn chance(&mut self, count: usize) -> bool {
        self.below(count) == 0
    }

    /// From 0 to below 1.
    pub fn part(&mut self) -> f64 {
        (self.throw() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// One of a list.
    pub fn pick<'t, T>(&mut self, all: &'t [T]) -> Option<&'t T> {
        all.get(self.below(all.len()))
    }
}
