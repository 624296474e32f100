//! Many places named by few.

use nalgebra::Point3;

use crate::SpatialHash;

/// Places that are named are at least this far apart, mm.
const APART_MM: f32 = 10.0;

/// Centres of places that come worst first.
pub struct Clusters {
    centres: SpatialHash,
    count: usize,
}

impl Clusters {
    pub fn new() -> Self {
        Self { centres: SpatialHash::new(APART_MM), count: 0 }
    }

    /// The number of the cluster that a place belongs to: that of the first centre within 10 mm, or a new one, numbered
    /// in turn, whose centre it becomes.
    pub fn of(&mut self, place: &Point3<f32>) -> usize {
        if let Some(first) = self.centres.within(place, APART_MM).first() {
            return *first;
        }
        self.centres.add(*place);
        self.count += 1;
        self.count - 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn centres_are_apart_and_each_place_belongs_to_the_first_within_reach() {
        let mut clusters = Clusters::new();
        let places = [0.0, 15.0, 8.0, 40.0, 24.0, 49.0].map(|x| Point3::new(x, 0.0, 0.0));
        assert_eq!(places.map(|p| clusters.of(&p)), [0, 1, 0, 2, 1, 2]);
    }
}
