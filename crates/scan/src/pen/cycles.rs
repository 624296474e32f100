//! Closed ways and longest ways through linked beads.

use super::links::Link;

/// The beads joined by the cheapest links that close no ring, and the links left over.
pub(super) struct Tree {
    /// Links of the tree, by number.
    beside: Vec<Vec<(u32, u32)>>,
    parent: Vec<Option<(u32, u32)>>,
    depth: Vec<u32>,
    /// Piece of each bead.
    pub piece: Vec<u32>,
    pub pieces: u32,
    /// Links, by number, that would close a ring.
    left: Vec<u32>,
}

impl Tree {
    /// Kruskal's smallest spanning forest over cost.
    pub fn new(beads: usize, links: &[Link]) -> Self {
        let mut order: Vec<u32> = (0..links.len() as u32).collect();
        order.sort_by(|x, y| links[*x as usize].cost.total_cmp(&links[*y as usize].cost).then(x.cmp(y)));
        let mut root: Vec<u32> = (0..beads as u32).collect();
        let mut beside = vec![Vec::new(); beads];
        let mut left = Vec::new();
        for number in order {
            let l = &links[number as usize];
            let (a, b) = (find(&mut root, l.a), find(&mut root, l.b));
            if a == b {
                left.push(number);
            } else {
                root[a.max(b) as usize] = a.min(b);
                beside[l.a as usize].push((l.b, number));
                beside[l.b as usize].push((l.a, number));
            }
        }
        let mut tree = Self {
            beside,
            parent: vec![None; beads],
            depth: vec![0; beads],
            piece: vec![u32::MAX; beads],
            pieces: 0,
            left,
        };
        for start in 0..beads as u32 {
            if tree.piece[start as usize] != u32::MAX {
                continue;
            }
            let mut stack = vec![start];
            tree.piece[start as usize] = tree.pieces;
            while let Some(v) = stack.pop() {
                for (w, link) in tree.beside[v as usize].clone() {
                    if tree.piece[w as usize] == u32::MAX {
                        tree.piece[w as usize] = tree.pieces;
                        tree.parent[w as usize] = Some((v, link));
                        tree.depth[w as usize] = tree.depth[v as usize] + 1;
                        stack.push(w);
                    }
                }
            }
            tree.pieces += 1;
        }
        tree
    }

    /// For each piece the links of its tree that are ink, by number.
    pub fn ink_of_pieces(&self, links: &[Link]) -> Vec<Vec<u32>> {
        let mut of = vec![Vec::new(); self.pieces as usize];
        for (v, up) in self.parent.iter().enumerate() {
            if let Some((_, link)) = up
                && !links[*link as usize].gap
            {
                of[self.piece[v] as usize].push(*link);
            }
        }
        of
    }

    /// Rings through the beads, each as links in rising order: the ones that a left-over link closes, and
    /// what two of those leave when their common part is taken out. Rings shorter than `least_mm` and near
    /// copies of better ones are left out. Rings with little gap and little length come first.
    pub fn rings(&self, links: &[Link], least_mm: f32) -> Vec<Vec<u32>> {
        const MOST: usize = 16;
        let length = |ring: &[u32]| ring.iter().map(|l| links[*l as usize].length_mm).sum::<f32>();
        let cost = |ring: &[u32]| ring.iter().map(|l| links[*l as usize].cost).sum::<f32>();
        let mut closed: Vec<(f32, Vec<u32>)> = self
            .left
            .iter()
            .map(|l| self.ring(*l, links))
            .filter(|ring| length(ring) >= least_mm)
            .map(|ring| (cost(&ring), ring))
            .collect();
        closed.sort_by(|x, y| x.0.total_cmp(&y.0).then_with(|| x.1.cmp(&y.1)));
        let mut kept: Vec<Vec<u32>> = Vec::new();
        for (_, ring) in closed {
            if kept.len() < MOST && !kept.iter().any(|k| is_near_copy(k, &ring)) {
                kept.push(ring);
            }
        }
        let basis = kept.len();
        for a in 0..basis {
            for b in a + 1..basis {
                let sum = without_common(&kept[a], &kept[b]);
                if sum.len() < kept[a].len() + kept[b].len()
                    && length(&sum) >= least_mm
                    && walk(&sum, links).is_some()
                    && !kept.iter().any(|k| is_near_copy(k, &sum))
                {
                    kept.push(sum);
                }
            }
        }
        kept
    }

    /// The longest way through the tree of one piece, as beads. Links over gaps count as much as ink.
    pub fn longest_way(&self, piece: u32, links: &[Link]) -> Vec<u32> {
        let Some(start) = self.piece.iter().position(|p| *p == piece) else { return Vec::new() };
        let (end, _) = self.farthest(start as u32, links);
        let (other, before) = self.farthest(end, links);
        let mut way = vec![other];
        let mut at = other;
        while at != end {
            at = before[at as usize];
            way.push(at);
        }
        way
    }

    fn farthest(&self, from: u32, links: &[Link]) -> (u32, Vec<u32>) {
        let mut before = vec![u32::MAX; self.piece.len()];
        before[from as usize] = from;
        let (mut best, mut stack) = ((0.0_f32, from), vec![(0.0_f32, from)]);
        while let Some((far, v)) = stack.pop() {
            if far > best.0 || (far == best.0 && v < best.1) {
                best = (far, v);
            }
            for (w, link) in &self.beside[v as usize] {
                if before[*w as usize] == u32::MAX {
                    before[*w as usize] = v;
                    stack.push((far + links[*link as usize].length_mm, *w));
                }
            }
        }
        (best.1, before)
    }

    /// The ring that a left-over link closes with the tree.
    fn ring(&self, link: u32, links: &[Link]) -> Vec<u32> {
        let (mut a, mut b) = (links[link as usize].a, links[link as usize].b);
        let mut ring = vec![link];
        while a != b {
            let lower = if self.depth[a as usize] >= self.depth[b as usize] { &mut a } else { &mut b };
            let Some((up, number)) = self.parent[*lower as usize] else { break };
            ring.push(number);
            *lower = up;
        }
        ring.sort_unstable();
        ring
    }
}

/// The beads of a ring in order; `None` if its links do not form one single ring.
pub(super) fn walk(ring: &[u32], links: &[Link]) -> Option<Vec<u32>> {
    let mut ends: Vec<(u32, u32)> =
        ring.iter().flat_map(|l| [(links[*l as usize].a, *l), (links[*l as usize].b, *l)]).collect();
    ends.sort_unstable();
    if ends.chunk_by(|x, y| x.0 == y.0).any(|bead| bead.len() != 2) {
        return None;
    }
    let (start, mut link) = *ends.first()?;
    let mut beads = vec![start];
    let mut at = start;
    loop {
        let l = &links[link as usize];
        at = if l.a == at { l.b } else { l.a };
        if at == start {
            break;
        }
        beads.push(at);
        let first = ends.partition_point(|e| e.0 < at);
        link = ends[first..first + 2].iter().map(|e| e.1).find(|l| *l != link)?;
    }
    (beads.len() == ring.len()).then_some(beads)
}

fn find(root: &mut [u32], mut v: u32) -> u32 {
    while root[v as usize] != v {
        root[v as usize] = root[root[v as usize] as usize];
        v = root[v as usize];
    }
    v
}

/// Whether two sorted rings share more than four fifths of the longer one.
fn is_near_copy(a: &[u32], b: &[u32]) -> bool {
    let common = a.len() + b.len() - without_common(a, b).len();
    // Both count the common part once.
    common / 2 * 5 > 4 * a.len().max(b.len())
}

/// What lies in one of two sorted lists only.
fn without_common(a: &[u32], b: &[u32]) -> Vec<u32> {
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

    /// A square with one diagonal has three rings, the largest of which is no basis ring when the tree holds the diagonal.
    #[test]
    fn a_square_with_a_diagonal_has_three_rings() {
        let mut links = vec![link(0, 1), link(1, 2), link(2, 3), link(3, 0), link(0, 2)];
        links[4].cost = 1.0;
        let tree = Tree::new(4, &links);
        let rings = tree.rings(&links, 25.0);
        assert_eq!(rings.len(), 3);
        assert!(rings.contains(&vec![0, 1, 2, 3]));
        assert_eq!(walk(&[0, 1, 2, 3], &links), Some(vec![0, 1, 2, 3]));
        assert_eq!(walk(&[0, 1, 2], &links), None);
    }

    #[test]
    fn the_longest_way_runs_from_end_to_end() {
        let links = vec![link(0, 1), link(1, 2), link(1, 3), link(3, 4)];
        let way = Tree::new(5, &links).longest_way(0, &links);
        assert!(
            way == vec![0, 1, 3, 4] || way == vec![4, 3, 1, 0] || way == vec![2, 1, 3, 4] || way == vec![4, 3, 1, 2]
        );
    }
}
