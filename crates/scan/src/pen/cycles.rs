//! Cycles and longest paths in the graph of linked ridge points.

use mesh::{Cancelled, Job, UnionFind};

use super::links::Link;

/// A minimum spanning forest of the graph, and the links that it leaves out.
pub(super) struct SpanningForest {
    /// For each node its neighbours in the forest and the links to them, by number.
    neighbours: Vec<Vec<(u32, u32)>>,
    parent: Vec<Option<(u32, u32)>>,
    depth: Vec<u32>,
    /// Connected component of each node.
    pub component: Vec<u32>,
    pub components: u32,
    /// Links, by number, that would close a cycle.
    extra: Vec<u32>,
}

impl SpanningForest {
    /// Kruskal's algorithm over cost.
    pub fn new(nodes: usize, links: &[Link]) -> Self {
        let mut order: Vec<u32> = (0..links.len() as u32).collect();
        order.sort_by(|x, y| links[*x as usize].cost.total_cmp(&links[*y as usize].cost).then(x.cmp(y)));
        let mut sets = UnionFind::new(nodes);
        let mut neighbours = vec![Vec::new(); nodes];
        let mut extra = Vec::new();
        for number in order {
            let l = &links[number as usize];
            if sets.union(l.a, l.b) {
                neighbours[l.a as usize].push((l.b, number));
                neighbours[l.b as usize].push((l.a, number));
            } else {
                extra.push(number);
            }
        }
        let mut tree = Self {
            neighbours,
            parent: vec![None; nodes],
            depth: vec![0; nodes],
            component: vec![u32::MAX; nodes],
            components: 0,
            extra,
        };
        tree.root_components();
        tree
    }

    /// Numbers the components and gives each node its parent, depth first.
    fn root_components(&mut self) {
        for start in 0..self.parent.len() as u32 {
            if self.component[start as usize] != u32::MAX {
                continue;
            }
            let mut stack = vec![start];
            self.component[start as usize] = self.components;
            while let Some(v) = stack.pop() {
                for (w, link) in self.neighbours[v as usize].clone() {
                    if self.component[w as usize] == u32::MAX {
                        self.component[w as usize] = self.components;
                        self.parent[w as usize] = Some((v, link));
                        self.depth[w as usize] = self.depth[v as usize] + 1;
                        stack.push(w);
                    }
                }
            }
            self.components += 1;
        }
    }

    /// For each component the links of its tree that are ink, by number.
    pub fn ink_of_components(&self, links: &[Link]) -> Vec<Vec<u32>> {
        let mut of = vec![Vec::new(); self.components as usize];
        for (v, up) in self.parent.iter().enumerate() {
            if let Some((_, link)) = up
                && !links[*link as usize].gap
            {
                of[self.component[v] as usize].push(*link);
            }
        }
        of
    }

    /// Cycles, each as links in rising order: the fundamental cycles, one for each link that the forest leaves out, and
    /// the symmetric differences of two of them, at most 16 in all. Cycles shorter than `least_mm` and near copies of
    /// better ones are left out. Cycles with little gap and little length come first.
    pub fn cycles(&self, links: &[Link], least_mm: f32, job: &Job) -> Result<Vec<Vec<u32>>, Cancelled> {
        const MOST: usize = 10;
        // Each cycle is later measured on the skin, which is slow. With few links left out these are all sums; in a
        // tangle, those of the best cycles.
        const MOST_WITH_SUMS: usize = 16;
        let length = |cycle: &[u32]| cycle.iter().map(|l| links[*l as usize].length_mm).sum::<f32>();
        let cost = |cycle: &[u32]| cycle.iter().map(|l| links[*l as usize].cost).sum::<f32>();
        let mut closed: Vec<(f32, Vec<u32>)> = Vec::new();
        for link in &self.extra {
            job.check()?;
            let cycle = self.cycle(*link, links);
            if length(&cycle) >= least_mm {
                closed.push((cost(&cycle), cycle));
            }
        }
        closed.sort_by(|x, y| x.0.total_cmp(&y.0).then_with(|| x.1.cmp(&y.1)));
        let mut kept: Vec<Vec<u32>> = Vec::new();
        for (_, cycle) in closed {
            if kept.len() < MOST && !kept.iter().any(|k| is_near_copy(k, &cycle)) {
                kept.push(cycle);
            }
        }
        let basis = kept.len();
        for a in 0..basis {
            job.check()?;
            for b in a + 1..basis {
                let sum = symmetric_difference(&kept[a], &kept[b]);
                if kept.len() < MOST_WITH_SUMS
                    && sum.len() < kept[a].len() + kept[b].len()
                    && length(&sum) >= least_mm
                    && in_order(&sum, links).is_some()
                    && !kept.iter().any(|k| is_near_copy(k, &sum))
                {
                    kept.push(sum);
                }
            }
        }
        Ok(kept)
    }

    /// The longest path through the tree of one component, as nodes: from the node farthest from any node to the node
    /// farthest from that. Links over gaps count as much as ink.
    pub fn longest_path(&self, component: u32, links: &[Link]) -> Vec<u32> {
        let Some(start) = self.component.iter().position(|p| *p == component) else { return Vec::new() };
        let (end, _) = self.farthest(start as u32, links);
        let (other, before) = self.farthest(end, links);
        let mut path = vec![other];
        let mut at = other;
        while at != end {
            at = before[at as usize];
            path.push(at);
        }
        path
    }

    fn farthest(&self, from: u32, links: &[Link]) -> (u32, Vec<u32>) {
        let mut before = vec![u32::MAX; self.component.len()];
        before[from as usize] = from;
        let (mut best, mut stack) = ((0.0_f32, from), vec![(0.0_f32, from)]);
        while let Some((far, v)) = stack.pop() {
            if far > best.0 || (far == best.0 && v < best.1) {
                best = (far, v);
            }
            for (w, link) in &self.neighbours[v as usize] {
                if before[*w as usize] == u32::MAX {
                    before[*w as usize] = v;
                    stack.push((far + links[*link as usize].length_mm, *w));
                }
            }
        }
        (best.1, before)
    }

    /// The fundamental cycle of a link that the forest leaves out.
    fn cycle(&self, link: u32, links: &[Link]) -> Vec<u32> {
        let (mut a, mut b) = (links[link as usize].a, links[link as usize].b);
        let mut cycle = vec![link];
        while a != b {
            let lower = if self.depth[a as usize] >= self.depth[b as usize] { &mut a } else { &mut b };
            let Some((up, number)) = self.parent[*lower as usize] else { break };
            cycle.push(number);
            *lower = up;
        }
        cycle.sort_unstable();
        cycle
    }
}

/// The nodes of a cycle in order; `None` if its links do not form one single cycle.
pub(super) fn in_order(cycle: &[u32], links: &[Link]) -> Option<Vec<u32>> {
    let mut ends: Vec<(u32, u32)> =
        cycle.iter().flat_map(|l| [(links[*l as usize].a, *l), (links[*l as usize].b, *l)]).collect();
    ends.sort_unstable();
    if ends.chunk_by(|x, y| x.0 == y.0).any(|node| node.len() != 2) {
        return None;
    }
    let (start, mut link) = *ends.first()?;
    let mut nodes = vec![start];
    let mut at = start;
    loop {
        let l = &links[link as usize];
        at = if l.a == at { l.b } else { l.a };
        if at == start {
            break;
        }
        nodes.push(at);
        let first = ends.partition_point(|e| e.0 < at);
        link = ends[first..first + 2].iter().map(|e| e.1).find(|l| *l != link)?;
    }
    (nodes.len() == cycle.len()).then_some(nodes)
}

/// Whether two sorted cycles share more than four fifths of the longer one.
fn is_near_copy(a: &[u32], b: &[u32]) -> bool {
    let common = a.len() + b.len() - symmetric_difference(a, b).len();
    // `common` counts each shared link twice.
    common / 2 * 5 > 4 * a.len().max(b.len())
}

/// What lies in just one of two sorted lists.
fn symmetric_difference(a: &[u32], b: &[u32]) -> Vec<u32> {
    let (mut i, mut j, mut out) = (0, 0, Vec::new());
    while i < a.len() || j < b.len() {
        if j == b.len() || (i < a.len() && a[i] < b[j]) {
            out.push(a[i]);
            i += 1;
        } else if i == a.len() || b[j] < a[i] {
            out.push(b[j]);
            j += 1;
        } else {
            i += 1;
            j += 1;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link(a: u32, b: u32) -> Link {
        Link { a, b, length_mm: 10.0, cost: 10.0, gap: false }
    }

    /// A square with one diagonal has three cycles, the largest of which is no basis cycle when the tree holds the
    /// diagonal.
    #[test]
    fn a_square_with_a_diagonal_has_three_cycles() {
        let mut links = vec![link(0, 1), link(1, 2), link(2, 3), link(3, 0), link(0, 2)];
        links[4].cost = 1.0;
        let tree = SpanningForest::new(4, &links);
        let cycles = tree.cycles(&links, 25.0, &Job::silent()).unwrap();
        assert_eq!(cycles.len(), 3);
        for cycle in [vec![0, 1, 2, 3], vec![0, 1, 4], vec![2, 3, 4]] {
            assert!(cycles.contains(&cycle), "{cycle:?} is not among {cycles:?}");
        }
        assert_eq!(in_order(&[0, 1, 2, 3], &links), Some(vec![0, 1, 2, 3]));
        assert_eq!(in_order(&[0, 1, 2], &links), None);
    }

    #[test]
    fn the_longest_path_runs_from_end_to_end() {
        let links = vec![link(0, 1), link(1, 2), link(1, 3), link(3, 4)];
        let path = SpanningForest::new(5, &links).longest_path(0, &links);
        assert!(
            path == vec![0, 1, 3, 4]
                || path == vec![4, 3, 1, 0]
                || path == vec![2, 1, 3, 4]
                || path == vec![4, 3, 1, 2]
        );
    }
}
