//! Disjoint sets.

/// Disjoint sets of the numbers from 0 up (union–find with path halving, Tarjan and van Leeuwen 1984).
///
/// Each set is represented by its lowest number, so the result does not depend on the order of the unions.
///
/// ```
/// let mut sets = mesh::UnionFind::new(4);
/// assert!(sets.union(3, 1));
/// assert!(!sets.union(1, 3), "they were one set already");
/// assert_eq!(sets.find(3), 1);
/// assert_eq!(sets.labels(), (vec![0, 1, 2, 1], 3));
/// ```
#[derive(Debug, Clone, Default)]
pub struct UnionFind {
    parent: Vec<u32>,
}

impl UnionFind {
    /// Each of the numbers below `count` in a set of its own.
    #[must_use]
    pub fn new(count: usize) -> Self {
        Self { parent: (0..count as u32).collect() }
    }

    /// The lowest number in the set of `v`.
    pub fn find(&mut self, mut v: u32) -> u32 {
        while self.parent[v as usize] != v {
            let above = self.parent[self.parent[v as usize] as usize];
            self.parent[v as usize] = above;
            v = above;
        }
        v
    }

    /// Joins the sets of `a` and `b`; false when they were one already.
    pub fn union(&mut self, a: u32, b: u32) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        self.parent[a.max(b) as usize] = a.min(b);
        a != b
    }

    /// The number of its set for each member, sets numbered by their lowest member; and how many sets there are.
    pub fn labels(&mut self) -> (Vec<u32>, usize) {
        let mut labels: Vec<u32> = Vec::with_capacity(self.parent.len());
        let mut count = 0;
        for v in 0..self.parent.len() as u32 {
            let root = self.find(v);
            // The root comes first, as it is the lowest.
            labels.push(if root == v { count } else { labels[root as usize] });
            count += u32::from(root == v);
        }
        (labels, count as usize)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Reference: colours, where each union repaints one colour with the other.
        #[test]
        fn sets_are_those_of_repainting(pairs in prop::collection::vec((0_u32..40, 0_u32..40), 0..60)) {
            let mut sets = UnionFind::new(40);
            let mut colour: Vec<u32> = (0..40).collect();
            for (a, b) in pairs {
                let (x, y) = (colour[a as usize], colour[b as usize]);
                prop_assert_eq!(sets.union(a, b), x != y);
                colour.iter_mut().filter(|c| **c == x.max(y)).for_each(|c| *c = x.min(y));
            }
            let found: Vec<u32> = (0..40).map(|v| sets.find(v)).collect();
            prop_assert_eq!(&found, &colour);
            let (labels, count) = sets.labels();
            colour.sort_unstable();
            colour.dedup();
            prop_assert_eq!(count, colour.len());
            prop_assert!(labels.iter().zip(&found).all(|(label, root)| colour[*label as usize] == *root));
        }
    }
}
