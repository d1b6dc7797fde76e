//! One part of a map that a job of its own computes.

use super::ShardError;
use std::fmt;
use std::str::FromStr;

/// Shard `index` of `of`: every `of`-th cell, so that costly corners of a map are shared out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Shard {
    /// From 1.
    pub index: usize,
    pub of: usize,
}

/// Most shards of a map.
pub(super) const SHARDS_MAX: usize = 100_000;

impl Shard {
    /// The whole map.
    pub const WHOLE: Shard = Shard { index: 1, of: 1 };

    /// Its cells in a plan of `len` cells.
    pub fn cells(self, len: usize) -> impl Iterator<Item = usize> {
        (self.index - 1..len).step_by(self.of)
    }

    /// True for the whole map.
    pub fn is_whole(self) -> bool {
        self.of == 1
    }
}

impl fmt::Display for Shard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.index, self.of)
    }
}

impl FromStr for Shard {
    type Err = ShardError;

    fn from_str(text: &str) -> Result<Shard, ShardError> {
        let wrong = || ShardError { text: text.to_owned() };
        let (index, of) = text.split_once('/').ok_or_else(wrong)?;
        let number = |t: &str| t.trim().parse::<usize>().map_err(|_| wrong());
        let shard = Shard { index: number(index)?, of: number(of)? };
        if shard.index >= 1 && shard.index <= shard.of && shard.of <= SHARDS_MAX { Ok(shard) } else { Err(wrong()) }
    }
}

/// Ascending numbers as `2,5,8-11`: what job arrays take.
pub fn list(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &n in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let text = |&(from, to): &(usize, usize)| if from == to { from.to_string() } else { format!("{from}-{to}") };
    runs.iter().map(text).collect::<Vec<_>>().join(",")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn shards_are_read_and_refused() {
        assert_eq!("2/12".parse::<Shard>(), Ok(Shard { index: 2, of: 12 }));
        for text in ["0/3", "4/3", "1", "a/b", "1/0", "-1/3", "1/200000"] {
            assert!(text.parse::<Shard>().is_err(), "{text}");
        }
    }

    #[test]
    fn lists_are_short() {
        assert_eq!(list(&[2, 5, 8, 9, 10, 11]), "2,5,8-11");
        assert_eq!(list(&[1, 2]), "1-2");
        assert_eq!(list(&[]), "");
    }

    proptest! {
        #[test]
        fn shards_share_out_every_cell_once(len in 0usize..200, of in 1usize..20) {
            let mut cells: Vec<usize> = (1..=of).flat_map(|index| Shard { index, of }.cells(len)).collect();
            cells.sort_unstable();
            prop_assert_eq!(cells, (0..len).collect::<Vec<_>>());
        }
    }
}
