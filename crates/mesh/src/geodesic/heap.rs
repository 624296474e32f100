//! A queue that gives the nearest first and breaks ties by number, so that the order is fixed.

use std::cmp::{Ordering, Reverse};
use std::collections::BinaryHeap;

#[derive(Debug, Clone, Copy, PartialEq)]
struct Entry(f64, u32, u32);

impl Eq for Entry {}

impl Ord for Entry {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.total_cmp(&other.0).then(self.1.cmp(&other.1)).then(self.2.cmp(&other.2))
    }
}

impl PartialOrd for Entry {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// Items with a distance, a number and a tag; the nearest comes out first.
#[derive(Debug, Default)]
pub(super) struct NearestFirst(BinaryHeap<Reverse<Entry>>);

impl NearestFirst {
    pub(super) fn push(&mut self, distance: f64, number: u32, tag: u32) {
        self.0.push(Reverse(Entry(distance, number, tag)));
    }

    pub(super) fn pop(&mut self) -> Option<(f64, u32, u32)> {
        self.0.pop().map(|Reverse(Entry(d, n, t))| (d, n, t))
    }
}
