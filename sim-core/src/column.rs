//! A column of values of which many are the same: each is held once, a row says which.
//!
//! A log says some hundreds or thousands of different numbers in a million rows, most columns one. So a row costs a byte or
//! two a column, and nothing where the column never changes. What is read is what was written, to the bit.

use foldhash::fast::FixedState;
use std::collections::HashMap;
use std::hash::Hash;

/// Values one after the other.
#[derive(Debug, Clone)]
pub struct Column<T> {
    len: usize,
    /// The distinct values; all values in turn where there are too many of them.
    table: Vec<T>,
    places: Places,
    /// Where each distinct value stands, while the column grows.
    known: HashMap<T, u16, FixedState>,
}

/// Where in the table the value of each row stands.
#[derive(Debug, Clone)]
enum Places {
    /// At the only place.
    Only,
    Bytes(Vec<u8>),
    Shorts(Vec<u16>),
    /// In the row's own.
    Own,
}

impl<T> Default for Column<T> {
    fn default() -> Self {
        Column { len: 0, table: Vec::new(), places: Places::Only, known: HashMap::default() }
    }
}

impl<T: Copy + Eq + Hash> Column<T> {
    /// How many values there are.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// The value of a row; rows count from 0.
    ///
    /// # Panics
    /// Past the last row of a column that changes.
    #[inline]
    pub fn at(&self, row: usize) -> T {
        match &self.places {
            Places::Only => self.table[0],
            Places::Bytes(places) => self.table[usize::from(places[row])],
            Places::Shorts(places) => self.table[usize::from(places[row])],
            Places::Own => self.table[row],
        }
    }

    /// The last value.
    pub fn last(&self) -> Option<T> {
        Some(self.at(self.len.checked_sub(1)?))
    }

    /// Adds a row.
    pub fn push(&mut self, value: T) {
        // Of most columns most rows say what the row before said.
        let place = match &self.places {
            Places::Only if self.table.first() == Some(&value) => Some(0),
            Places::Bytes(places) => places.last().map(|p| u16::from(*p)),
            Places::Shorts(places) => places.last().copied(),
            _ => None,
        };
        match place.filter(|p| self.table[usize::from(*p)] == value).or_else(|| self.place(value)) {
            Some(place) => match &mut self.places {
                Places::Only => {}
                Places::Bytes(places) => places.push(place as u8),
                Places::Shorts(places) => places.push(place),
                Places::Own => {}
            },
            None => self.table.push(value),
        }
        self.len += 1;
    }

    /// The place of a value, made where it has none; `None` where every row has its own.
    fn place(&mut self, value: T) -> Option<u16> {
        if matches!(self.places, Places::Own) {
            return None;
        }
        if let Some(place) = self.known.get(&value) {
            return Some(*place);
        }
        let Ok(place) = u16::try_from(self.table.len()) else {
            self.table = (0..self.len).map(|row| self.at(row)).collect();
            (self.places, self.known) = (Places::Own, HashMap::default());
            return None;
        };
        match &self.places {
            Places::Only if place > 0 => self.places = Places::Bytes(vec![0; self.len]),
            Places::Bytes(places) if place > u16::from(u8::MAX) => {
                self.places = Places::Shorts(places.iter().map(|p| u16::from(*p)).collect());
            }
            _ => {}
        }
        self.table.push(value);
        self.known.insert(value, place);
        Some(place)
    }

    /// Gives back what only growing needs. More rows may follow; their values are held once more.
    pub fn settle(&mut self) {
        self.known = HashMap::default();
        self.table.shrink_to_fit();
        match &mut self.places {
            Places::Only | Places::Own => {}
            Places::Bytes(places) => places.shrink_to_fit(),
            Places::Shorts(places) => places.shrink_to_fit(),
        }
    }

    /// Bytes that its rows and distinct values take, without what growing needs.
    pub fn bytes(&self) -> usize {
        let rows = match &self.places {
            Places::Only | Places::Own => 0,
            Places::Bytes(places) => places.len(),
            Places::Shorts(places) => 2 * places.len(),
        };
        rows + self.table.len() * size_of::<T>()
    }
}

/// A column of floating-point numbers, told apart by their bits.
#[derive(Debug, Clone, Default)]
pub struct Numbers(Column<u64>);

impl Numbers {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The number in a row; rows count from 0.
    ///
    /// # Panics
    /// As [`Column::at`].
    #[inline]
    pub fn at(&self, row: usize) -> f64 {
        f64::from_bits(self.0.at(row))
    }

    /// The last number.
    pub fn last(&self) -> Option<f64> {
        self.0.last().map(f64::from_bits)
    }

    /// Adds a row.
    pub fn push(&mut self, value: f64) {
        self.0.push(value.to_bits());
    }

    /// As [`Column::settle`].
    pub fn settle(&mut self) {
        self.0.settle();
    }

    /// As [`Column::bytes`].
    pub fn bytes(&self) -> usize {
        self.0.bytes()
    }

    /// The same number in so many rows.
    pub(crate) fn repeated(value: f64, rows: usize) -> Numbers {
        let mut numbers = Numbers::default();
        if rows > 0 {
            numbers.push(value);
            numbers.0.len = rows;
        }
        numbers
    }

    /// All of them in order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = f64> + ExactSizeIterator + Clone + '_ {
        (0..self.len()).map(|row| self.at(row))
    }
}

impl FromIterator<f64> for Numbers {
    fn from_iter<I: IntoIterator<Item = f64>>(values: I) -> Self {
        let mut numbers = Numbers::default();
        values.into_iter().for_each(|v| numbers.push(v));
        numbers.settle();
        numbers
    }
}

/// As numbers: nothing that is not a number equals itself.
impl PartialEq for Numbers {
    fn eq(&self, other: &Self) -> bool {
        self.iter().eq(other.iter())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `distinct` values over and over, in `rows` rows.
    fn values(rows: usize, distinct: usize) -> impl Iterator<Item = f64> {
        (0..rows).map(move |n| (n * 7919 % distinct) as f64 * 0.1)
    }

    #[test]
    fn what_is_read_is_what_was_written() {
        for distinct in [1, 2, 256, 257, 65_536, 65_537, 90_000] {
            let rows = 100_000;
            let numbers: Numbers = values(rows, distinct).collect();
            assert_eq!(numbers.len(), rows);
            assert!(
                numbers.iter().map(f64::to_bits).eq(values(rows, distinct).map(f64::to_bits)),
                "{distinct}"
            );
            assert_eq!(numbers.last(), values(rows, distinct).last());
        }
        let odd = [0.0, -0.0, f64::INFINITY, 0.1 + 0.2, 0.3];
        let numbers: Numbers = odd.into_iter().collect();
        assert!(numbers.iter().map(f64::to_bits).eq(odd.map(f64::to_bits)), "zeros of both signs");
    }

    #[test]
    fn a_column_goes_on_after_it_was_settled() {
        for distinct in [1, 5, 300, 70_000] {
            let mut numbers: Numbers = values(80_000, distinct).collect();
            values(80_000, distinct + 1).for_each(|v| numbers.push(v));
            numbers.push(-1.0);
            let wanted = values(80_000, distinct).chain(values(80_000, distinct + 1)).chain([-1.0]);
            assert!(numbers.iter().eq(wanted), "{distinct}");
        }
    }

    #[test]
    fn a_row_costs_what_its_column_changes() {
        let bytes = |distinct| values(100_000, distinct).collect::<Numbers>().bytes();
        assert_eq!(bytes(1), 8);
        assert_eq!(bytes(200), 100_000 + 200 * 8);
        assert_eq!(bytes(5000), 200_000 + 5000 * 8);
        assert_eq!(bytes(100_000), 800_000);
    }
}
