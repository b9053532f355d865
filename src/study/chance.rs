//! Chance with a seed: the same seed gives the same numbers.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

/// A seeded source of numbers.
#[derive(Debug, Clone)]
pub(super) struct Chance(Xoshiro256PlusPlus);

impl Chance {
    pub(super) fn new(seed: u64) -> Chance {
        Chance(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// A source of its own for everything that has a name: what is asked of one does not move another.
    pub(super) fn named(seed: u64, name: &str) -> Chance {
        // The hash of Fowler, Noll and Vo, variant 1a with 64 bits (constants from memory).
        let start = 0xcbf2_9ce4_8422_2325_u64;
        let hash = name
            .bytes()
            .fold(start, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3));
        Chance::new(seed ^ hash)
    }

    pub(super) fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// A number between 0 and 1.
    pub(super) fn share(&mut self) -> f64 {
        // The upper 53 bits fill a double exactly.
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A number between −1 and 1.
    pub(super) fn side(&mut self) -> f64 {
        2.0 * self.share() - 1.0
    }

    /// A place of a list, by weight; `None` of a list without any.
    pub(super) fn pick(&mut self, weights: impl Iterator<Item = f64> + Clone) -> Option<usize> {
        let total: f64 = weights.clone().sum();
        let mut left = self.share() * total;
        let mut last = None;
        for (idx, weight) in weights.enumerate().filter(|(_, weight)| *weight > 0.0) {
            last = Some(idx);
            left -= weight;
            if left < 0.0 {
                break;
            }
        }
        last
    }
}
