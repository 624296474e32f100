//! A priority queue by distance.

use std::cmp::{Ordering, Reverse};
use std::collections::BinaryHeap;

#[derive(Debug, Clone, Copy)]
struct Entry<T> {
    distance: f64,
    number: u32,
    tag: T,
}

impl<T> PartialEq for Entry<T> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl<T> Eq for Entry<T> {}

impl<T> PartialOrd for Entry<T> {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl<T> Ord for Entry<T> {
    fn cmp(&self, other: &Self) -> Ordering {
        self.distance.total_cmp(&other.distance).then(self.number.cmp(&other.number))
    }
}

/// A priority queue of numbered, tagged items by distance: the nearest comes first, and among equals the lowest number,
/// so that the order is fixed.
#[derive(Debug, Clone)]
pub struct NearestFirst<T = ()>(BinaryHeap<Reverse<Entry<T>>>);

impl<T> Default for NearestFirst<T> {
    fn default() -> Self {
        Self(BinaryHeap::new())
    }
}

impl<T> NearestFirst<T> {
    /// Adds an item.
    pub fn push(&mut self, distance: f64, number: u32, tag: T) {
        self.0.push(Reverse(Entry { distance, number, tag }));
    }

    /// Removes the nearest item and returns its distance, number and tag.
    pub fn pop(&mut self) -> Option<(f64, u32, T)> {
        self.0.pop().map(|Reverse(entry)| (entry.distance, entry.number, entry.tag))
    }

    /// Whether the queue is empty.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Removes all items.
    pub fn clear(&mut self) {
        self.0.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_comes_first_and_of_equals_the_lowest_number() {
        let mut queue = NearestFirst::default();
        for (distance, number) in [(2.0, 7), (0.5, 9), (2.0, 3), (0.0, 4)] {
            queue.push(distance, number, 10 * number);
        }
        let order: Vec<_> = std::iter::from_fn(|| queue.pop()).collect();
        assert_eq!(order, [(0.0, 4, 40), (0.5, 9, 90), (2.0, 3, 30), (2.0, 7, 70)]);
    }
}
