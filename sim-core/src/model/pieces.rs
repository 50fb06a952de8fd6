//! The pieces of a drive, column by column: a month of a log at 1 Hz has hundreds of thousands.

use crate::column::{Column, Numbers};
use crate::model::Piece;
use crate::plant::set_point_rule::Phase;
use crate::time::Instant;

/// Pieces that follow on each other without gaps; neighbours with the same conditions are one. A piece is given by value.
#[derive(Debug, Clone, Default)]
pub struct Pieces {
    /// Beginning of the first, and the end of each.
    bounds: Vec<Instant>,
    /// The numbers of the first.
    first: [f64; NUMBERS],
    /// Those that change, each with its place among them.
    changing: Vec<(usize, Numbers)>,
    others: Column<Others>,
}

/// Names every condition once: a piece is taken apart and put together in the same order. One that is new in [`Piece`] and
/// not named here does not compile.
macro_rules! conditions {
    (numbers: $($number:ident),+; others: $($other:ident: $kind:ty),+) => {
        /// Conditions that are numbers.
        const NUMBERS: usize = [$(stringify!($number)),+].len();

        /// Conditions that are no numbers.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        struct Others {
            $($other: $kind),+
        }

        fn apart(piece: &Piece) -> ([f64; NUMBERS], Others) {
            let Piece { start: _, end: _, $($number,)+ $($other),+ } = *piece;
            ([$($number),+], Others { $($other),+ })
        }

        fn together((start, end): (Instant, Instant), numbers: [f64; NUMBERS], others: Others) -> Piece {
            let ([$($number),+], Others { $($other),+ }) = (numbers, others);
            Piece { start, end, $($number,)+ $($other),+ }
        }
    };
}

conditions! {
    numbers: engine_rpm, set_point_v, vehicle_load_a, house_load_w, house_solar_w, air_c, bay_c, starter_solar_a, mains_a,
        input_joint_extra_ohm;
    others: set_point_as_read: bool, run_signal: bool, phase: Phase, stop_start: bool, input_open: bool, day: u32
}

impl serde::Serialize for Pieces {
    /// One after the other, each with all its conditions.
    fn serialize<S: serde::Serializer>(&self, writer: S) -> Result<S::Ok, S::Error> {
        writer.collect_seq(self.iter())
    }
}

impl Pieces {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.bounds.len().saturating_sub(1)
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// A piece; they count from 0.
    ///
    /// # Panics
    /// Where there is no such piece.
    #[inline]
    pub fn at(&self, n: usize) -> Piece {
        let mut numbers = self.first;
        for (k, column) in &self.changing {
            numbers[*k] = column.at(n);
        }
        together((self.bounds[n], self.bounds[n + 1]), numbers, self.others.at(n))
    }

    /// When a piece ends.
    ///
    /// # Panics
    /// Where there is no such piece.
    pub fn end_of(&self, n: usize) -> Instant {
        self.bounds[n + 1]
    }

    /// The first piece.
    pub fn first(&self) -> Option<Piece> {
        (!self.is_empty()).then(|| self.at(0))
    }

    /// The last piece.
    pub fn last(&self) -> Option<Piece> {
        Some(self.at(self.len().checked_sub(1)?))
    }

    /// When the first begins.
    pub fn start(&self) -> Instant {
        self.bounds.first().copied().unwrap_or_default()
    }

    /// When the last ends.
    pub fn end(&self) -> Instant {
        self.bounds.last().copied().unwrap_or_default()
    }

    /// All of them in order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = Piece> + ExactSizeIterator + Clone + '_ {
        (0..self.len()).map(|n| self.at(n))
    }

    /// The piece that holds an instant; the last one after the end.
    pub fn index_at(&self, t: Instant) -> usize {
        let ends = self.bounds.get(1..).unwrap_or_default();
        ends.partition_point(|end| *end <= t).min(ends.len().saturating_sub(1))
    }

    /// Adds a piece that begins where the last one ends; one with the conditions of the last only makes that longer, and
    /// then it says so.
    pub fn push(&mut self, piece: &Piece) -> bool {
        debug_assert!(self.bounds.last().is_none_or(|end| *end == piece.start), "a gap");
        let (numbers, others) = apart(piece);
        let len = self.len();
        if len == 0 {
            self.bounds = vec![piece.start];
            self.first = numbers;
        } else if self.others.last() == Some(others) && self.last_numbers() == numbers {
            self.bounds[len] = piece.end;
            return true;
        }
        self.bounds.push(piece.end);
        self.others.push(others);
        for (k, number) in numbers.into_iter().enumerate() {
            let column = match self.changing.iter().position(|(at, _)| *at == k) {
                Some(column) => column,
                None if number.to_bits() == self.first[k].to_bits() => continue,
                None => {
                    self.changing.push((k, Numbers::repeated(self.first[k], len)));
                    self.changing.len() - 1
                }
            };
            self.changing[column].1.push(number);
        }
        false
    }

    fn last_numbers(&self) -> [f64; NUMBERS] {
        let mut numbers = self.first;
        for (k, column) in &self.changing {
            numbers[*k] = column.last().unwrap_or(numbers[*k]);
        }
        numbers
    }

    /// Gives back what only growing needs.
    pub(crate) fn settle(&mut self) {
        self.bounds.shrink_to_fit();
        self.changing.iter_mut().for_each(|(_, c)| c.settle());
        self.others.settle();
    }

    /// Bytes that they take.
    pub fn bytes(&self) -> usize {
        let numbers: usize = self.changing.iter().map(|(_, c)| c.bytes()).sum();
        size_of_val(&self.bounds[..]) + numbers + self.others.bytes()
    }
}

impl PartialEq for Pieces {
    fn eq(&self, other: &Self) -> bool {
        self.len() == other.len() && self.iter().eq(other.iter())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A log at 1 Hz of which every row differs, to the decimals that loggers write.
    fn log(rows: i64) -> impl Iterator<Item = Piece> {
        let at = |row: i64| Instant::ZERO.plus_ns(row * 1_000_000_000);
        (0..rows).map(move |row| {
            let air_c = 10.0 + (row * 31 % 100) as f64 * 0.1;
            Piece {
                start: at(row),
                end: at(row + 1),
                engine_rpm: 850.0 + (row * 7919 % 20_500) as f64 * 0.1,
                vehicle_load_a: 20.0 + (row * 104_729 % 1000) as f64 * 0.01,
                house_load_w: 40.0 + (row * 1299 % 500) as f64 * 0.1,
                air_c,
                bay_c: air_c.max(15.0),
                run_signal: row % 900 < 600,
                ..Piece::NOTHING
            }
        })
    }

    #[test]
    fn what_is_read_is_what_was_written() {
        let mut pieces = Pieces::default();
        log(30_000).for_each(|p| assert!(!pieces.push(&p)));
        pieces.settle();
        assert!(pieces.iter().eq(log(30_000)));
        for (n, piece) in log(30_000).enumerate().step_by(997) {
            assert_eq!(pieces.index_at(piece.start), n);
            assert_eq!(pieces.index_at(piece.end.plus_ns(-1)), n);
        }
        assert_eq!(pieces.index_at(Instant::from_s(1e9)), 29_999);
    }

    #[test]
    fn alike_neighbours_are_one() {
        let mut pieces = Pieces::default();
        let told: Vec<bool> =
            log(90).map(|p| pieces.push(&Piece { run_signal: p.run_signal, ..still(&p) })).collect();
        assert_eq!(told.iter().filter(|longer| **longer).count(), 89);
        assert_eq!(pieces.len(), 1);
        assert_eq!(pieces.last().map(|p| p.end), Some(Instant::from_s(90.0)));
    }

    /// Nothing but its time.
    fn still(piece: &Piece) -> Piece {
        Piece { start: piece.start, end: piece.end, ..Piece::NOTHING }
    }

    /// What a row costs beyond its time: that a piece of a long log stays small is what keeps months of it in memory.
    #[test]
    fn a_dense_log_costs_twenty_bytes_a_row() {
        let bytes = |rows| {
            let mut pieces = Pieces::default();
            log(rows).for_each(|p| _ = pieces.push(&p));
            pieces.bytes() as f64
        };
        let (day, two_days) = (bytes(86_400), bytes(172_800));
        let a_row = (two_days - day) / 86_400.0;
        assert!(a_row <= 20.0, "{a_row} bytes a row");
        assert!(day / 86_400.0 < 24.0, "{day} bytes a day");
    }
}
